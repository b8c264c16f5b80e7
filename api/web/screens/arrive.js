// Arrive: where are we? The yard where this phone was last stands first.

import { button, h, link } from '../dom.js';
import { mayOffice } from '../session.js';
import * as install from '../install.js';
import { currentPlace } from '../shell.js';
import { rowsOf } from '../store.js';
import * as sync from '../sync.js';
import { tagsOf } from '../tags.js';
import * as update from '../update.js';
import { byLabel, t } from '../words.js';

export const newVersion = () =>
  update.isWaiting() &&
  h('div', { class: 'told' }, h('p', {}, t('update.ready')), button('update', update.accept, {}, t('update.accept')));

function yardLink(yard, hives) {
  return h(
    'li',
    {},
    link(
      `/yard/${yard.id}`,
      { class: 'row-link', 'data-key': yard.id },
      h('span', { class: 'row-name' }, yard.label ?? t('yard.unnamed')),
      h('span', { class: 'row-more' }, t('yard.hives', { n: hives })),
      tagsOf(yard),
    ),
  );
}

export async function show() {
  const yards = (await rowsOf('yard')).sort(byLabel);
  const last = currentPlace()?.id;
  yards.sort((a, b) => Number(b.id === last) - Number(a.id === last));
  const hives = new Map();
  for (const hive of await rowsOf('hive')) hives.set(hive.at, (hives.get(hive.at) ?? 0) + 1);
  const nothing = sync.currentPhase() === 'sent' ? t('arrive.no_yards') : t('arrive.fetching');
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('arrive.title')),
    newVersion(),
    await install.reminder(),
    yards.length === 0 && h('p', {}, nothing),
    yards.length === 0 && mayOffice() && link('/office/begin', { class: 'act main' }, t('arrive.begin')),
    h('ul', { class: 'rows' }, yards.map((yard) => yardLink(yard, hives.get(`hive@${yard.id}`) ?? 0))),
    h('p', { class: 'lines' }, link('/yard/bring', { class: 'line' }, t('bring.title')), link('/today', { class: 'line' }, t('today.title')), link('/earlier', { class: 'line' }, t('earlier.title')), link('/phone', { class: 'line' }, t('phone.title')), link('/signs', { class: 'line' }, t('signs.link'))),
  );
}
