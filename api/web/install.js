// Whether this is the installed app, how it becomes one, and whether the browser promised to keep what it stores.

import { button, h } from './dom.js';
import * as store from './store.js';
import { t } from './words.js';

const LONG_UNSENT_MS = 24 * 3600 * 1000;
let offered = null;

addEventListener('beforeinstallprompt', (event) => {
  event.preventDefault();
  offered = event;
});

export const isInstalled = () => matchMedia('(display-mode: standalone)').matches || navigator.standalone === true;

// Only there does a tab have a store of its own, apart from that of the installed app; what was told in it is lost.
export const isTabApart = () => navigator.standalone === false && navigator.maxTouchPoints > 0;

export function card() {
  if (isInstalled()) return null;
  const steps = isTabApart() ? 'install.ios' : 'install.menu';
  const offer = () => offered?.prompt();
  return h('section', { class: 'told', 'aria-label': t('install.title') }, h('h2', {}, t('install.title')), h('p', {}, t(steps)), offered && button('install', offer, {}, t('install.act')));
}

// Asked for on a touch, where browsers grant it most readily.
export async function keep() {
  const granted = (await navigator.storage?.persist?.()) === true;
  await store.setMeta('kept', granted);
  return granted;
}

// What waits long on a device that promised nothing: it may be cleared when space is short.
export async function reminder() {
  const [oldest] = await store.outboxOf('to_send', 1);
  if (!oldest || Date.now() - Date.parse(oldest.at) < LONG_UNSENT_MS) return null;
  if (await navigator.storage?.persisted?.()) return null;
  return h('p', { class: 'told', 'data-key': 'reminder' }, t('install.reminder'));
}
