// Colony: what became of the bees of a hive. The day of a death is not known; it is the day it was found.

import { button, h } from '../dom.js';
import { newId } from '../entry.js';
import { record } from '../shell.js';
import { rowsAt } from '../store.js';
import { day, t } from '../words.js';

export const needsHive = true;

const ENDS = ['dead', 'united', 'absconded', 'sold', 'destroyed_by_order'];
const FOUND = ['swarm', 'split', 'nucleus', 'package', 'wintered'];

// Into which hive the bees go, while that is asked.
let uniting = null;

const colonyOf = async (hive) => (await rowsAt(`colony@${hive.id}`)).at(-1);

// Bees that nobody wrote down yet are written down first: an end needs something that ends.
function known(hive, colony) {
  if (colony) return { id: colony.id, wishes: [] };
  const id = newId();
  return { id, wishes: [{ kind: 'colony_registered', data: { colony_id: id, hive_id: hive.id }, say: t('say.colony_written', { hive: hive.label }) }] };
}

async function end(hive, how, into) {
  const { id, wishes } = known(hive, await colonyOf(hive));
  const other = into && known(into, await colonyOf(into));
  const say = t(`say.colony.${how}`, { hive: hive.label, into: into?.label ?? '' });
  uniting = null;
  await record([...wishes, ...(other?.wishes ?? []), { kind: 'colony_ended', data: { colony_id: id, how, united_into: other?.id }, say }], say);
}

function found(hive, founding) {
  const data = { colony_id: newId(), hive_id: hive.id, founding };
  return record([{ kind: 'colony_registered', data }], t('say.colony_founded', { hive: hive.label, founding: t(`founding.${founding}`) }));
}

export async function pane({ hive, hives, view }) {
  if (!hive) return h('p', { class: 'hint' }, t('colony.hint'));
  if (view.fresh) uniting = null;
  const tile = (key, act, word) => button(key, act, { class: 'tile word' }, word);
  if (uniting === hive.id) {
    return [
      h('h2', {}, t('colony.into', { hive: hive.label })),
      h('div', { class: 'tiles' }, hives.filter((one) => one.id !== hive.id).map((one) => tile(`into-${one.id}`, () => end(hive, 'united', one), one.label))),
    ];
  }
  const colony = await colonyOf(hive);
  const line = colony?.state.queen_line;
  return [
    h('h2', {}, t('colony.what', { hive: hive.label })),
    colony && h('p', {}, [t('colony.since', { at: day(colony.state.homes.at(-1).from) }), line && t('colony.line', { line })].filter(Boolean).join(' ')),
    h('div', { class: 'tiles' }, ENDS.map((how) => tile(`end-${how}`, () => (how === 'united' ? view.redraw((uniting = hive.id)) : end(hive, how)), t(`ending.${how}`)))),
    h('h2', {}, t('colony.new', { hive: hive.label })),
    h('div', { class: 'tiles' }, FOUND.map((founding) => tile(`found-${founding}`, () => found(hive, founding), t(`founding.${founding}`)))),
  ];
}
