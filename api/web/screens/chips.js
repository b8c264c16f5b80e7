// A choice of a few words. Touching what is chosen takes it back, so that "not looked" can be said again.

import { button, h } from '../dom.js';
import { t } from '../words.js';

// `values`: what can be said; `now`: what is; `choose(value)`: with undefined where it is taken back.
export function chips(name, legend, values, now, choose, word, { keep = false, not = t('chip.not_looked') } = {}) {
  const chip = (value) =>
    button(
      `chip-${name}-${value}`,
      () => choose(now === value && !keep ? undefined : value),
      { class: 'chip', 'aria-pressed': String(now === value) },
      word(value),
    );
  return h('fieldset', { class: 'chips' }, h('legend', {}, legend, ' ', now === undefined && not && h('span', {}, not)), values.map(chip));
}

export const yesNo = (value) => t(value ? 'chip.yes' : 'chip.no');
