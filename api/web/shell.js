// What is on every screen: the strip with place and outbox, the bar with the four rooms, messages, questions, undo.

import { button, h, link } from './dom.js';
import { tell } from './entry.js';
import * as photos from './photos.js';
import { said } from './said.js';
import * as session from './session.js';
import * as store from './store.js';
import * as sync from './sync.js';
import { shape } from './tags.js';
import { earlier, writeForNow } from './when.js';
import { clock, moment, speak, t } from './words.js';

const strip = h('header', { class: 'strip' });
const invented = h('aside', { class: 'invented' });
const past = h('aside', { class: 'past' });
export const main = h('main', { id: 'main', tabindex: '-1' });
const messages = h('div', { class: 'messages', role: 'status' });
const undoBar = h('div', { class: 'undo' });
const bar = h('nav', { class: 'bar' });

let place = null;

export async function setPlace(yard) {
  place = yard;
  await store.setMeta('place', yard);
  await drawStrip();
}
export const currentPlace = () => place;

async function outboxWord() {
  const [toSend, notTaken] = [await store.outboxCount('to_send'), await store.outboxCount('not_taken')];
  if (notTaken > 0) return ['not_taken', t('strip.not_taken', { n: notTaken })];
  if (toSend > 0) return ['to_send', t('strip.to_send', { n: toSend })];
  const at = await store.meta('sent_at');
  return ['sent', at ? t('strip.sent_at', { time: clock(at) }) : t('strip.sent')];
}

export async function drawStrip() {
  document.body.dataset.phase = sync.currentPhase();
  invented.textContent = t('strip.invented');
  invented.hidden = !session.isInvented();
  drawEarlier();
  if (!session.who()) return strip.replaceChildren(h('span', { class: 'strip-place' }, 'yardjar'));
  const [state, word] = await outboxWord();
  const name = place?.label ?? t('strip.no_place');
  return strip.replaceChildren(
    link('/yard', { class: 'strip-place' }, name),
    link('/outbox', { class: 'strip-outbox', 'data-state': state }, shape(state), h('span', {}, word)),
  );
}

// Whoever writes down what happened earlier sees it on every screen, and ends it there.
export function drawEarlier() {
  const at = earlier();
  past.hidden = !at || !session.who();
  if (past.hidden) return;
  const end = () => {
    writeForNow();
    drawEarlier();
  };
  past.replaceChildren(h('span', {}, t('earlier.bar', { at: moment(at) })), button('earlier-end', end, {}, t('earlier.end')));
}

const ROOMS = ['yard', 'house', 'office', 'find'];

export function drawBar(path) {
  bar.hidden = !session.who();
  const here = path === '/' ? 'yard' : path.split('/')[1];
  bar.setAttribute('aria-label', t('bar.label'));
  const to = (room) => (room === 'yard' && place ? `/yard/${place.id}` : `/${room}`);
  bar.replaceChildren(
    ...ROOMS.map((room) => link(to(room), { 'aria-current': here === room ? 'page' : null }, t(`bar.${room}`))),
  );
}

// Messages stay until the next one; nothing that is said disappears by itself.
export function note(...lines) {
  messages.replaceChildren(...lines.filter(Boolean).map((line) => h('p', {}, said(line))));
}

export const quiet = () => messages.replaceChildren();

// A question in front of everything else. Resolves to the value of the answer touched; Escape answers `left`.
export function choose(title, lines, answers, left) {
  return new Promise((resolve) => {
    const answer = (value) => () => {
      dialog.close();
      dialog.remove();
      resolve(value);
    };
    const dialog = h(
      'dialog',
      { 'aria-labelledby': 'ask-title' },
      h('h2', { id: 'ask-title' }, title),
      lines.length > 0 && h('ul', { class: 'plain' }, lines.map((line) => h('li', {}, said(line)))),
      h('div', { class: 'pair' }, answers.map(([key, value, word], at) => button(key, answer(value), { class: at === 0 && 'main' }, word))),
    );
    dialog.addEventListener('cancel', answer(left));
    document.body.append(dialog);
    dialog.showModal();
  });
}

export const ask = (lines, { yes, no, title }) =>
  choose(title, lines, [['ask-no', false, no], ['ask-yes', true, yes]], false);

const askDoubt = (lines, refused) =>
  ask(lines, {
    title: t(refused ? 'ask.against' : 'ask.doubt'),
    no: t('ask.back'),
    yes: t(refused ? 'ask.anyway' : 'ask.record'),
  });

const complain = (bad) => note(t('say.bad_field', { detail: bad?.detail ?? '' }));

// Sound only repeats what the screen says, for who wants it.
async function sounds(doubtful) {
  if ((await store.meta('prefs'))?.sound) (await import('./sound.js')).play(doubtful);
}

const isFull = (error) => error?.name === 'QuotaExceededError';

// Tells what happened and says so; null if it was not written, with the reason on the screen.
export async function record(wishes, say, { house = false } = {}) {
  const write = () => tell(wishes, { say, house, ask: askDoubt, complain });
  try {
    let dropped = 0;
    const told = await write().catch(async (error) => {
      dropped = isFull(error) ? await photos.drop() : 0;
      if (dropped === 0) throw error;
      return write();
    });
    if (!told) return null;
    note(dropped > 0 && t('photo.dropped', { n: dropped }), ...told.doubts);
    showUndo({ say, ids: told.entries.map((entry) => entry.id) });
    sounds(told.doubts.length > 0).catch(console.error);
    sync.soon();
    return told;
  } catch (error) {
    note(isFull(error) ? t('say.full') : t('say.not_kept', { reason: String(error?.message ?? error) }));
    if (!isFull(error)) console.error(error);
    return null;
  }
}

export const drawUndo = async () => showUndo(await store.meta('undo'));

function showUndo(kept) {
  const shows = kept?.ids && session.who();
  undoBar.hidden = !shows;
  if (!shows) return undoBar.replaceChildren();
  const undo = kept.undone
    ? null
    : button(`undo-${kept.ids[0]}`, () => takeBack(kept.ids, kept.say), { class: 'undo-act' }, t('undo.act'));
  return undoBar.replaceChildren(h('span', { class: 'undo-say' }, kept.say), undo);
}

// An undo is an entry of its own: what was told is kept, and that it was taken back is kept too.
export async function takeBack(ids, say) {
  const done = t('undo.done', { what: say });
  const wishes = ids.map((id) => ({ kind: 'voided', data: { entry_id: id, reason: t('undo.reason') }, say: done }));
  const told = await record(wishes, done);
  if (!told) return false;
  const sent = (await Promise.all(ids.map(store.outboxEntry))).some((entry) => entry?.state !== 'to_send');
  if (sent) note(t('undo.after_sending'));
  await store.setMeta('undo', { say: done, ids: told.entries.map((entry) => entry.id), undone: true });
  await drawUndo();
  return true;
}

// Language, units and hand as this person set them here.
export async function asPreferred({ language, units, hand }) {
  await speak(language ?? navigator.language.slice(0, 2), units);
  document.body.dataset.hand = hand ?? 'right';
}

export async function build() {
  place = (await store.meta('place')) ?? null;
  document.body.append(
    link('#main', { class: 'skip' }, t('bar.skip')),
    strip,
    invented,
    past,
    main,
    h('footer', { class: 'foot' }, messages, undoBar, bar),
  );
}
