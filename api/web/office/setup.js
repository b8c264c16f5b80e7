// Set-up: what there is of each kind, one more or a whole range of it, and what each is called. Everything becomes
// entries like any touch.

import { h, link } from '../dom.js';
import { newId } from '../entry.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { row, rowsOf } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, number, t } from '../words.js';
import { bars } from './bars.js';
import { ready, word } from './choices.js';
import { DEEDS } from './deeds.js';
import * as forms from './forms.js';
import * as limits from './limits.js';
import { telling } from './tell.js';
import { ABOUT, THINGS } from './things.js';

// So many things are written by one touch at most; more would be one entry each all the same.
const RANGE_MOST = 400;
// So many are listed; more are found by their number.
const LISTED_MOST = 500;

const last = (list) => list?.[list.length - 1];
// A label of a medicine or a stay of a hive is told anew each time; the newest counts.
const valueOf = (state, key) => state[key] ?? last(state.labels)?.[key] ?? last(state.stays)?.[key];

async function shown(thing, one) {
  const cells = thing.fields.slice(1).map(async ([key, type, more = {}]) => {
    const value = valueOf(one.state, key);
    if (value === undefined || value === null) return t('unit.none');
    if (more.rows) return (await row(more.rows, value))?.label ?? t('unit.none');
    if (more.words) return word(key, value);
    if (type === 'yes') return t(value ? 'chip.yes' : 'chip.no');
    return forms.shownAs(type, value);
  });
  return Promise.all(cells);
}

function range(prefix, from, to) {
  const width = from.length;
  const [first, end] = [Number(from), Number(to)];
  return Array.from({ length: end - first + 1 }, (_, at) => `${prefix}${String(first + at).padStart(width, '0')}`);
}

function checkRange({ from = '', to = '' }) {
  const wrong = {};
  if (!/^\d{1,6}$/.test(from)) wrong.from = t('form.from_digits');
  if (!/^\d{1,6}$/.test(to)) wrong.to = t('form.to_digits');
  if (wrong.from || wrong.to) return wrong;
  if (Number(to) < Number(from)) return { to: t('form.to_below_from') };
  return Number(to) - Number(from) >= RANGE_MOST ? { to: t('form.range_long', { n: RANGE_MOST }) } : {};
}

async function rangeForm(what, thing, view) {
  const rest = await ready(thing.fields.slice(1));
  const spec = [
    ...(thing.prefix ? [['prefix', 'text']] : []),
    ['from', 'text', { needs: true }],
    ['to', 'text', { needs: true }],
    ...rest,
  ];
  const save = ({ prefix = '', from, to, ...data }) => {
    const codes = range(prefix, from, to);
    const wish = (code) => ({ kind: `${thing.kind}_registered`, data: { [thing.id]: newId(), [thing.number]: code, ...data }, say: t('say.set_up', { label: code }) });
    return forms.saved(codes.map(wish), t('say.set_up_many', { what: t(`setup.${what}`), n: codes.length }), view);
  };
  return forms.quick(`${what}-range`, t('setup.range', { what: t(`setup.${what}`) }), spec, { check: checkRange, save, act: t('act.save') });
}

async function addForm(what, thing, view) {
  const save = (data) => forms.saved([{ kind: `${thing.kind}_registered`, data: { [thing.id]: newId(), ...data } }], t('say.set_up', { label: data.name ?? data[thing.number] }), view);
  return forms.quick(`${what}-form`, t('setup.add', { what: t(`setup.one.${what}`) }), await ready(thing.fields), { save, act: t('act.save') });
}

async function list(what, thing, view) {
  const rows = (await rowsOf(thing.kind)).sort(byLabel);
  const columns = thing.fields.map(([key, type]) => [t(`field.${key}`), ['mass', 'grams', 'litres', 'count', 'degrees'].includes(type)]);
  const cells = await Promise.all(rows.slice(0, LISTED_MOST).map(async (one) => [
    [link(`/office/set-up/${what}/${one.id}`, { class: 'line' }, one.label ?? t('unit.none')), ' ', tagsOf(one)],
    ...(await shown(thing, one)),
  ]));
  const missing = what === 'hives' && (await rowsOf('yard')).length === 0;
  return forms.page(
    t(`setup.${what}`),
    missing ? h('p', {}, t('setup.yard_first'), ' ', link('/office/set-up/yards', { class: 'line' }, t('setup.yards'))) : [thing.range && (await rangeForm(what, thing, view)), thing.range !== 3 && (await addForm(what, thing, view))],
    rows.length > 0 && forms.table(t('setup.there_are', { what: t(`setup.${what}`), n: number(rows.length) }), columns, cells),
    rows.length > LISTED_MOST && h('p', {}, t('house.more', { n: rows.length - LISTED_MOST })),
    link('/office/set-up', { class: 'line' }, t('office.set_up')),
  );
}

async function describe(what, thing, one, view) {
  const fields = thing.fields.filter(([key]) => !thing.fixed?.includes(key));
  const values = Object.fromEntries(fields.map(([key]) => [key, valueOf(one.state, key)]));
  const save = (data) => {
    const changed = Object.fromEntries(Object.entries(data).filter(([key, value]) => value !== values[key]));
    const wish = { kind: `${thing.kind}_described`, data: { [thing.id]: one.id, ...changed } };
    return forms.saved([wish], t('say.described', { label: one.label }), view);
  };
  const about = (ABOUT[what] ?? []).map(async (told) =>
    forms.quick(`${told.kind}-form`, t(`told.${told.kind}`), await ready(told.fields), {
      save: (data) => forms.saved([{ kind: told.kind, data: { [thing.id]: one.id, ...data } }], t(`told.${told.kind}`), view),
      act: t('act.save'),
    }),
  );
  return forms.page(
    `${t(`setup.one.${what}`)} ${one.label ?? ''}`,
    h('p', {}, tagsOf(one), ' ', (one.state.former_names ?? one.state.former_numbers ?? []).length > 0 && t('setup.formerly', { names: (one.state.former_names ?? one.state.former_numbers).join(', ') })),
    rules.isReady() && DEEDS[one.kind] && bars(one, rules.holdsOn(one.kind, one.id)),
    forms.quick(`${what}-describe`, t('setup.describe'), await ready(fields, values), { save, act: t('act.save') }),
    await Promise.all(about),
    await telling(one),
    link(`/office/set-up/${what}`, { class: 'line' }, t(`setup.${what}`)),
  );
}

async function index() {
  const item = async (what) => {
    const n = (await rowsOf(THINGS[what].kind)).length;
    return h('li', {}, link(`/office/set-up/${what}`, { class: 'row-link' }, h('span', { class: 'row-name' }, t(`setup.${what}`)), h('span', { class: 'row-more' }, number(n))));
  };
  const to = (path, name) => h('li', {}, link(path, { class: 'row-link' }, h('span', { class: 'row-name' }, name)));
  return forms.page(
    t('office.set_up'),
    h('p', {}, t('setup.intro')),
    h('ul', { class: 'rows' }, await Promise.all(Object.keys(THINGS).map(item)), session.mayOffice() && [to('/office/phones', t('phones.title')), to('/office/set-up/limits', t('limits.title'))], to('/office/labels', t('labels.title'))),
  );
}

export async function show(params, view) {
  if (params.what === 'limits') return limits.show(params, view);
  const thing = THINGS[params.what];
  if (!thing) return index();
  const one = params.id && (await row(thing.kind, params.id));
  return one ? describe(params.what, thing, one, view) : list(params.what, thing, view);
}
