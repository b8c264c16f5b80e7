// Office forms: fields with labels, checked on Save and not while typing; what was typed stays; what is wrong stands
// in a summary above and, in the same words, at the field.

import { button, h, link } from '../dom.js';
import { readNumber } from '../keypad.js';
import * as session from '../session.js';
import { note, record } from '../shell.js';
import { gramsOfTenths, massUnit, moment, number, t, temperatureUnit, tenthsCOf, tenthsOfGrams, tenthsShown } from '../words.js';

// As a heading or the name of a field: the word begins large in every language.
export const headed = (word) => `${word.slice(0, 1).toUpperCase()}${word.slice(1)}`;

export function text(id, label, attributes) {
  return { id, element: wrap(id, label, h('input', { id, name: id, autocomplete: 'off', ...attributes })), read: () => document.getElementById(id).value.trim() };
}

export function select(id, label, options, chosen) {
  const list = h('select', { id, name: id }, options.map(([value, word]) => h('option', { value, selected: value === chosen }, word)));
  return { id, element: wrap(id, label, list), read: () => document.getElementById(id).value };
}

const wrap = (id, label, control) => {
  control.setAttribute('aria-describedby', `${id}-wrong`);
  return h('div', { class: 'field' }, h('label', { for: id }, label), control, h('span', { id: `${id}-wrong`, class: 'wrong' }));
};

// A number as people type it. Answers [value, what is wrong].
export function typedNumber(typed, name) {
  const said = readNumber(typed);
  if (said.nothing) return [undefined, t('form.missing', { name })];
  if (said.doubtful) return [undefined, t('form.two_marks', { name, typed })];
  if (said.unread) return [undefined, t('form.no_number', { name, typed })];
  return [said.value, null];
}

// `check()` answers { wrong: { id: sentence }, ...whatever save needs }; `save` gets it if nothing is wrong.
export function form(id, title, fields, { check, save, act }) {
  const summary = h('div', { class: 'summary', tabindex: '-1', hidden: true });
  const submit = async (event) => {
    event.preventDefault();
    const read = check();
    for (const field of fields) {
      const wrong = read.wrong[field.id];
      document.getElementById(`${field.id}-wrong`).textContent = wrong ?? '';
      document.getElementById(field.id).setAttribute('aria-invalid', String(Boolean(wrong)));
    }
    const wrongs = Object.entries(read.wrong).filter(([, wrong]) => wrong);
    summary.hidden = wrongs.length === 0;
    summary.replaceChildren(
      h('p', {}, t('form.summary', { n: wrongs.length })),
      h('ul', {}, wrongs.map(([field, wrong]) => h('li', {}, h('a', { href: `#${field}`, onclick: (click) => focus(click, field) }, wrong)))),
    );
    if (wrongs.length > 0) return summary.focus();
    return save(read);
  };
  const focus = (click, field) => {
    click.preventDefault();
    document.getElementById(field).focus();
  };
  return h('form', { id, onsubmit: submit, novalidate: true }, title && h('h2', {}, title), summary, fields.map((field) => field.element), button(`${id}-save`, () => {}, { type: 'submit', class: 'main' }, act));
}

// The same out of a list: [key, type, options] each, answered under these keys as the wire wants them. What is left
// empty is absent. Types: text, date, yes, one (of a list; with `ask` none is chosen beforehand), pieces, jars, and those
// of TYPED.
const TYPED = {
  number: (value) => value,
  count: (value) => Math.round(value),
  mass: (value) => gramsOfTenths(value * 10),
  grams: (value) => Math.round(value),
  litres: (value) => Math.round(value * 1000),
  percent: (value) => Math.round(value * 100),
  money: (value) => Math.round(value * 100),
  minutes: (value) => Math.round(value * 60),
  tenths: (value) => Math.round(value * 10),
  temperature: (value) => tenthsCOf(Math.round(value * 10)),
  index: (value) => Math.round(value * 10000),
  degrees: (value) => Math.round(value * 100000),
};
export const unitOf = (type) => ({ mass: massUnit(), temperature: temperatureUnit(), grams: 'g', litres: 'l', percent: '%', minutes: 'h', degrees: '°' })[type];

// How a kept value stands in its field.
export function shownAs(type, value) {
  if (value === undefined || value === null) return '';
  switch (type) {
    case 'mass': return number(tenthsOfGrams(value) / 10, 1);
    case 'litres': return number(value / 1000, value % 1000 ? 1 : 0);
    case 'percent': case 'money': return number(value / 100, 2);
    case 'minutes': return number(value / 60, 2);
    case 'tenths': return number(value / 10, 1);
    case 'temperature': return number(tenthsShown(value) / 10, 1);
    case 'index': return number(value / 10000, 4);
    case 'degrees': return number(value / 100000, 5);
    case 'yes': return value ? 'yes' : 'no';
    default: return String(value);
  }
}

function one(formId, [key, type, more = {}]) {
  const id = `${formId}-${key}`;
  const unit = unitOf(type);
  const label = headed(more.label ?? t(`field.${more.called ?? key}`));
  const name = unit ? t('form.in_unit', { name: label, unit }) : label;
  const needs = more.needs ? { required: true } : {};
  if (type === 'one') return { ...select(id, name, [...(more.needs && !more.ask ? [] : [['', t('unit.none')]]), ...more.list], more.value), label };
  if (type === 'yes') return { ...select(id, name, [['', t('unit.none')], ['yes', t('chip.yes')], ['no', t('chip.no')]].slice(more.needs ? 1 : 0), shownAs('yes', more.value ?? more.needs)), label };
  const typed = type === 'date' ? { type: 'date' } : type in TYPED ? { inputmode: type === 'count' ? 'numeric' : 'decimal' } : {};
  return { ...text(id, name, { ...typed, ...needs, type: more.secret ? 'password' : typed.type, value: shownAs(type, more.value) }), label };
}

// 100 pieces, 500 ml or 30 g: how packs of medicine are counted.
function readAmount(typed, name) {
  const unit = /(ml|g)\s*$/i.exec(typed)?.[1].toLowerCase();
  const [value, wrong] = typedNumber(typed, name);
  if (wrong) return [undefined, wrong];
  if (unit === 'ml') return [{ tenths_ml: Math.round(value * 10) }, null];
  return [unit === 'g' ? { tenths_g: Math.round(value * 10) } : { pieces: Math.round(value) }, null];
}

// 500 g 60 %, 250 g 25 %: sizes of jars and the share of the honey that goes into each.
function readJars(typed, name) {
  const said = typed.split(/[,;]/).map((part) => [part, /^\s*(\d+)\s*g?[\s:]+(\d+)\s*%?\s*$/.exec(part)]);
  const unread = said.find(([, read]) => !read);
  if (unread) return [undefined, t('form.no_jars', { name, typed: unread[0].trim() })];
  return [said.map(([, [, size, share]]) => ({ size_g: Number(size), share_percent: Number(share) })), null];
}

// Weights of full jars in grams, typed one after the other: 501.2 499.8 500.3.
function readWeights(typed, name) {
  const read = typed.split(/[\s;/]+/).filter(Boolean).map((part) => typedNumber(part, name));
  return [read.map(([value]) => Math.round(value * 10)), read.find(([, wrong]) => wrong)?.[1] ?? null];
}

function readOne([, type, more = {}], field) {
  const typed = field.read();
  if (typed === '') return [undefined, more.needs && t(type === 'one' ? 'form.choose' : 'form.missing', { name: field.label })];
  if (type === 'weights') return readWeights(typed, field.label);
  if (type === 'pieces') return readAmount(typed, field.label);
  if (type === 'jars') return readJars(typed, field.label);
  if (type === 'yes') return [typed === 'yes', null];
  if (!(type in TYPED)) return [typed, null];
  const [value, wrong] = typedNumber(typed, field.label);
  return [wrong ? undefined : TYPED[type](value), wrong];
}

// `save(data)` gets what was read, without what was left empty.
export function quick(id, title, spec, { save, act, check }) {
  const fields = spec.map((line) => one(id, line));
  const read = () => {
    const wrong = {};
    const data = {};
    spec.forEach((line, at) => {
      const [value, why] = readOne(line, fields[at]);
      if (why) wrong[fields[at].id] = why;
      if (value !== undefined) data[line[0]] = value;
    });
    for (const [key, why] of Object.entries(check?.(data) ?? {})) if (why) wrong[`${id}-${key}`] ??= why;
    return { wrong, data };
  };
  return form(id, title, fields, { check: read, save: ({ data }) => save(data), act });
}

// Writes an entry and draws the screen anew.
export const saved = async (wishes, say, view) => {
  if (await record(wishes, say, { house: true })) view.redraw();
};

// Tells the service itself what only it can judge or write; answers what it said, or null with the reason on the screen.
export async function tellService(path, body, method = 'POST') {
  try {
    const answer = await session.call(method, path, body);
    if (answer.status < 300) return answer.body ?? {};
    note(answer.body.type === 'confirmation-needed' ? t('phones.password_needed') : answer.body);
  } catch (error) {
    note(error instanceof session.NoSignal ? t('office.needs_signal') : t('say.not_ours'));
  }
  return null;
}

export async function askService(path) {
  try {
    const answer = await session.call('GET', path);
    return answer.status === 200 ? answer.body : null;
  } catch {
    return null;
  }
}

// What is rare stands behind a word; opened, it stays so when the screen is drawn anew.
const unfolded = new Set();
export function behind(word, ...content) {
  const key = `${location.pathname} ${word}`;
  const toggled = ({ target }) => unfolded[target.open ? 'add' : 'delete'](key);
  return h('details', { open: unfolded.has(key), ontoggle: toggled }, h('summary', {}, word), content);
}

// A page of the office: a heading, what it shows, and the way back.
export const page = (title, ...content) =>
  h(
    'div',
    { class: 'page office' },
    // On paper it stands above every page.
    h('div', { class: 'print-head', 'aria-hidden': 'true' }, [session.who()?.names?.operation, title, moment(new Date()), session.isInvented() && t('strip.invented')].filter(Boolean).join(' · ')),
    h('h1', { tabindex: '-1' }, title),
    content,
    h('p', { class: 'lines no-print' }, link('/office', { class: 'line' }, t('office.title'))),
  );

// More columns are not read side by side there.
const MOST_ON_A_PHONE = 3;
const isNothing = (content) => [content].flat(Infinity).every((part) => !part || (typeof part === 'string' && ['', t('unit.none')].includes(part.trim())));

// `within` tells tables apart that bear one caption on a screen. On a phone a row of many cells stands as a card, unless
// rows are to be `compared`: then they are pushed sideways under their names. The roles hold when cards are no table to
// the browser any more.
export function table(caption, columns, rows, { within, compared = false, cards = !compared && columns.length > MOST_ON_A_PHONE } = {}) {
  const shape = (at) => columns[at]?.[1] && 'figure';
  const heads = columns.map(([column]) => headed(column));
  const cell = (content, at) => (at === 0 ? h('th', { role: 'rowheader', scope: 'row', class: shape(at) }, content) : h('td', { role: 'cell', class: [shape(at), isNothing(content) && 'nothing'].filter(Boolean).join(' ') || null, 'data-of': heads[at] || null }, content));
  return h(
    'div',
    { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': within ? `${within} ${caption}` : caption },
    h(
      'table',
      { role: 'table', class: cards ? 'cards' : compared && 'compared' },
      h('caption', {}, caption),
      h('thead', { role: 'rowgroup' }, h('tr', { role: 'row' }, heads.map((head, at) => h('th', { role: 'columnheader', scope: 'col', class: shape(at) }, head)))),
      h('tbody', { role: 'rowgroup' }, rows.map((cells) => h('tr', { role: 'row' }, cells.map(cell)))),
    ),
  );
}
