// What each sign and each figure means, in the words and units of whoever asks.

import { h, link } from '../dom.js';
import { tag } from '../tags.js';
import { currentLanguage, massUnit, speakAlso, t } from '../words.js';
import * as forms from './forms.js';

const SIGNS = ['hold', 'disputed', 'flag', 'check', 'to_send', 'sent', 'kept', 'not_taken', 'other'];
// The triangle bears many words; these it bears most often.
const BEARS = { check: 'tag.late' };
const LETTERS = ['csf', 'pc', 'a', 'b', 'c', 'd'];
const FIGURE = 'figure.';

// The words themselves tell which figures there are, so none can be forgotten here.
async function figures() {
  const file = await fetch(new URL(`../strings/office-${currentLanguage()}.json`, import.meta.url));
  const keys = Object.keys(await file.json());
  return keys.filter((key) => key.startsWith(FIGURE)).map((key) => key.slice(FIGURE.length));
}

// Figures of one name stand together, and what means the same is said once.
function meanings(names, said) {
  const found = new Map();
  for (const name of names) {
    const shown = t(`${FIGURE}${name}`);
    found.set(shown, (found.get(shown) ?? new Set()).add(t(`means.${name}`, said)));
  }
  const { compare } = new Intl.Collator(currentLanguage());
  return [...found].sort(([a], [b]) => compare(a, b));
}

export async function show() {
  await speakAlso('signs');
  // Other screens by the names they bear there.
  const said = { mass: massUnit(), flags: t('flags.title'), inputs: t('inputs.title'), limits: t('limits.title'), outbox: t('outbox.title') };
  const all = meanings(await figures(), said);
  return forms.page(
    t('signs.title'),
    h('h2', {}, t('signs.tags')),
    h('dl', {}, SIGNS.map((name) => [h('dt', {}, tag(name, t(BEARS[name] ?? `tag.${name}`, { reason: t('signs.why') }))), h('dd', {}, t(`sign.${name}`, said))])),
    h('h2', {}, t('season.words')),
    h('ul', { class: 'plain stack' }, LETTERS.map((key) => h('li', {}, t(`season.explain.${key}`)))),
    h('h2', {}, t('signs.figures')),
    h('p', {}, t('signs.brackets')),
    h('dl', {}, all.map(([name, texts]) => [h('dt', {}, name), [...texts].map((text) => h('dd', {}, text))])),
    h('p', { class: 'lines no-print' }, link('/office/season', { class: 'line' }, t('season.title')), link('/yard', { class: 'line' }, t('bar.yard'))),
  );
}
