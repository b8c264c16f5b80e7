// Blend: what goes together into a lot, source by source, or as the rules plan it from what stands in the house. One
// source alone is drawn. What may not go in, and what the blend comes to, the rules say.

import { button, h } from '../dom.js';
import { newId } from '../entry.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { note, record } from '../shell.js';
import { rowsOf } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, mass, percent, t } from '../words.js';
import { chips } from './chips.js';
import { notReckoned, padPage, page, sentences, weightPad } from './parts.js';

const CLAIMS = ['general', 'heather', 'bakers', 'bakers_heather'];

// What is chosen so far: by "kind/id" the grams.
let parts = new Map();
let claim;
let plan = null;
let wanted;

const key = (one) => `${one.kind}/${one.id}`;
const lastWater = (one) => (one.state.readings ?? []).map((reading) => reading.moisture_hundredths).filter((value) => value !== undefined).at(-1);

async function sources() {
  const [fills, lots] = await Promise.all([rowsOf('fill'), rowsOf('lot')]);
  return [...fills, ...lots].filter((one) => one.state.content_g > 0).sort(byLabel);
}

async function make(all, view) {
  const chosen = all.filter((one) => parts.has(key(one)));
  if (chosen.length === 0) return note(t('blend.nothing'));
  const season = new Date().getFullYear();
  const free = rules.nextCode(session.who().device_id, season);
  const lot_id = newId();
  const code = free.code;
  const [only] = chosen;
  const alone = chosen.length === 1 && only.kind === 'fill';
  const wish = alone
    ? { kind: 'honey_drawn', data: { lot_id, code, fill_id: only.id, weight_g: parts.get(key(only)), claim } }
    : { kind: 'blended', data: { lot_id, code, parts: chosen.map((one) => ({ from: { kind: one.kind, id: one.id }, weight_g: parts.get(key(one)) })), claim } };
  const grams = [...parts.values()].reduce((sum, one) => sum + one, 0);
  if (!(await record([wish], t('say.lot_made', { code, mass: mass(grams) }), { house: true }))) return undefined;
  [parts, plan] = [new Map(), null];
  return view.go(`/house/moisture/lot/${lot_id}`, { replace: true });
}

async function drawPlan() {
  const answer = await rules.blend({ claim, wanted_g: wanted });
  plan = answer;
  if (answer.parts) parts = new Map(answer.parts.filter((part) => part.from).map((part) => [`${part.from.kind}/${part.from.id}`, part.weight_g]));
}

function planned() {
  if (!plan) return null;
  if (plan.not_reckoned) return notReckoned(plan);
  const left = plan.left_out.map((one) => h('li', {}, h('strong', {}, one.label), sentences(one.reasons)));
  return h(
    'section',
    { class: 'told', 'aria-label': t('blend.plan') },
    h('p', { class: 'big' }, t(`blend.outcome.${plan.outcome}`)),
    plan.forecast_hundredths !== undefined && plan.forecast_hundredths !== null && h('p', {}, t('blend.forecast', { value: percent(plan.forecast_hundredths, 2), mass: mass(plan.weight_g) })),
    plan.missing_g > 0 && h('p', {}, t('blend.missing', { mass: mass(plan.missing_g) })),
    !plan.proven_best && plan.parts.length > 0 && h('p', {}, t('blend.not_proven')),
    sentences(plan.reasons),
    left.length > 0 && [h('h2', {}, t('blend.left_out')), h('ul', { class: 'plain said' }, left)],
  );
}

// How much of a source goes in; all of it is one key.
function amount(one, view) {
  const keep = (grams) => {
    parts.set(key(one), grams);
    plan = null;
    return view.go('/house/blend', { replace: true });
  };
  const pad = weightPad('part', t('blend.how_much', { what: one.label, mass: mass(one.state.content_g) }), keep, {
    extra: [button('all-of-it', () => keep(one.state.content_g), { class: 'key word' }, t('blend.all'))],
  });
  return padPage(t('blend.part', { what: one.label }), pad);
}

function wantedPad(view) {
  const keep = async (grams) => {
    wanted = grams;
    await drawPlan();
    return view.go('/house/blend', { replace: true });
  };
  const pad = weightPad('wanted', t('blend.wanted'), keep, { extra: [button('as-much', () => keep(undefined), { class: 'key word' }, t('blend.most'))] });
  return padPage(t('blend.plan'), pad);
}

export async function show(params, view) {
  const all = await sources();
  if (params.kind === 'plan') {
    await rules.start();
    return view.fresh ? wantedPad(view) : undefined;
  }
  const one = params.id && all.find((source) => key(source) === `${params.kind}/${params.id}`);
  if (one) return view.fresh ? amount(one, view) : undefined;
  const from = new URLSearchParams(location.search).get('from');
  const asked = view.fresh && from && all.find((source) => key(source) === from);
  if (asked && !parts.has(from)) parts.set(from, asked.state.content_g);
  const total = [...parts.values()].reduce((sum, grams) => sum + grams, 0);
  // A touch takes it in, all of it; the next one on it asks how much, or leaves it out.
  const touch = (source) => {
    plan = null;
    if (parts.has(key(source))) return view.go(`/house/blend/${source.kind}/${source.id}`);
    parts.set(key(source), source.state.content_g);
    return view.redraw();
  };
  const holds = new Map(rules.isReady() ? rules.holdsOnEach(all) : []);
  const tile = (source) => {
    const grams = parts.get(key(source));
    const water = lastWater(source);
    const words = [mass(source.state.content_g), water === undefined ? t('moisture.not_measured') : percent(water)].join(', ');
    return button(
      `source-${source.id}`,
      () => touch(source),
      { class: 'tile wide-tile', 'aria-pressed': String(grams !== undefined) },
      h('span', { class: 'tile-number long' }, source.label ?? '?'),
      h('span', { class: 'tile-more' }, words),
      grams !== undefined && h('span', { class: 'tile-more' }, t('blend.in', { mass: mass(grams) })),
      tagsOf(source, holds.get(source.id)),
    );
  };
  const clear = () => view.redraw(([parts, plan] = [new Map(), null]));
  return page(
    t('blend.title'),
    ['/house', t('house.title')],
    chips('claim', t('blend.claim'), CLAIMS, claim, (value) => view.redraw(([claim, plan] = [value, null])), (value) => t(`claim.${value}`), { not: t('claim.general_default') }),
    button('plan', () => view.go('/house/blend/plan/wish'), { class: 'wide' }, t('blend.plan_act')),
    planned(),
    h('p', { class: 'hint' }, t('blend.hint')),
    all.length === 0 && h('p', {}, t('blend.none')),
    h('div', { class: 'tiles broad' }, all.map(tile)),
    parts.size > 0 && button('clear', clear, { class: 'wide' }, t('blend.clear')),
    parts.size > 0 && button('make', () => make(all, view), { class: 'main wide' }, t(parts.size === 1 ? 'blend.draw' : 'blend.make', { n: parts.size, mass: mass(total) })),
  );
}
