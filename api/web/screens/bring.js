// What to bring to which yard next: what stands there, what lies ready there, and what is to be fetched. Facts of the
// book, yard by yard; what to do about them is the beekeeper's.

import { h, link } from '../dom.js';
import { countsAt, rowsAt, rowsOf } from '../store.js';
import { byLabel, day, t } from '../words.js';

async function factsOf(yard) {
  const hives = (await rowsAt(`hive@${yard.id}`)).sort(byLabel);
  const supers = await countsAt(hives.map((hive) => `super@${hive.id}`));
  const [spare] = await countsAt([`super@${yard.id}`]);
  const here = new Set(hives.map((hive) => hive.id));
  const pulled = (await rowsAt('super@pulled')).filter((one) => here.has(one.state.filling?.stands?.at(-1)?.hive_id)).length;
  const bare = hives.filter((hive, at) => supers[at] === 0).map((hive) => hive.label);
  const last = (list) => (list ?? []).at(-1);
  const medicine = hives.filter((hive) => ['put_in', 'seen'].includes(last(hive.state.treatments)?.act));
  const feed = hives.filter((hive) => last(hive.state.feedings)?.put_on);
  const light = hives.filter((hive) => hive.state.inspected?.stores?.what === 'light').map((hive) => hive.label);
  const boards = hives.filter((hive, at) => hive.state.clearing?.clearing === 'escape_board' && supers[at] > 0).map((hive) => hive.label);
  const earliest = (list, at) => list.map(at).sort()[0];
  return [
    t('bring.stands', { hives: hives.length, supers: supers.reduce((sum, n) => sum + n, 0), spare }),
    pulled > 0 && t('bring.pulled', { n: pulled }),
    boards.length > 0 && t('bring.boards', { n: boards.length, list: boards.join(', ') }),
    bare.length > 0 && t('bring.bare', { n: bare.length, list: bare.join(', ') }),
    light.length > 0 && t('bring.light', { n: light.length, list: light.join(', ') }),
    medicine.length > 0 && t('bring.medicine', { n: medicine.length, at: day(earliest(medicine, (hive) => last(hive.state.treatments).at)) }),
    feed.length > 0 && t('bring.feed', { n: feed.length, at: day(earliest(feed, (hive) => last(hive.state.feedings).at)) }),
  ].filter(Boolean);
}

export async function show() {
  const yards = (await rowsOf('yard')).sort(byLabel);
  const part = async (yard) =>
    h('li', {}, link(`/yard/${yard.id}`, { class: 'row-link' }, h('span', { class: 'row-name' }, yard.label ?? t('yard.unnamed'))), h('ul', {}, (await factsOf(yard)).map((line) => h('li', {}, line))));
  const [truck] = await countsAt(['super@on_truck']);
  const [store] = await countsAt(['super@in_store']);
  const [wet] = await countsAt(['super@stored_wet']);
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('bring.title')),
    h('p', { class: 'big' }, t('bring.ready', { truck, store: store + wet })),
    h('ul', { class: 'rows' }, await Promise.all(yards.map(part))),
    link('/yard', { class: 'line' }, t('arrive.title')),
  );
}
