// What can hurt somebody, said at that moment. Who has read it puts it aside, until the app is opened again.

import { button, h } from './dom.js';
import { t } from './words.js';

const aside = new Set();

export function caution(key) {
  if (aside.has(key)) return null;
  const put = () => {
    aside.add(key);
    said.remove();
  };
  const said = h('p', { class: 'caution' }, h('span', {}, t(key)), button(`aside-${key}`, put, { 'aria-label': t('safety.aside') }, '✕'));
  return said;
}
