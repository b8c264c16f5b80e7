// Outbox: what waits, what went, what was kept or not taken and why. It can be sent now, or saved as a file.

import { button, h } from '../dom.js';
import * as photos from '../photos.js';
import { said } from '../said.js';
import * as session from '../session.js';
import { note } from '../shell.js';
import * as store from '../store.js';
import * as sync from '../sync.js';
import { stateTag } from '../tags.js';
import { clock, moment, t } from '../words.js';

const SHOWN = 100;
const LINK_MS = 60000;
const STATES = ['to_send', 'not_taken', 'kept', 'sent', 'other'];

// First whose it is, then one entry a line, exactly as it would be sent: the form in which the office takes it in.
async function save() {
  const entries = (await store.allOutbox()).filter((entry) => entry.state !== 'sent');
  if (entries.length === 0) return note(t('outbox.nothing_to_save'));
  const { operation_id, device_id } = session.who();
  const lines = [JSON.stringify({ outbox: 1, operation_id, device_id }), ...entries.map((entry) => entry.text)];
  const url = URL.createObjectURL(new Blob(lines.map((line) => `${line}\n`), { type: 'application/x-ndjson' }));
  h('a', { href: url, download: `yardjar-${new Date().toISOString().slice(0, 16).replace(':', '')}.ndjson` }).click();
  setTimeout(() => URL.revokeObjectURL(url), LINK_MS);
  return note(t('outbox.saved', { n: entries.length }));
}

// The office's part; where it was never fetched and there is no network it could not be used either.
const handIn = () => import('../office/hand-in.js').then(({ form }) => form(), () => null);

function why(entry) {
  if (!entry.why) return null;
  return h('span', { class: 'soft block' }, entry.why.reason && [t('outbox.why', { reason: entry.why.reason }), ' '], said(entry.why));
}

async function part(state) {
  const n = await store.outboxCount(state);
  if (n === 0 || state === 'sent') return null;
  const entries = await store.outboxOf(state, SHOWN);
  return [
    h('h2', {}, stateTag(state), ' ', String(n)),
    h('ul', { class: 'plain' }, entries.map((entry) => h('li', { class: 'entry' }, h('span', { class: 'entry-time' }, clock(entry.at)), h('span', { class: 'entry-say' }, entry.say, why(entry))))),
    n > SHOWN && h('p', {}, t('house.more', { n: n - SHOWN })),
  ];
}

export async function show(params, view) {
  const phase = sync.currentPhase();
  const counts = await Promise.all(STATES.map(async (state) => [state, await store.outboxCount(state)]));
  const sentAt = await store.meta('sent_at');
  const go = () => {
    note(t('outbox.trying'));
    sync.soon(0);
  };
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('outbox.title')),
    h('p', { class: 'big' }, t(`phase.${phase}`)),
    session.ended() && h('p', { class: 'told' }, t('outbox.ended')),
    session.ended() && button('again', () => view.go('/sign-in'), { class: 'main wide' }, t('signin.title')),
    h('ul', { class: 'counts' }, counts.filter(([, n]) => n > 0).map(([state, n]) => h('li', {}, stateTag(state), ' ', h('strong', {}, String(n))))),
    sentAt && h('p', {}, t('outbox.last', { at: moment(sentAt) })),
    button('send-now', go, { class: session.ended() ? 'wide' : 'main wide' }, t('outbox.send')),
    button('save-copy', save, { class: 'wide' }, t('outbox.save')),
    (await photos.count()) > 0 && h('p', {}, t('outbox.photos', { n: await photos.count() })),
    await Promise.all(STATES.map(part)),
    session.mayOffice() && (await handIn()),
  );
}
