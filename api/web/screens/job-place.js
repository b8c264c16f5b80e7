// Place: the hive, then the number of each super that goes on it. The next one on the same hive is one touch.

import { h } from '../dom.js';
import * as rules from '../rules.js';
import { record } from '../shell.js';
import { row } from '../store.js';
import { t } from '../words.js';
import { inTurn, numberField, steady, superTile } from './tiles.js';

export const needsHive = true;

const put = (one, hive) =>
  record([{ kind: 'super_placed', data: { super_id: one.id, hive_id: hive.id } }], t('say.placed', { super: one.label, hive: hive.label }));

async function byNumber(typed) {
  await rules.start();
  const subject = rules.find(typed);
  return subject?.kind === 'super' ? row('super', subject.id) : undefined;
}

export async function pane({ yard, hive, view }) {
  if (!hive) return h('p', { class: 'hint' }, t('place.hint'));
  const supers = await steady(
    `place/${yard.id}/${hive.id}`,
    () => inTurn('super@on_truck', `super@${yard.id}`, 'super@in_store', 'super@stored_wet'),
    view.fresh,
  );
  const more = (one) => (one.at === `super@${hive.id}` ? t('place.on', { hive: hive.label }) : t(`status.${one.status}`));
  return [
    h('h2', {}, t('place.which', { hive: hive.label })),
    h(
      'div',
      { class: 'tiles' },
      supers.map((one) => superTile(one, { done: one.status === 'on_hive', more: more(one), act: () => put(one, hive) })),
    ),
    supers.length === 0 && h('p', {}, t('place.none')),
    numberField('other-number', t('place.other'), byNumber, (one) => put(one, hive)),
  ];
}
