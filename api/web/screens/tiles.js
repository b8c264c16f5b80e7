// Supers as tiles, and the field for a number that stands on no tile. A list keeps its order while one works through
// it: what was touched stays where it was, so that a second touch of a glove meets the same box.

import { button, h } from '../dom.js';
import { note } from '../shell.js';
import { touched } from '../entry.js';
import { rowsAt, rowsById } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, t } from '../words.js';

const MOST = 60;
const canScan = () => Boolean(navigator.mediaDevices?.getUserMedia) || 'NDEFReader' in globalThis;
let kept = { key: '' };

// Somebody who comes anew (`fresh`) finds it made anew.
export async function steady(key, find, fresh) {
  const { round, ids } = touched;
  if (fresh || kept.key !== key) {
    const found = await find();
    kept = { key, ids: found.map((one) => one.id), rows: new Map(found.map((one) => [one.id, one])), round, seen: ids.length };
    return found;
  }
  // After a touch only what it changed is read again. What came from elsewhere joins at the end: nothing moves away under
  // a finger.
  const elsewhere = kept.round !== round;
  if (elsewhere) kept.ids = [...new Set([...kept.ids, ...(await find()).map((one) => one.id)])];
  const again = elsewhere ? kept.ids : kept.ids.filter((id) => ids.includes(id, kept.seen));
  for (const one of await rowsById('super', again)) kept.rows.set(one.id, one);
  Object.assign(kept, { round, seen: ids.length });
  return kept.ids.map((id) => kept.rows.get(id)).filter(Boolean);
}

export async function inTurn(...places) {
  const lists = await Promise.all(places.map(rowsAt));
  return lists.flatMap((list) => list.sort(byLabel)).slice(0, MOST);
}

export function superTile(one, { done, more, act }) {
  return button(
    `super-${one.id}`,
    act,
    { class: `tile super${done ? ' done' : ''}` },
    h('span', { class: 'tile-number' }, one.label ?? '?'),
    more && h('span', { class: 'tile-more' }, more),
    tagsOf(one),
  );
}

// A real field: digits and Enter, as a wedge scanner types them, or a scan. `found(row)` for the super of that number;
// what nothing here bears stays in the field as it was read.
export function numberField(id, label, find, found) {
  const look = async () => {
    const field = document.getElementById(id);
    const typed = field.value.trim();
    if (typed === '') return note(t('say.number_missing'));
    const one = await find(typed);
    if (!one) return note(t('say.no_super', { number: typed }));
    field.value = '';
    return found(one);
  };
  const take = async () => {
    const { scan } = await import('../scan.js');
    const answer = await scan();
    const field = document.getElementById(id);
    if (answer.trouble) {
      note(t(answer.trouble));
      return field?.focus();
    }
    if (!answer.text || !field) return undefined;
    field.value = answer.text;
    return look();
  };
  return h(
    'form',
    {
      class: 'look',
      onsubmit: (event) => {
        event.preventDefault();
        look();
      },
    },
    h('label', { for: id }, label),
    h('input', { id, inputmode: 'numeric', autocomplete: 'off', enterkeyhint: 'go', 'data-wedge': '1' }),
    button(`${id}-go`, () => {}, { type: 'submit' }, t('act.take')),
    canScan() && button(`${id}-scan`, take, { class: 'scan-act' }, t('scan.act')),
  );
}
