// Today: everything that was told on this device, newest first, each to be taken back. Nothing is deleted.

import { button, h, link } from '../dom.js';
import { takeBack } from '../shell.js';
import { newestOutbox } from '../store.js';
import { stateTag } from '../tags.js';
import { clock, t } from '../words.js';

const MOST = 300;

function midnight() {
  const now = new Date();
  return new Date(now.getFullYear(), now.getMonth(), now.getDate()).toISOString();
}

export async function show(params, view) {
  const since = midnight();
  const entries = await newestOutbox((entry, found) => entry.at >= since && found < MOST);
  const corrected = new Set(entries.flatMap((entry) => (entry.kind === 'voided' ? [JSON.parse(entry.text).data.entry_id] : [])));
  const item = (entry) =>
    h(
      'li',
      { class: 'entry' },
      h('span', { class: 'entry-time' }, clock(entry.at)),
      h('span', { class: 'entry-say' }, entry.say, (entry.warned ?? []).map((line) => h('span', { class: 'soft block' }, line))),
      stateTag(entry.state),
      corrected.has(entry.id)
        ? h('span', { class: 'soft' }, t('today.taken_back'))
        : entry.kind !== 'voided' && button(`void-${entry.id}`, async () => (await takeBack([entry.id], entry.say)) && view.redraw(), { 'aria-label': t('today.void_what', { what: entry.say }) }, t('today.void')),
    );
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('today.title')),
    entries.length === 0 && h('p', {}, t('today.nothing')),
    h('ul', { class: 'plain' }, entries.map(item)),
    link('/yard', { class: 'line' }, t('arrive.title')),
  );
}
