// The number pad. The point is already placed, so that a glove types 2 1 4 and reads 21.4. It writes into a real
// field, so that a keyboard, a wedge scanner and a screen reader do the same.

import { button, h } from './dom.js';
import { decimalMark, massUnit, t, tenthsOfGrams } from './words.js';

const DIGITS_MOST = 6;

// Where a scale that sends listens for pads that ask for a weight.
let weighing;
export const onWeighing = (listen) => (weighing = listen);

// `places`: digits after the point; `before`: what stands before it already (the 1 of a refractive index).
// `done(value)` gets the typed whole number, or null if nothing was typed.
export function keypad({ name, label, unit, places, before = '', next, done, extra = [], system = false }) {
  let digits = '';
  // What a scale sent, as long as nobody typed.
  let sent = null;
  let typed = false;
  const field = h('input', {
    id: name,
    name,
    class: 'number',
    inputmode: system ? 'decimal' : 'none',
    autocomplete: 'off',
    enterkeyhint: 'next',
    'aria-describedby': `${name}-unit`,
  });
  const show = () => {
    const mark = decimalMark();
    if (places === 0) field.value = digits;
    else if (before) field.value = digits === '' ? '' : `${before}${mark}${digits.padEnd(places, '–')}`;
    else if (digits === '') field.value = '';
    else {
      const full = digits.padStart(places + 1, '0');
      field.value = `${full.slice(0, -places)}${mark}${full.slice(-places)}`;
    }
  };
  const type = (digit) => {
    if (sent !== null) digits = '';
    [sent, typed] = [null, true];
    const most = before ? places : DIGITS_MOST;
    if (digits.length < most && !(digits === '' && digit === '0' && !before && places > 0)) digits += digit;
    show();
  };
  const rub = () => {
    [sent, typed] = [null, true];
    digits = digits.slice(0, -1);
    show();
  };
  const value = () => sent ?? (digits === '' ? null : Number(digits));
  const finish = () => done(before && digits.length > 0 && digits.length < places ? null : value());
  field.addEventListener('keydown', (event) => {
    if (/^[0-9]$/.test(event.key)) type(event.key);
    else if (event.key === 'Backspace') rub();
    else if (event.key === 'Enter') finish();
    else if (event.key.length > 1 || event.ctrlKey || event.metaKey) return;
    event.preventDefault();
  });
  // Pasted, or typed by a keyboard that sends no keys: only the digits count.
  field.addEventListener('input', () => {
    [sent, typed] = [null, true];
    digits = field.value.replace(/\D/g, '').slice(before ? before.length : 0, DIGITS_MOST);
    show();
  });
  const key = (digit) => button(`key-${digit}`, () => type(digit), { class: 'key', repeats: true }, digit);
  const keys = [
    ...'123456789'.split('').map(key),
    extra[0] ?? h('span', {}),
    key('0'),
    button('key-rub', rub, { class: 'key', repeats: true, 'aria-label': t('key.rub') }, '⌫'),
  ];
  const element = h(
    'div',
    { class: 'keypad' },
    h('label', { for: name, class: 'keypad-label' }, label),
    h('div', { class: 'keypad-field' }, field, h('span', { id: `${name}-unit`, class: 'unit' }, unit)),
    system ? null : h('div', { class: 'keys' }, keys),
    system ? extra[0] : null,
    button(`${name}-next`, finish, { class: 'main wide' }, next),
  );
  const take = (grams) => {
    if (typed || !field.isConnected) return;
    sent = tenthsOfGrams(grams, false);
    digits = String(Math.round(sent));
    show();
  };
  if (unit === massUnit() && places === 1) weighing?.(take);
  return { element, field, value, set: (text) => ((digits = text), show()) };
}

// Words typed in the office: comma or point, blanks, a unit behind it. Two different marks are asked about.
export function readNumber(text) {
  const bare = text.replace(/[\s\u00a0\u202f']/g, '').replace(/[a-zA-Z%°]+$/, '');
  if (bare === '') return { nothing: true };
  if (!/^[+-]?[\d.,]+$/.test(bare)) return { unread: true };
  const marks = new Set(bare.replace(/[^.,]/g, ''));
  if (marks.size > 1 || bare.replace(/[^.,]/g, '').length > 1) return { doubtful: true };
  return { value: Number(bare.replace(',', '.')) };
}
