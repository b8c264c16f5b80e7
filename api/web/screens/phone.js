// This phone: whose it is, whether it is installed and its storage kept, language, units, the keypad.

import { button, h, link } from '../dom.js';
import { changed } from '../entry.js';
import * as install from '../install.js';
import * as session from '../session.js';
import { asPreferred, note } from '../shell.js';
import * as store from '../store.js';
import { currentLanguage, currentUnits, languages, number, t } from '../words.js';

const MEGABYTE = 1e6;

async function setPrefs(change, view) {
  const prefs = { ...((await store.meta('prefs')) ?? {}), ...change };
  await store.setMeta('prefs', prefs);
  await asPreferred(prefs);
  changed('rows');
  view.redraw();
}

function chips(id, legend, values, chosen, choose, word) {
  const chip = (value) => button(`${id}-${value}`, () => choose(value), { class: 'chip', 'aria-pressed': String(value === chosen) }, word(value));
  return h('fieldset', { class: 'chips' }, h('legend', {}, legend), values.map(chip));
}

async function keepStorage(view) {
  note(t((await install.keep()) ? 'phone.kept_now' : 'phone.kept_refused'));
  view.redraw();
}

async function leave(view) {
  const waiting = await store.outboxCount('to_send');
  if (waiting > 0) return note(t('phone.leave_waits', { n: waiting }));
  try {
    await session.leave();
  } catch {
    return note(t('phone.leave_signal'));
  }
  await store.clear();
  session.forgetDevice();
  location.assign('/sign-in');
  return undefined;
}

// A scale that sends, where the browser can listen to one.
async function scaleSection(view) {
  if (!('bluetooth' in navigator || 'hid' in navigator)) return null;
  const scales = await import('../scales.js');
  const connect = async (way) => {
    const said = await scales.connect(way);
    await view.redraw();
    note(said);
  };
  return h('fieldset', { class: 'chips' }, h('legend', {}, t('scale.title')), h('p', {}, scales.connected() ? t('scale.connected', { name: scales.connected() }) : t('scale.hint')), scales.can().map((way) => button(`scale-${way}`, () => connect(way), { class: 'chip' }, t(`scale.${way}`))));
}

export async function show(params, view) {
  const kept = await navigator.storage?.persisted?.();
  const space = await navigator.storage?.estimate?.();
  const prefs = (await store.meta('prefs')) ?? {};
  const who = session.who();
  const version = new URL(import.meta.url).pathname.split('/')[2];
  const said = (term, text) => [h('dt', {}, term), h('dd', {}, text)];
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('phone.title')),
    h(
      'dl',
      {},
      who?.names && said(t('phone.whose'), t('office.who', { person: who.names.person, operation: who.names.operation, role: t(`role.${who.role}`) })),
      said(t('phone.installed'), t(install.isInstalled() ? 'chip.yes' : 'phone.install')),
      said(t('phone.kept'), t(kept ? 'phone.kept_yes' : 'phone.kept_no')),
      space && said(t('phone.space'), t('phone.used', { used: number(space.usage / MEGABYTE, 1), quota: number(space.quota / MEGABYTE) })),
      said(t('phone.version'), version),
    ),
    install.card(),
    !kept && button('persist', () => keepStorage(view), { class: 'wide' }, t('phone.keep')),
    chips('language', t('phone.language'), languages, currentLanguage(), (language) => setPrefs({ language }, view), (language) => t(`language.${language}`)),
    chips('mass', t('phone.mass'), ['kg', 'lb'], currentUnits().mass, (mass) => setPrefs({ units: { ...currentUnits(), mass } }, view), (mass) => mass),
    chips('temperature', t('phone.temperature'), ['c', 'f'], currentUnits().temperature, (temperature) => setPrefs({ units: { ...currentUnits(), temperature } }, view), (unit) => (unit === 'c' ? '°C' : '°F')),
    chips('keypad', t('phone.keypad'), ['own', 'system'], prefs.keypad ?? 'own', (keypad) => setPrefs({ keypad }, view), (keypad) => t(`phone.keypad_${keypad}`)),
    chips('hand', t('phone.hand'), ['right', 'left'], prefs.hand ?? 'right', (hand) => setPrefs({ hand }, view), (hand) => t(`phone.hand_${hand}`)),
    chips('sound', t('phone.sound'), [false, true], Boolean(prefs.sound), (sound) => setPrefs({ sound }, view), (sound) => t(sound ? 'phone.sound_on' : 'phone.sound_off')),
    await scaleSection(view),
    who ? button('leave', () => leave(view), { class: 'wide' }, t('phone.leave')) : link('/sign-in', { class: 'act' }, t('signin.title')),
  );
}
