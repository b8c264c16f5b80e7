// The balance of a run while it goes on. The rules say whether it adds up; here it becomes words, not only a colour.

import { h } from '../dom.js';
import * as rules from '../rules.js';
import { tag } from '../tags.js';
import { mass, percent, t } from '../words.js';

const BAND = { green: 'sent', amber: 'check', red: 'not_taken' };

export function balance(run, supers, fillingIn) {
  const fillings = supers.map((one) => fillingIn(one, run)).filter(Boolean);
  const missing = fillings.filter((filling) => !filling.full || !filling.wet).length;
  const total = (pick) => fillings.reduce((sum, filling) => sum + (pick(filling) ?? 0), 0);
  const head = [
    h('h2', { id: 'balance' }, t('balance.title')),
    h('p', {}, t('balance.weights', { full: mass(total((filling) => filling.full?.gross_g)), wet: mass(total((filling) => filling.wet?.gross_g)) })),
  ];
  if (fillings.length === 0) return h('section', { 'aria-labelledby': 'balance' }, h('h2', { id: 'balance' }, t('balance.title')), h('p', {}, t('balance.empty')));
  const worked = (rules.isReady() && rules.balance(run.id)) || {};
  if (missing > 0 || worked.band === undefined) {
    return h('section', { 'aria-labelledby': 'balance' }, head, h('p', {}, missing > 0 ? t('balance.missing', { n: missing }) : t('balance.not_yet')));
  }
  const share = percent(worked.unexplained_share_bp, 2);
  return h(
    'section',
    { 'aria-labelledby': 'balance' },
    head,
    h('p', { class: 'big' }, t('balance.net', { net: mass(worked.net_g), accounted: mass(worked.accounted_g) })),
    h('p', {}, tag(BAND[worked.band], t(`balance.${worked.band}`)), ' ', t('balance.unexplained', { mass: mass(worked.unexplained_g), share })),
    h('ul', { class: 'plain' }, (worked.warnings ?? []).map((warning) => h('li', {}, t(`balance.${warning}`)))),
  );
}
