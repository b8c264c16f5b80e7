// Hold: something about a hive that must bar its honey until a named person has looked at it.

import { button, h } from '../dom.js';
import { mayOffice } from '../session.js';
import { record } from '../shell.js';
import { holdReason } from '../tags.js';
import { moment, t } from '../words.js';

export const needsHive = true;

const REASONS = ['treatment', 'feed', 'disease', 'taint', 'foreign_matter', 'other'];

function set(hive, reason) {
  const wish = { kind: 'hold_set', data: { target: { kind: 'hive', id: hive.id }, reason } };
  return record([wish], t('say.held', { hive: hive.label, reason: holdReason(reason) }));
}

export async function pane({ hive }) {
  if (!hive) return h('p', { class: 'hint' }, t('hold.hint'));
  const standing = (hive.state.holds ?? []).filter((one) => !one.lifted);
  return [
    h('h2', {}, t('hold.why', { hive: hive.label })),
    h('div', { class: 'tiles' }, REASONS.map((reason) => button(`reason-${reason}`, () => set(hive, reason), { class: 'tile word' }, holdReason(reason)))),
    h('p', { class: 'hint' }, t(mayOffice() ? 'hold.ends_office' : 'hold.ends')),
    h('ul', { class: 'plain' }, standing.map((one) => h('li', {}, t('hold.since', { reason: holdReason(one.reason), at: moment(one.since) })))),
  ];
}
