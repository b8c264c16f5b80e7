// Spare: empty supers left in the yard for the next visit. What is touched stays here.

import { h } from '../dom.js';
import * as rules from '../rules.js';
import { record } from '../shell.js';
import { row } from '../store.js';
import { t } from '../words.js';
import { inTurn, numberField, steady, superTile } from './tiles.js';

export const needsHive = false;

const leave = (one, yard) =>
  record([{ kind: 'super_left_in_yard', data: { super_id: one.id, yard_id: yard.id } }], t('say.spare', { super: one.label, yard: yard.label }));

async function byNumber(typed) {
  await rules.start();
  const subject = rules.find(typed);
  return subject?.kind === 'super' ? row('super', subject.id) : undefined;
}

export async function pane({ yard, view }) {
  const supers = await steady(`spare/${yard.id}`, () => inTurn('super@on_truck', 'super@in_store', 'super@stored_wet', `super@${yard.id}`), view.fresh);
  const here = (one) => one.at === `super@${yard.id}`;
  return [
    h('h2', {}, t('spare.which', { yard: yard.label })),
    h('p', {}, t('spare.here', { n: supers.filter(here).length })),
    h('div', { class: 'tiles' }, supers.map((one) => superTile(one, { done: here(one), more: t(`status.${one.status}`), act: () => leave(one, yard) }))),
    supers.length === 0 && h('p', {}, t('place.none')),
    numberField('spare-number', t('place.other'), byNumber, (one) => leave(one, yard)),
  ];
}
