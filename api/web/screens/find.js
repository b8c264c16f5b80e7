// Find: any number or code tells its story.

import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import { mayOffice } from '../session.js';
import { note } from '../shell.js';
import { eachPart, row } from '../store.js';
import { holdTag, tagsOf } from '../tags.js';
import { byLabel, day, known, mass, percent, t } from '../words.js';
import { numberField } from './tiles.js';

async function stands(state) {
  const list = state.filling?.stands ?? [];
  return Promise.all(
    list.map(async (stand) => {
      const hive = await row('hive', stand.hive_id);
      return t(stand.until_day ? 'find.stood' : 'find.stands', { hive: hive?.label ?? '?', from: day(stand.from), until: stand.until_day ? day(stand.until_day) : '' });
    }),
  );
}

async function facts(one) {
  const { state } = one;
  const filling = state.filling ?? {};
  const lines = await stands(state);
  if (filling.pulled) lines.push(t('find.pulled', { at: day(filling.pulled.at) }));
  if (filling.full) lines.push(t('find.weighed', { mass: mass(filling.full.gross_g) }));
  if (filling.wet) lines.push(t('find.wet', { mass: mass(filling.wet.gross_g) }));
  for (const reading of filling.readings ?? state.readings ?? []) {
    if (reading.moisture_hundredths !== undefined) lines.push(t('find.read', { value: percent(reading.moisture_hundredths), at: day(reading.at) }));
  }
  if (state.content_g !== undefined) lines.push(t('find.content', { mass: mass(state.content_g) }));
  return lines;
}

function steps(title, list) {
  if (!list || list.length === 0) return null;
  const word = (step) => [t(`kind.${step.kind}`), ' ', step.label, step.certainty === 'possible' && ` (${t('find.possible')})`];
  return [h('h2', {}, title), h('ul', { class: 'plain lines' }, list.map((step) => h('li', {}, link(`/find/${encodeURIComponent(step.label)}`, { class: 'line' }, word(step)))))];
}

const MOST = 50;
const LINKED = { lot: '/office/lots/', batch: '/office/stock/', delivery: '/office/sales/', customer: '/office/set-up/buyers/', medicine: '/office/set-up/medicines/' };

// Where it is told what happened to a thing.
const PAGES = { ...LINKED, hive: '/office/set-up/hives/', super: '/office/set-up/supers/', yard: '/office/set-up/yards/', container: '/office/set-up/containers/', run: '/house/run/', fill: '/office/tell/fill/', colony: '/office/tell/colony/' };

// Whatever is called so or has it in one of its words, for those who know only a part of a name.
async function like(text) {
  const wanted = text.toLowerCase();
  const found = [];
  await eachPart(1000, (part) => {
    for (const one of part) {
      if (found.length >= MOST) return;
      const typed = one.label?.toLowerCase().includes(wanted) || (wanted.length > 2 && Object.values(JSON.parse(one.text)).some((value) => typeof value === 'string' && value.toLowerCase().includes(wanted)));
      if (typed && one.label) found.push(one);
    }
  });
  return found.sort(byLabel);
}

async function similar(text) {
  const found = await like(text);
  const to = (one) => (LINKED[one.kind] ? LINKED[one.kind] + one.id : `/find/${encodeURIComponent(one.label)}`);
  return found.length === 0 ? h('p', {}, t('find.as_read', { text })) : h('ul', { class: 'plain lines' }, found.map((one) => h('li', {}, link(to(one), { class: 'line' }, `${t(`kind.${one.kind}`)} ${one.label}`))));
}

const statusWord = (one) => [`status.${one.kind}.${one.status}`, `status.${one.status}`].filter(known).map((key) => t(key))[0] ?? '';

export async function show(params, view) {
  await rules.start();
  const field = numberField('find-number', t('find.label'), async (typed) => typed, (typed) => view.go(`/find/${encodeURIComponent(typed)}`));
  const head = [h('h1', { tabindex: '-1' }, t('find.title')), field];
  if (!params.text) return h('div', { class: 'page' }, head, h('p', {}, t('find.hint')));
  const subject = rules.find(params.text);
  const one = subject && (await row(subject.kind, subject.id));
  if (!one) {
    if (view.fresh) note(t('find.nothing', { text: params.text }));
    return h('div', { class: 'page' }, head, await similar(params.text));
  }
  const traced = rules.trace(one.kind, one.id);
  const holds = rules.holdsOn(one.kind, one.id);
  return h(
    'div',
    { class: 'page' },
    head,
    h('h2', { class: 'big' }, t(`kind.${one.kind}`), ' ', one.label),
    h('p', {}, statusWord(one), ' ', tagsOf(one), holds.length > 0 && holdTag(holds[0].reason)),
    h('p', { class: 'lines' }, PAGES[one.kind] && link(PAGES[one.kind] + one.id, { class: 'line' }, t('find.page')), link(`/office/trace/${one.kind}/${one.id}`, { class: 'line' }, t('find.trace')), link(`/office/recall/${one.kind}/${one.id}`, { class: 'line' }, t('find.recall')), mayOffice() && link(`/office/entries/${one.kind}/${one.id}`, { class: 'line' }, t('find.entries'))),
    h('ul', { class: 'plain' }, (await facts(one)).map((line) => h('li', {}, line))),
    steps(t('find.from'), traced.back),
    steps(t('find.to'), traced.forward),
  );
}
