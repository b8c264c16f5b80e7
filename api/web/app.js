// Start and addresses. Every screen has an address, so Back works and a link leads to the same screen.

import { changed, onChange, refold } from './entry.js';
import * as rules from './rules.js';
import * as session from './session.js';
import * as shell from './shell.js';
import * as store from './store.js';
import * as sync from './sync.js';
import * as update from './update.js';
import { h } from './dom.js';
import { speakAlso, speakPoints, t } from './words.js';

const ROUTES = [
  [/^\/(?:yard)?$/, 'arrive', []],
  [/^\/yard\/bring$/, 'bring', []],
  [/^\/yard\/([^/]+)(?:\/([^/]+))?(?:\/([^/]+))?$/, 'board', ['yard', 'job', 'hive']],
  [/^\/house$/, 'house', []],
  [/^\/house\/(next)$/, 'house', ['next']],
  [/^\/house\/receive(?:\/([^/]+))?$/, 'receive', ['super']],
  [/^\/house\/moisture(?:\/([^/]+)\/([^/]+))?$/, 'moisture', ['kind', 'id']],
  [/^\/house\/run(?:\/([^/]+))?(?:\/([^/]+))?(?:\/([^/]+))?$/, 'run', ['run', 'step', 'super']],
  [/^\/house\/fill(?:\/([^/]+))?$/, 'fill', ['container']],
  [/^\/house\/warm-room(?:\/([^/]+))?(?:\/([^/]+))?$/, 'warm-room', ['room', 'step']],
  [/^\/house\/checks(?:\/([^/]+))?$/, 'checks', ['meter']],
  [/^\/house\/settle(?:\/([^/]+))?$/, 'settle', ['fill']],
  [/^\/house\/blend(?:\/([^/]+)\/([^/]+))?$/, 'blend', ['kind', 'id']],
  [/^\/house\/bottle(?:\/([^/]+))?(?:\/fill)?$/, 'bottle', ['lot']],
  [/^\/house\/batch\/([^/]+)(?:\/([^/]+))?$/, 'bottle', ['batch', 'step']],
  [/^\/house\/clean$/, 'clean', []],
  [/^\/office$/, 'office/office', []],
  [/^\/office\/begin$/, 'office/begin', []],
  [/^\/office\/set-up(?:\/([^/]+))?(?:\/([^/]+))?$/, 'office/setup', ['what', 'id']],
  [/^\/office\/phones$/, 'office/phones', []],
  [/^\/office\/lots(?:\/([^/]+))?$/, 'office/lots', ['lot']],
  [/^\/office\/stock(?:\/([^/]+))?$/, 'office/stock', ['batch']],
  [/^\/office\/sales(?:\/([^/]+))?$/, 'office/sales', ['delivery']],
  [/^\/office\/orders(?:\/([^/]+))?$/, 'office/orders', ['delivery']],
  [/^\/office\/tell\/([^/]+)\/([^/]+)(?:\/([^/]+))?(?:\/([^/]+))?$/, 'office/tell', ['kind', 'id', 'deed', 'cause']],
  [/^\/office\/entries\/([^/]+)\/([^/]+)(?:\/([^/]+))?$/, 'office/entries', ['kind', 'id', 'entry']],
  [/^\/office\/flags$/, 'office/flags', []],
  [/^\/office\/trace\/([^/]+)\/([^/]+)$/, 'office/trace', ['kind', 'id']],
  [/^\/office\/recall\/([^/]+)\/([^/]+)$/, 'office/recall', ['kind', 'id']],
  [/^\/office\/labels$/, 'office/labels', []],
  [/^\/office\/inputs(?:\/(\d{4}))?(?:\/([^/]+))?$/, 'office/inputs', ['year', 'what']],
  [/^\/office\/season(?:\/(\d{4}))?(?:\/([^/]+))?$/, 'office/season', ['year', 'question']],
  [/^\/(?:find|n)(?:\/([^/]+))?$/, 'find', ['text']],
  [/^\/today\/([^/]+)\/all$/, 'office/amend', ['entry']],
  [/^\/today(?:\/([^/]+))?$/, 'today', ['entry']],
  [/^\/earlier$/, 'earlier', []],
  [/^\/outbox$/, 'outbox', []],
  [/^\/phone$/, 'phone', []],
  [/^\/signs$/, 'office/signs', []],
  [/^\/(?:sign-in|join)$/, 'signin', []],
];

const STATE_SHOWN = new Set(['outbox', 'today', 'arrive']);

let screen = null;
let turn = 0;
let owed = false;

function match(path) {
  for (const [pattern, name, keys] of ROUTES) {
    const found = pattern.exec(path);
    if (found) return [name, Object.fromEntries(keys.map((key, at) => [key, found[at + 1] && decodeURIComponent(found[at + 1])]))];
  }
  return ['arrive', {}];
}

// Draws the screen of the address. `fresh`: somebody came here; else the same screen with newer rows. `gently`: nobody
// asked for it, so it gives way to what was begun to be typed meanwhile.
async function draw(fresh, gently = false) {
  const mine = (turn += 1);
  // One that was overtaken while it was read still owes its arrival.
  fresh ||= owed;
  owed = fresh;
  const path = location.pathname;
  let [name, params] = match(path);
  if (!session.who() && name !== 'phone' && name !== 'outbox') [name, params] = ['signin', {}];
  // The office's screens and words are fetched when somebody first goes there: a phone in a yard needs none of them.
  const office = name.startsWith('office/');
  if (office) await speakAlso('office');
  const { show } = await import(office ? `./${name}.js` : `./screens/${name}.js`);
  // Leaving after something was kept: not if the person has left already.
  const leave = (to, options) => (options?.replace && location.pathname !== path ? undefined : go(to, options));
  const next = await show(params, { go: leave, redraw: () => draw(false), fresh });
  // Somebody went on while this one was being read.
  if (mine !== turn) return;
  owed = false;
  if (next === undefined) return;
  if (gently && !fresh && halfTyped()) return void shell.drawStrip();
  const held = document.activeElement?.dataset?.key ?? document.activeElement?.id;
  const panes = [...shell.main.querySelectorAll('[data-pane]')].map((pane) => [pane.dataset.pane, pane.scrollTop]);
  shell.main.replaceChildren(next);
  shell.main.dataset.screen = name;
  shell.main.dataset.at = path;
  shell.drawBar(path);
  await shell.drawStrip();
  const heading = shell.main.querySelector('h1');
  document.title = heading ? `${heading.textContent} – yardjar` : 'yardjar';
  const first = shell.main.querySelector('[data-first]');
  if (fresh && (name !== screen || first)) {
    shell.main.scrollTop = 0;
    (first ?? heading)?.focus();
  } else {
    for (const [pane, top] of panes) {
      const now = shell.main.querySelector(`[data-pane="${pane}"]`);
      // What a new hive has to show begins at its top.
      if (now && !(fresh && pane === 'pane')) now.scrollTop = top;
    }
    shell.main.querySelector('.hive[aria-pressed="true"]')?.scrollIntoView({ block: 'nearest' });
    if (held) (shell.main.querySelector(`[data-key="${CSS.escape(held)}"]`) ?? document.getElementById(held))?.focus();
  }
  screen = name;
}

export function go(path, { replace = false } = {}) {
  if (path !== location.pathname + location.search) history[replace ? 'replaceState' : 'pushState'](null, '', path);
  if (!replace) shell.quiet();
  return draw(true);
}

// What a field or a list showed before anybody touched it.
const isUntouched = (field) => (field.options ? field.selectedIndex === Math.max(0, [...field.options].findIndex((one) => one.defaultSelected)) : field.value === field.defaultValue);

// Something was typed or chosen and is not saved yet: drawing the screen anew would lose it.
function halfTyped() {
  const typed = (field) => field === document.activeElement || !isUntouched(field);
  return Boolean(shell.main.querySelector('.summary:not([hidden])')) || [...shell.main.querySelectorAll('input, select')].some(typed);
}

function follow(event) {
  const link = event.target.closest?.('a[href]');
  if (!link || event.defaultPrevented || event.button !== 0 || event.ctrlKey || event.metaKey || event.shiftKey) return;
  const url = new URL(link.href);
  if (url.origin !== location.origin || link.hasAttribute('download') || link.getAttribute('href').startsWith('#')) return;
  event.preventDefault();
  go(url.pathname + url.search);
}

// A wedge scanner types without asking where: digits go to the number field of the screen, if nothing else is typed in.
function wedge(event) {
  const typing = event.target.closest?.('input, select, textarea, dialog');
  if (typing || event.ctrlKey || event.metaKey || event.altKey || !/^[0-9a-zA-Z]$/.test(event.key)) return;
  shell.main.querySelector('[data-wedge], .number')?.focus();
}

// What is kept for where there is no network is fetched last: on a slow line it would hold up what somebody waits for.
function keepForLater() {
  const ask = () => navigator.serviceWorker?.controller?.postMessage('keep later');
  ask();
  navigator.serviceWorker?.addEventListener('controllerchange', ask);
  speakPoints();
  update.start(() => changed('rows', false));
}

// Says what cannot work and what to do, in words that need no file but this one.
function cannot(text) {
  document.body.append(h('main', { class: 'cannot' }, h('h1', {}, 'yardjar'), h('p', {}, text)));
}

async function begin() {
  if (!isSecureContext) {
    return cannot('This page was opened over plain http. A browser then keeps nothing for a page that is offline, so nothing could be recorded. Open it by its https address, or on the machine itself by http://localhost.');
  }
  try {
    await store.open();
  } catch (error) {
    return cannot(`The store of this browser cannot be opened (${error?.message}). Close other tabs of yardjar, leave private browsing, then open it again.`);
  }
  const prefs = (await store.meta('prefs')) ?? {};
  await shell.asPreferred(prefs);
  await session.load();
  await shell.build();
  if (store.isBehind()) shell.note(t('say.store_behind'));
  addEventListener('popstate', () => draw(true));
  document.addEventListener('click', follow);
  document.addEventListener('keydown', wedge);
  onChange((what) => {
    // What became of the outbox matters to the strip, and to the screens that tell of it.
    const strip = what === 'state' && !STATE_SHOWN.has(screen);
    return void (strip || halfTyped() ? shell.drawStrip() : draw(false, true));
  });
  await shell.drawUndo();
  const known = session.who();
  await draw(true);
  sync.start();
  try {
    // While somebody types a code, too: afterwards there is nothing to wait for.
    await rules.start();
    if (known) {
      await refold();
      changed('rows', false);
    }
  } catch (error) {
    if (known) {
      console.error(error);
      shell.note(t('say.no_rules'));
    }
  }
  return keepForLater();
}

begin();
