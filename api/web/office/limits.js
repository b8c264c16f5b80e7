// Profile and limits: whose law holds, the house's own limit, how long holds last where no label says so, and each value
// of the profile with its text, to be changed and set back.

import { h, link } from '../dom.js';
import * as session from '../session.js';
import { note, record } from '../shell.js';
import * as sync from '../sync.js';
import { day, known, percent, t } from '../words.js';
import * as forms from './forms.js';

let kept = null;

const told = async (path, body, view) => {
  const written = await forms.tellService(path, body);
  if (!written) return;
  note(t('limits.written'), ...(written.warnings ?? []));
  kept = null;
  sync.soon(0);
  view.redraw();
};

// How each kind of value is typed; the rules say which key takes which.
const CONTENT = ['average_eu', 'average_uk', 'minimum'];
const DUTIES = ['always', 'unless_dated_to_the_day', 'not_generally'];
const words = (list, say) => list.map((word) => [word, t(`${say}.${word}`)]);
const TYPED = {
  moisture_hundredths: ['percent', () => ({})],
  months: ['count', () => ({})],
  days: ['count', () => ({})],
  hours: ['count', () => ({})],
  yes: ['yes', () => ({})],
  net_content: ['one', () => ({ list: words(CONTENT, 'content_rule') })],
  lot_code: ['one', () => ({ list: words(DUTIES, 'lot_code_duty') })],
};

// Tagged by its unit, but for one that has none.
const partsOf = (value) => (typeof value === 'string' ? [value] : Object.entries(value)[0]);

function said(value) {
  const [unit, amount] = partsOf(value);
  if (unit === 'moisture_hundredths') return percent(amount);
  if (unit === 'yes') return t(amount ? 'chip.yes' : 'chip.no');
  if (unit === 'net_content') return t(`content_rule.${amount}`);
  if (unit === 'lot_code') return t(`lot_code_duty.${amount}`);
  return t(`limits.unit.${unit}`, { n: amount });
}

const meaning = (one) => (known(`value.${one.key}`) ? t(`value.${one.key}`) : one.means);
const sourceOf = ({ source }) => [[source.text, source.place].filter(Boolean).join(', '), known(`sure.${source.sure}`) && t(`sure.${source.sure}`)].filter(Boolean).join('; ');

async function change(one, value, reason, view) {
  const data = { operation_id: session.who().operation_id, profile: kept.profile, key: one.key, ...(value === undefined ? {} : { value }), reason };
  const say = value === undefined ? t('limits.set_back', { what: meaning(one) }) : t('limits.now', { what: meaning(one), value: said(value) });
  if (!(await record([{ kind: 'profile_value_changed', data }], say, { house: true }))) return;
  kept = null;
  note(t('limits.after_sending'));
  view.go('/office/set-up/limits', { replace: true });
}

function valueForm(one, view) {
  const [unit] = partsOf(one.text_value);
  // An answer is due when asked for, or within hours.
  const asked = unit === 'on_demand' || one.key === 'request_answer';
  const [type, more] = TYPED[asked ? 'hours' : unit];
  const name = asked ? 'hours' : unit;
  const [now, amount] = partsOf(one.value);
  const spec = [
    ['value', type, { ...more(), needs: !asked, value: now === name ? amount : undefined, label: t(`limits.typed.${name}`) }],
    ['reason', 'text', { needs: true, label: t('limits.reason') }],
  ];
  const save = ({ value, reason }) => change(one, value === undefined ? 'on_demand' : { [name]: value }, reason, view);
  return forms.quick('value-form', t('limits.change'), spec, { save, act: t('act.save') });
}

function onePage(one, view) {
  const back = ({ reason }) => change(one, undefined, reason, view);
  return forms.page(
    meaning(one),
    h('p', { class: 'caution' }, t('limits.caution')),
    h('p', {}, t('limits.text_says', { value: said(one.text_value), source: sourceOf(one) })),
    h('p', {}, t('limits.in_force', { value: said(one.value) })),
    one.changed && h('p', {}, t('limits.changed_on', { at: day(one.changed.at), reason: one.changed.reason })),
    valueForm(one, view),
    one.changed && forms.quick('back-form', t('limits.back'), [['reason', 'text', { needs: true, label: t('limits.reason') }]], { save: back, act: t('limits.back_act') }),
    link('/office/set-up/limits', { class: 'line' }, t('limits.title')),
  );
}

const line = (one) => [
  link(`/office/set-up/limits/${one.key}`, { class: 'line' }, meaning(one)),
  said(one.value),
  one.changed ? [t('limits.instead', { value: said(one.text_value), source: sourceOf(one) }), h('br'), one.changed.reason] : sourceOf(one),
];

export async function show(params, view) {
  // A form that somebody fills in is not drawn anew.
  if (params.id && !view.fresh) return undefined;
  if (view.fresh || !kept) kept = await forms.askService('/v1/settings/profile');
  if (!kept) return forms.page(t('limits.title'), h('p', {}, t('office.needs_signal')));
  const one = params.id && kept.values.find((value) => value.key === params.id);
  if (one) return onePage(one, view);
  const profiles = ['eu', 'uk_england', 'canada', 'usa'].map((name) => [name, t(`profile.${name}`)]);
  return forms.page(
    t('limits.title'),
    h('p', { class: 'caution' }, t('limits.caution')),
    forms.quick('profile-form', t('limits.profile'), [['profile', 'one', { needs: true, value: kept.profile, list: profiles }]], { save: (said) => told('/v1/settings/profiles', said, view), act: t('act.save') }),
    forms.quick('limit-form', t('limits.house'), [['moisture_hundredths', 'percent', { needs: true, value: kept.house_limit_hundredths }]], { save: (said) => told('/v1/settings/house-limits', said, view), act: t('act.save') }),
    forms.quick('hold-days-form', t('limits.holds'), [['after_feed_days', 'count'], ['least_wait_days', 'count']], { save: (said) => told('/v1/settings/hold-days', said, view), act: t('act.save') }),
    h('div', { class: 'wraps' }, forms.table(t('limits.values'), [[t('limits.what')], [t('limits.value'), true], [t('limits.source')]], kept.values.map(line), { cards: true })),
  );
}
