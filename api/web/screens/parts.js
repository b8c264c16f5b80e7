// What screens of the house share: a page with its heading and the way back, a pad for a weight or a number, a link row.

import { h, link } from '../dom.js';
import { keypad } from '../keypad.js';
import { said } from '../said.js';
import { note } from '../shell.js';
import { gramsOfTenths, massUnit, t } from '../words.js';

export const page = (title, back, ...children) =>
  h('div', { class: 'page' }, h('h1', { tabindex: '-1' }, title), children, back && link(back[0], { class: 'line' }, back[1]));

export function padPage(title, pad, ...before) {
  pad.field.dataset.first = '1';
  return h('div', { class: 'pad-page' }, h('h1', { tabindex: '-1' }, title), before, pad.element);
}

// A weight on the pad, one decimal; `done(grams)`.
export const weightPad = (name, label, done, { next = t('act.next'), extra, missing = t('say.weight_missing_plain') } = {}) =>
  keypad({ name, label, unit: massUnit(), places: 1, next, extra, done: (tenths) => (tenths === null ? note(missing) : done(gramsOfTenths(tenths))) });

// A whole number on the pad; `done(number)`.
export const countPad = (name, label, unit, done, { next = t('act.next'), extra } = {}) =>
  keypad({ name, label, unit, places: 0, next, extra, done: (typed) => (typed === null ? note(t('say.number_missing_plain')) : done(typed)) });

export const to = (path, name, more, ...tags) =>
  link(path, { class: 'row-link' }, h('span', { class: 'row-name' }, name), more && h('span', { class: 'row-more' }, more), tags);

// Reasons and cautions as the rules say them.
export const sentences = (list) => h('ul', { class: 'plain said' }, (list ?? []).map((one) => h('li', {}, said(one))));

export const notReckoned = (answer) => answer.not_reckoned && h('p', { class: 'told' }, said(answer.not_reckoned));
