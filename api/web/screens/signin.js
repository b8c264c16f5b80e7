// Getting in: a code from the office for a phone, a password for the office's own browser.

import { button, h } from '../dom.js';
import { refold } from '../entry.js';
import * as install from '../install.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { drawUndo, note } from '../shell.js';
import * as store from '../store.js';
import * as sync from '../sync.js';
import { t } from '../words.js';

const field = (id, label, attributes) =>
  h('div', { class: 'field' }, h('label', { for: id }, label), h('input', { id, name: id, autocomplete: 'off', ...attributes }));

const value = (id) => document.getElementById(id).value.trim();

function why(answer) {
  if (answer.status === 429) return t('signin.too_many');
  if (answer.status === 401) return t('signin.not_good');
  return answer.body?.detail ?? t('signin.failed', { status: answer.status });
}

// What is kept for another business stays, apart: it is neither shown nor sent, and can be saved from the outbox.
async function setApart(old) {
  const now = session.who();
  if (!old || old.operation_id === now.operation_id) return;
  await store.write(['outbox', 'row', 'meta'], async (outbox, rows, meta) => {
    for (const entry of await store.rawAll(outbox)) outbox.put({ ...entry, state: 'other' });
    rows.clear();
    for (const key of ['cursor', 'head', 'undo', 'place', 'server_id', 'sent_at']) meta.delete(key);
  });
  await rules.forget();
}

async function enter(way, said, view) {
  const kept = install.keep();
  const old = await store.meta('device');
  try {
    const answer = await way(said);
    if (answer.status !== 200) return note(why(answer));
  } catch (error) {
    return note(error instanceof session.NotOurs ? t('say.not_ours') : t('signin.no_signal'));
  }
  note(t('signin.in'));
  await kept;
  try {
    await setApart(old);
    // What others wrote comes meanwhile.
    sync.soon(0);
    await rules.start();
    await refold();
  } catch (error) {
    console.error(error);
    note(t('say.no_rules'));
  }
  await drawUndo();
  return view.go('/', { replace: true });
}

const named = () => value('device') || t('signin.device_default');

export async function show(params, view) {
  if (session.who() && !session.ended()) {
    await view.go('/', { replace: true });
    return undefined;
  }
  const waiting = await store.outboxCount('to_send');
  // What is written in such a tab never reaches the installed app, so nobody comes in there.
  if (install.isTabApart()) return h('div', { class: 'page' }, h('h1', { tabindex: '-1' }, t('signin.title')), install.card());
  const byCode = (event) => {
    event.preventDefault();
    return enter(session.enrol, { code: value('code'), device_name: named() }, view);
  };
  const byPassword = (event) => {
    event.preventDefault();
    return enter(session.signIn, { login: value('login'), password: document.getElementById('password').value, device_name: named() }, view);
  };
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('signin.title')),
    waiting > 0 && h('p', { class: 'told' }, t('signin.waiting', { n: waiting })),
    install.card(),
    field('device', t('signin.device'), { maxlength: '80', value: '' }),
    h(
      'form',
      { onsubmit: byCode },
      h('h2', {}, t('signin.by_code')),
      // A code that was scanned by the phone's own camera comes with the address and is not sent to anybody by that.
      field('code', t('signin.code'), { autocapitalize: 'characters', spellcheck: 'false', value: decodeURIComponent(location.hash.slice(1)) }),
      button('by-code', () => {}, { class: 'main wide', type: 'submit' }, t('signin.join')),
    ),
    h(
      'form',
      { onsubmit: byPassword },
      h('h2', {}, t('signin.by_password')),
      field('login', t('signin.login'), { autocomplete: 'username', autocapitalize: 'none', spellcheck: 'false' }),
      field('password', t('signin.password'), { type: 'password', autocomplete: 'current-password' }),
      button('by-password', () => {}, { class: 'wide', type: 'submit' }, t('signin.enter')),
    ),
  );
}
