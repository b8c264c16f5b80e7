// Move: hives go to another yard, all of them unless one is touched away. Whether they may, the rules say.

import { button, h } from '../dom.js';
import { note, record } from '../shell.js';
import { rowsOf } from '../store.js';
import { byLabel, t } from '../words.js';
import * as picked from './picked.js';

export const needsHive = 'many';

let target = null;

export async function pane({ yard, chosen, view }) {
  if (view.fresh) target = null;
  const yards = (await rowsOf('yard')).filter((one) => one.id !== yard.id).sort(byLabel);
  if (yards.length === 0) return h('p', { class: 'hint' }, t('move.no_yard'));
  const to = yards.find((one) => one.id === target);
  const typed = document.getElementById('permit')?.value ?? '';
  const tile = (one) =>
    button(`to-${one.id}`, () => view.redraw((target = one.id)), { class: 'tile word', 'aria-pressed': String(one.id === target) }, one.label);
  const go = async () => {
    if (chosen.length === 0) return note(t('many.none'));
    if (!to) return note(t('move.to_missing'));
    const permit = document.getElementById('permit').value.trim() || undefined;
    const wish = (hive) => ({ kind: 'hive_moved', data: { hive_id: hive.id, yard_id: to.id, permit }, say: t('say.moved', { hive: hive.label, yard: to.label }) });
    const told = await record(chosen.map(wish), t('say.moved_all', { n: chosen.length, yard: to.label }));
    return told && view.redraw(picked.reset(yard.id, 'move'));
  };
  return [
    h('h2', {}, t('move.to')),
    h('div', { class: 'tiles' }, yards.map(tile)),
    h('div', { class: 'field' }, h('label', { for: 'permit' }, t('move.permit')), h('input', { id: 'permit', autocomplete: 'off', value: typed })),
    button('move', go, { class: 'main wide' }, to ? t('move.go', { n: chosen.length, yard: to.label }) : t('move.go_where', { n: chosen.length })),
  ];
}
