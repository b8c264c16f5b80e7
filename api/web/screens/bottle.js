// Bottle: a released lot into jars, weights checked against the rules of the place, broken glass. The verdict is the
// rules' own, in words.

import { caution } from '../caution.js';
import { button, h } from '../dom.js';
import { newId } from '../entry.js';
import { keypad } from '../keypad.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { note, record } from '../shell.js';
import { meta, row, rowsOf, setMeta } from '../store.js';
import { tag, tagsOf } from '../tags.js';
import { byLabel, day, mass, number, t } from '../words.js';
import { chips } from './chips.js';
import { countPad, notReckoned, padPage, page, sentences, to } from './parts.js';

const VERDICT = { pass: 'sent', not_shown: 'check', fail: 'not_taken' };
const JARS_KEPT = 4;

// Net weights typed for a batch and not written yet, tenths of a gram.
let weights = [];

async function list() {
  const lots = (await rowsOf('lot')).filter((lot) => lot.state.content_g > 0).sort(byLabel);
  const batches = (await rowsOf('batch')).sort((a, b) => (b.state.filled_at ?? '').localeCompare(a.state.filled_at ?? ''));
  const held = new Map(rules.isReady() ? rules.holdsOnEach([...lots, ...batches]) : []);
  const holds = (one) => held.get(one.id);
  return page(
    t('bottle.title'),
    ['/house', t('house.title')],
    caution('safety.glass'),
    h('h2', {}, t('bottle.lots')),
    lots.length === 0 && h('p', {}, t('lots.none')),
    h('ul', { class: 'rows' }, lots.map((lot) => h('li', {}, to(`/house/bottle/${lot.id}`, lot.label, `${t(`status.lot.${lot.status}`)}, ${mass(lot.state.content_g)}`, tagsOf(lot, holds(lot)))))),
    h('h2', {}, t('bottle.batches')),
    h('ul', { class: 'rows' }, batches.map((one) => h('li', {}, to(`/house/batch/${one.id}`, one.label, t('bottle.of', { n: one.state.jars_in_stock, mass: mass(one.state.nominal_g) }), tagsOf(one, holds(one)))))),
  );
}

async function fill(lot, view) {
  const kept = (await meta('jars')) ?? { sizes: [] };
  const chosen = kept.size;
  const sized = (grams) => setMeta('jars', { size: grams, sizes: [grams, ...kept.sizes.filter((one) => one !== grams)].slice(0, JARS_KEPT) });
  const typeSize = countPad('jar-size', t('bottle.size'), 'g', async (grams) => {
    await sized(grams);
    return view.go(`/house/bottle/${lot.id}/fill`, { replace: true });
  });
  if (!chosen || location.search === '?size') return padPage(t('bottle.one', { code: lot.label }), typeSize);
  const keep = async (jars) => {
    const batch_id = newId();
    const { code } = rules.nextCode(session.who().device_id, new Date().getFullYear());
    const wish = { kind: 'bottled', data: { batch_id, lot_id: lot.id, code, nominal_g: chosen, jars_good: jars } };
    const say = t('say.bottled', { n: jars, size: number(chosen), code });
    if (await record([wish], say, { house: true })) await view.go(`/house/batch/${batch_id}`, { replace: true });
  };
  const size = h(
    'div',
    { class: 'choices' },
    chips('size', t('bottle.size'), kept.sizes, chosen, async (grams) => { await sized(grams); await view.go(`/house/bottle/${lot.id}/fill`, { replace: true }); }, (grams) => `${number(grams)} g`, { keep: true }),
    button('other-size', () => view.go(`/house/bottle/${lot.id}/fill?size`, { replace: true }), { class: 'chip' }, t('bottle.other_size')),
  );
  return padPage(t('bottle.one', { code: lot.label }), countPad('jars', t('bottle.jars'), t('bottle.jars_unit'), keep), size);
}

export async function show(params, view) {
  if (params.lot) {
    const lot = await row('lot', params.lot);
    if (!lot) return list();
    if (!view.fresh) return undefined;
    await rules.start();
    return fill(lot, view);
  }
  return params.batch ? batch(params, view) : list();
}

function weigh(one, view) {
  const write = async () => {
    if (weights.length === 0) return note(t('bottle.no_weight'));
    const wish = { kind: 'weights_checked', data: { batch_id: one.id, net_tenths_g: weights } };
    if (!(await record([wish], t('say.weights', { n: weights.length, code: one.label }), { house: true }))) return undefined;
    weights = [];
    return view.go(`/house/batch/${one.id}`, { replace: true });
  };
  const place = h('p', { class: 'big', role: 'status' });
  const say = () => place.replaceChildren(weights.length === 0 ? '' : t('bottle.weighed', { n: weights.length, list: weights.map((one) => number(one / 10, 1)).join('  ') }));
  say();
  const pad = keypad({
    name: 'net',
    label: t('bottle.net', { size: number(one.state.nominal_g) }),
    unit: 'g',
    places: 1,
    next: t('bottle.next_jar'),
    done: (typed) => {
      if (typed === null) return note(t('bottle.no_weight'));
      weights.push(typed);
      pad.set('');
      return say();
    },
    extra: [button('rub-jar', () => say(weights.pop()), { class: 'key word', repeats: true }, t('bottle.rub_jar'))],
  });
  const element = padPage(t('bottle.check', { code: one.label }), pad, place);
  element.append(button('write-weights', write, { class: 'wide' }, t('bottle.write_weights')));
  return element;
}

async function verdict(one) {
  const net = one.state.net_tenths_g ?? [];
  if (net.length === 0 || !rules.isReady()) return h('p', {}, t('bottle.not_weighed'));
  const said = await rules.netContent(one.id);
  if (said.not_reckoned) return notReckoned(said);
  return [
    h('p', { class: 'big' }, tag(VERDICT[said.verdict] ?? 'check', t(`verdict.${said.verdict}`))),
    h('p', {}, t('bottle.mean', { n: said.weighed, mean: number(said.mean_hundredths_g / 100, 2) })),
    sentences(said.to_do),
  ];
}

async function glass(one) {
  const wish = { kind: 'glass_broken', data: { batch_id: one.id } };
  await record([wish], t('say.glass', { code: one.label }), { house: true });
}

async function batch(params, view) {
  const one = await row('batch', params.batch);
  if (!one) return list();
  if (params.step === 'weigh') return view.fresh ? weigh(one, view) : undefined;
  const holds = rules.isReady() ? rules.holdsOn('batch', one.id) : [];
  return page(
    t('bottle.batch', { code: one.label }),
    ['/house/bottle', t('bottle.title')],
    h('p', { class: 'big' }, t('bottle.of', { n: one.state.jars_in_stock, mass: mass(one.state.nominal_g) }), ', ', day(one.state.filled_at), tagsOf(one, holds)),
    h('h2', {}, t('bottle.content')),
    await verdict(one),
    button('weigh', () => view.go(`/house/batch/${one.id}/weigh`), { class: 'main wide' }, t('bottle.weigh')),
    h('h2', {}, t('bottle.glass')),
    h('p', { class: 'caution' }, t('bottle.glass_what')),
    button('glass', () => glass(one), { class: 'wide' }, t('bottle.glass_act')),
  );
}
