// The office: what is looked after at a table.

import { h, link } from '../dom.js';
import * as session from '../session.js';
import { t } from '../words.js';
import { newVersion } from '../screens/arrive.js';

export async function show() {
  // From here on the office works without a signal too.
  navigator.serviceWorker?.controller?.postMessage('keep office');
  const to = (path, name) => h('li', {}, link(path, { class: 'row-link' }, h('span', { class: 'row-name' }, name)));
  const names = session.who().names;
  return h(
    'div',
    { class: 'page office' },
    h('h1', { tabindex: '-1' }, t('office.title')),
    names && h('p', {}, t('office.who', { person: names.person, operation: names.operation, role: t(`role.${session.role()}`) })),
    newVersion(),
    h(
      'ul',
      { class: 'rows' },
      to('/office/stock', t('stock.title')),
      to('/office/lots', t('lots.title')),
      session.role() !== 'field' && [to('/office/orders', t('orders.title')), to('/office/sales', t('sales.title'))],
      to('/office/flags', t('flags.title')),
      to('/office/season', t('season.title')),
      to('/office/inputs', t('inputs.title')),
      to('/office/labels', t('labels.title')),
      to('/office/set-up', t('office.set_up')),
      session.mayOffice() && to('/office/phones', t('phones.title')),
      to('/find', t('search.title')),
      to('/today', t('today.title')),
      to('/earlier', t('earlier.title')),
      to('/phone', t('phone.title')),
      to('/signs', t('signs.link')),
    ),
  );
}
