// Today: everything that was told on this device, newest first, each to be taken back or amended: a weight on the pad,
// all else in a form that the office has too. Nothing is deleted: an amendment is an entry of its own.

import { button, h, link } from '../dom.js';
import * as rules from '../rules.js';
import { said } from '../said.js';
import { record, takeBack } from '../shell.js';
import { newestOutbox, outboxEntry } from '../store.js';
import { stateTag } from '../tags.js';
import { clock, mass, moment, t } from '../words.js';
import { padPage, weightPad } from './parts.js';

const MOST = 300;
// The weight that an entry of a kind tells.
const WEIGHT = {
  super_received: 'gross_g',
  super_weighed: 'gross_g',
  wet_weighed: 'gross_g',
  container_filled: 'gross_g',
  cappings_weighed: 'honey_g',
  run_drained: 'left_in_machine_g',
  fill_settled: 'skimmed_g',
};

function midnight() {
  const now = new Date();
  return new Date(now.getFullYear(), now.getMonth(), now.getDate()).toISOString();
}

const CORRECTIONS = ['amended', 'voided'];

// What an entry of this device tells by now: as it was told, or as its newest amendment says that was not taken back.
export async function tellsNow(entry) {
  const later = await newestOutbox((one) => one.n > entry.n);
  const made = later.filter((one) => CORRECTIONS.includes(one.kind)).map((one) => JSON.parse(one.text));
  const isGone = (id) => made.some((one) => one.kind === 'voided' && one.data.entry_id === id && !isGone(one.id));
  const newest = made.find((one) => one.kind === 'amended' && one.data.entry_id === entry.id && !isGone(one.id));
  return newest?.data.data ?? JSON.parse(entry.text).data;
}

// An entry of this device with another weight.
function amend(entry, told, view) {
  const field = WEIGHT[entry.kind];
  const keep = async (grams) => {
    const data = { ...told, [field]: grams };
    const say = t('today.amended', { what: entry.say, mass: mass(grams) });
    const wish = { kind: 'amended', data: { entry_id: entry.id, kind: entry.kind, v: rules.version(entry.kind), data } };
    if (await record([wish], say, { house: true })) await view.go('/today', { replace: true });
  };
  return padPage(t('today.amend'), weightPad('amend', t('today.amend_what', { what: entry.say, mass: mass(told[field]) }), keep), link(`/today/${entry.id}/all`, { class: 'line' }, t('today.amend_rest')));
}

export async function show(params, view) {
  const one = params.entry && (await outboxEntry(params.entry));
  if (one) {
    await rules.start();
    const told = await tellsNow(one);
    if (told[WEIGHT[one.kind]] === undefined) return view.go(`/today/${one.id}/all`, { replace: true });
    return view.fresh ? amend(one, told, view) : undefined;
  }
  const since = midnight();
  const entries = await newestOutbox((entry, found) => entry.at >= since && found < MOST);
  const corrected = new Set(entries.flatMap((entry) => (entry.kind === 'voided' ? [JSON.parse(entry.text).data.entry_id] : [])));
  const acts = (entry) => [
    !CORRECTIONS.includes(entry.kind) && button(`amend-${entry.id}`, () => view.go(`/today/${entry.id}`), { 'aria-label': t('today.amend_act', { what: entry.say }) }, t('today.amend')),
    entry.kind !== 'voided' &&
      button(`void-${entry.id}`, async () => (await takeBack([entry.id], entry.say)) && view.redraw(), { 'aria-label': t('today.void_what', { what: entry.say }) }, t('today.void')),
  ];
  const item = (entry) =>
    h(
      'li',
      { class: 'entry' },
      h('span', { class: 'entry-time' }, entry.happened ? moment(entry.happened) : clock(entry.at)),
      h('span', { class: 'entry-say' }, entry.say, (entry.warned ?? []).map((line) => h('span', { class: 'soft block' }, said(line)))),
      stateTag(entry.state),
      corrected.has(entry.id) ? h('span', { class: 'soft' }, t('today.taken_back')) : acts(entry),
    );
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('today.title')),
    entries.length === 0 && h('p', {}, t('today.nothing')),
    h('ul', { class: 'plain' }, entries.map(item)),
    h('p', { class: 'lines' }, link('/earlier', { class: 'line' }, t('earlier.title')), link('/yard', { class: 'line' }, t('arrive.title'))),
  );
}
