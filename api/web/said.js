// What the rules and the service say, as it is shown: figures in the own units, and where they speak another language
// than the person, first the point of it in the person's, then their words, marked so that they are read out right.

import { h } from './dom.js';
import { foreign, inOwnUnits, pointOf } from './words.js';

// Own words, or { code, rule, sentence } out of the rules, or a fault { title, detail } of the service.
export function said(one) {
  if (typeof one === 'string') return inOwnUnits(one);
  const words = h('span', { lang: foreign() }, inOwnUnits(one.sentence ?? one.detail ?? one.title ?? ''));
  const point = pointOf(`${one.code}.${one.rule}`, one.code);
  return point ? [h('strong', {}, point), ' ', words] : words;
}

// The same where the point says everything there is to say.
export const saidShort = (name, sentence) => pointOf(name) ?? said({ sentence });
