// Amending: every field of what an entry told, and what it should have told. The fields come from kinds.json, which
// follows from the contract; what has no field stays as it was told. Nothing is deleted: an amendment is an entry too.

import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import { note, record } from '../shell.js';
import { outboxEntry, row, rowsOf } from '../store.js';
import { tellsNow } from '../screens/today.js';
import { byLabel, day, known, moment, t } from '../words.js';
import * as forms from './forms.js';

let kinds;
async function fieldsOf(kind) {
  kinds ??= fetch(new URL('../kinds.json', import.meta.url)).then((answer) => answer.json());
  try {
    return (await kinds)[kind] ?? [];
  } catch (fault) {
    kinds = undefined; // The next who asks tries again.
    throw fault;
  }
}

const labelOf = (name) => t(known(`told_field.${name}`) ? `told_field.${name}` : `field.${name}`);

// What is within a list bears the number of its place.
const within = (label, leaf) => (label ? { ...leaf, label: `${label}: ${leaf.label}` } : leaf);

// A field for each single value, with the way to it: { path, type, more, label, value }.
function leaves([name, type, more = {}], value, path, place) {
  const inner = (line) => leaves(line, value[line[0]], [...path, line[0]], place);
  if (type === 'group' || type === 'ways') {
    // One of several ways was told: the others are other stories. A thing told as a whole has all its fields.
    return value ? more.of.filter(([key]) => type === 'group' || key in value).flatMap(inner) : [];
  }
  if (type === 'list') {
    const things = more.of[1] === 'thing';
    // Emptied, one goes; the empty one at the end is for one more.
    const all = things ? [...(value ?? []), undefined] : (value ?? []);
    return all.flatMap((item, at) => {
      const label = `${labelOf(name)} ${at + 1}`;
      const found = leaves(more.of, item, [...path, at], ['group', 'ways'].includes(more.of[1]) ? label : undefined);
      return ['group', 'ways'].includes(more.of[1]) ? found : found.map((leaf) => ({ ...leaf, label }));
    });
  }
  if (type === 'subject') {
    return value ? [within(place, { path: [...path, 'id'], type: 'thing', more: { rows: value.kind, needs: true }, label: labelOf(name), value: value.id })] : [];
  }
  return [within(place, { path, type, more, label: labelOf(name), value })];
}

async function choices(rows, chosen) {
  const all = (await rowsOf(rows)).sort(byLabel).map((one) => [one.id, one.label ?? t('unit.none')]);
  if (chosen === undefined || all.some(([id]) => id === chosen)) return all;
  return [[chosen, (await row(rows, chosen))?.label ?? t('amend.as_told')], ...all];
}

const oneLine = (value) => (typeof value === 'string' ? value.replace(/\s*\n\s*/g, ' ') : value);
const keyOf = (leaf) => leaf.path.join('-');

async function line(leaf) {
  const { type, more, label, value } = leaf;
  const options = { label, needs: more.needs, value: oneLine(value) };
  if (type === 'thing') return [keyOf(leaf), 'one', { ...options, list: await choices(more.rows, value) }];
  if (type === 'one') return [keyOf(leaf), 'one', { ...options, list: more.words.map((word) => [word, t(`${more.say}.${word}`)]) }];
  return [keyOf(leaf), type, options];
}

function put(data, path, value) {
  let at = data;
  for (const step of path.slice(0, -1)) at = at[step] ??= [];
  const last = path[path.length - 1];
  if (value !== undefined || Array.isArray(at)) at[last] = value;
  else delete at[last];
}

const closed = (value) => {
  if (Array.isArray(value)) return value.filter((item) => item !== undefined).map(closed);
  return value && typeof value === 'object' ? Object.fromEntries(Object.entries(value).map(([key, inner]) => [key, closed(inner)])) : value;
};

// What was not touched stays to the last gram: a field shows less than was told.
function mended(told, all, read) {
  const data = structuredClone(told);
  for (const leaf of all) {
    const typed = read[keyOf(leaf)];
    const same = forms.shownAs(leaf.type, typed) === forms.shownAs(leaf.type, oneLine(leaf.value));
    if (!same) put(data, leaf.path, typed);
  }
  return closed(data);
}

async function shown(leaf) {
  const { type, more, value } = leaf;
  if (more.rows) return (await row(more.rows, value))?.label;
  if (type === 'one') return t(`${more.say}.${value}`);
  if (type === 'yes') return t(value ? 'chip.yes' : 'chip.no');
  if (type === 'date') return day(value);
  return type === 'kept' ? undefined : [forms.shownAs(type, value), forms.unitOf(type)].filter(Boolean).join('\u00a0');
}

async function allLeaves(entry) {
  return (await fieldsOf(entry.kind)).flatMap((one) => leaves(one, entry.data[one[0]], [one[0]]));
}

// What an entry tells, in words: [label, value] each.
export async function facts(entry) {
  const told = (await allLeaves(entry)).filter((leaf) => leaf.value !== undefined);
  const all = await Promise.all(told.map(async (leaf) => [leaf.label, await shown(leaf)]));
  return all.filter(([, value]) => value !== undefined);
}

// The form of an entry { id, kind, data, at, say }; `done` after the amendment is kept.
export async function amendForm(entry, done) {
  await rules.start();
  const all = await allLeaves(entry);
  const open = all.filter((leaf) => leaf.type !== 'kept');
  const fixed = all.filter((leaf) => leaf.type === 'kept' && leaf.more.rows && leaf.value !== undefined);
  const save = async ({ why, ...read }) => {
    const data = mended(entry.data, open, read);
    if (JSON.stringify(data) === JSON.stringify(entry.data)) return note(t('amend.nothing'));
    const amendment = { entry_id: entry.id, kind: entry.kind, v: rules.version(entry.kind), data, ...(why ? { reason: why } : {}) };
    const told = await record([{ kind: 'amended', data: amendment }], t('amend.done', { what: entry.say }), { house: true });
    return told && done();
  };
  const kept = await Promise.all(fixed.map(async (leaf) => h('li', {}, `${leaf.label}: ${(await shown(leaf)) ?? t('amend.as_told')}`)));
  const spec = [...(await Promise.all(open.map(line))), ['why', 'text', { label: t('amend.why') }]];
  return [
    h('p', { class: 'big' }, entry.say),
    h('p', {}, t('amend.when', { at: moment(entry.at) })),
    kept.length > 0 && [h('p', {}, t('amend.stays')), h('ul', { class: 'plain' }, kept)],
    forms.quick('amend', t('amend.right'), spec, { save, act: t('amend.save') }),
  ];
}

// An entry of this device, from Today.
export async function show(params, view) {
  if (!view.fresh) return undefined;
  const one = await outboxEntry(params.entry);
  const entry = one && { id: one.id, kind: one.kind, at: one.at, say: one.say, data: await tellsNow(one) };
  return forms.page(
    t('amend.title'),
    entry ? await amendForm(entry, () => view.go('/today', { replace: true })) : h('p', {}, t('amend.not_here')),
    link('/today', { class: 'line' }, t('today.title')),
  );
}
