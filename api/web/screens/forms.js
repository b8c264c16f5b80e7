// Office forms: fields with labels, checked on Save and not while typing; what was typed stays; what is wrong stands
// in a summary above and, in the same words, at the field.

import { button, h } from '../dom.js';
import { readNumber } from '../keypad.js';
import { t } from '../words.js';

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
  return h('form', { id, onsubmit: submit, novalidate: true }, h('h2', {}, title), summary, fields.map((field) => field.element), button(`${id}-save`, () => {}, { type: 'submit', class: 'main' }, act));
}
