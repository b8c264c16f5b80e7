// What can be told of a thing, below what its page shows, and a page with one short form for each. Also the page of
// things that have no other in the office: the honey in a container, a run, the bees of a hive.

import { caution } from '../caution.js';
import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { record } from '../shell.js';
import { row, rowsAt, rowsById, rowsOf } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, day, known, mass, t } from '../words.js';
import { bars, causeOf } from './bars.js';
import { ready } from './choices.js';
import { DEEDS, ENDS, pageOf } from './deeds.js';
import * as forms from './forms.js';

// What there is besides to do with a thing, each where it is done.
const LINKS = {
  fill: ({ id }) => [[`/house/moisture/fill/${id}`, 'lots.measure'], [`/house/blend?from=fill/${id}`, 'act.draw'], [`/office/sales?fill=${id}`, 'sales.bulk']],
  run: ({ id }) => [[`/house/run/${id}`, 'tell.run']],
  container: ({ state }) => (state.fill_id ? [[`/office/tell/fill/${state.fill_id}`, 'tell.honey']] : []),
  customer: ({ id }) => [[`/office/orders?buyer=${id}`, 'orders.take']],
};
// What belongs to a thing and has a page of its own: of which kind, and which.
const LISTED = 60;
const PARTS = {
  yard: ['hive', ({ id }) => rowsAt(`hive@${id}`)],
  hive: ['super', ({ id }) => rowsAt(`super@${id}`)],
  run: ['fill', ({ state }) => rowsById('fill', (state.fills ?? []).map((fill) => fill.fill_id))],
  customer: ['delivery', async ({ id }) => (await rowsOf('delivery')).filter((one) => one.state.customer_id === id).slice(-LISTED)],
};
const mayTell = (kind) => rules.knows(kind) && session.role() !== 'viewer' && (!rules.isOffice(kind) || session.mayOffice());
const deedsOf = (one, which) => DEEDS[one.kind][which].filter(([kind, , how]) => mayTell(kind) && (!how?.when || how.when(one)));

async function nameOf(one) {
  if (one.kind !== 'colony') return one.label ?? t('unit.none');
  const hive = one.state.homes?.at(-1)?.hive_id;
  return (hive && (await row('hive', hive))?.label) ?? t('unit.none');
}

const titleOf = async (one) => `${forms.headed(t(`kind.${one.kind}`))} ${await nameOf(one)}`;
const statusOf = (one) => [`status.${one.kind}.${one.status}`, `status.${one.status}`].filter(known).map((key) => t(key))[0];

const toDeed = (one) => ([kind]) => h('li', {}, link(`/office/tell/${one.kind}/${one.id}/${kind}`, { class: 'row-link' }, h('span', { class: 'row-name' }, t(`told.${kind}`))));

function lists(one, title) {
  const [often, rare] = [deedsOf(one, 'often'), deedsOf(one, 'rare')];
  if (often.length + rare.length === 0) return null;
  return [
    h('h2', {}, title),
    h('ul', { class: 'rows two' }, often.map(toDeed(one))),
    rare.length > 0 && forms.behind(t('tell.more'), h('ul', { class: 'rows two' }, rare.map(toDeed(one)))),
  ];
}

async function partsOf(one) {
  if (!PARTS[one.kind]) return null;
  const [kind, find] = PARTS[one.kind];
  const rows = (await find(one)).sort(byLabel);
  const word = (each) => [each.label ?? statusOf(each) ?? t('unit.none'), ' ', tagsOf(each)];
  return rows.length > 0 && [h('h2', {}, t(`kinds.${kind}`)), h('p', { class: 'lines' }, rows.map((each) => link(pageOf(each), { class: 'line' }, word(each))))];
}

const notes = (one) =>
  (one.state.notes ?? []).length > 0 && [h('h2', {}, t('tell.notes')), h('ul', { class: 'plain' }, one.state.notes.map((note) => h('li', {}, `${day(note.at)}: ${note.text}`)))];

// What bars a thing, and what can be told of it, for its page. Bees are told of where they live.
export async function telling(one) {
  await rules.start();
  if (!DEEDS[one.kind]) return null;
  const bees = one.kind === 'hive' ? (await rowsAt(`colony@${one.id}`)).slice(-1) : [];
  const links = session.role() === 'viewer' ? [] : (LINKS[one.kind]?.(one) ?? []);
  return h(
    'div',
    { class: 'telling no-print' },
    notes(one),
    links.length > 0 && h('p', { class: 'lines' }, links.map(([path, word]) => link(path, { class: 'act' }, t(word)))),
    lists(one, t('tell.title')),
    bees.map((colony) => lists(colony, t('tell.bees'))),
    await partsOf(one),
  );
}

// The rows of a list may be only those that the thing names.
async function narrowed(fields, one) {
  const of = async ([key, type, more = {}]) => {
    if (!more.of) return [key, type, more];
    const rows = await rowsById(more.rows, more.of(one));
    return [key, type, { ...more, rows: undefined, list: rows.map((each) => [each.id, each.label ?? t('unit.none')]) }];
  };
  return Promise.all(fields.map(of));
}

const changed = (data, values) => Object.fromEntries(Object.entries(data).filter(([key, value]) => value !== values[key]));

async function deedPage([kind, fields, how = {}], one, cause, view) {
  const values = how.known ? Object.fromEntries(fields.map(([key]) => [key, one.state[key]])) : {};
  const named = how.names ? how.names(one) : { [`${one.kind}_id`]: one.id };
  const [label, title] = [await nameOf(one), await titleOf(one)];
  const save = async (said) => {
    const data = { ...named, ...(how.cause && { [how.cause]: cause }), ...how.also?.(one), ...changed(said, values) };
    if (!(await record([{ kind, data }], t('say.told_of', { what: t(`told.${kind}`), label }), { house: true }))) return;
    await view.go(how.to?.(data) ?? pageOf(one), { replace: true });
  };
  const spec = await ready(await narrowed(fields, one), values);
  const nothing = spec.find(([, , more]) => more.needs && more.list?.length === 0);
  return forms.page(
    title,
    how.cause && h('p', { class: 'told' }, causeOf(one, cause)),
    how.caution && caution(how.caution),
    known(`tell.about.${kind}`) && h('p', {}, t(`tell.about.${kind}`)),
    nothing ? h('p', {}, t('tell.nothing')) : forms.quick(`${kind}-form`, t(`told.${kind}`), spec, { save, act: t('act.save') }),
    link(pageOf(one), { class: 'line' }, title),
  );
}

async function thingPage(one, view) {
  const holds = rules.holdsOn(one.kind, one.id);
  return forms.page(
    await titleOf(one),
    h('p', { class: 'big' }, [statusOf(one), one.state.content_g !== undefined && mass(one.state.content_g)].filter(Boolean).join(', '), ' ', tagsOf(one, holds)),
    bars(one, holds),
    await telling(one, view),
    h('p', { class: 'lines' }, link(`/office/trace/${one.kind}/${one.id}`, { class: 'act' }, t('trace.title')), link(`/office/recall/${one.kind}/${one.id}`, { class: 'act' }, t('recall.title'))),
  );
}

export async function show(params, view) {
  const one = DEEDS[params.kind] && (await row(params.kind, params.id));
  if (!one) return forms.page(t('find.title'), h('p', {}, t('find.nothing', { text: params.id ?? '' })));
  await rules.start();
  const all = [...DEEDS[one.kind].often, ...DEEDS[one.kind].rare, ...(params.cause ? ENDS : [])];
  const deed = all.find(([kind]) => kind === params.deed && mayTell(kind));
  if (!deed) return thingPage(one, view);
  // What is half chosen stays when something arrives meanwhile.
  return view.fresh ? deedPage(deed, one, params.cause, view) : undefined;
}
