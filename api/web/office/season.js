// The season: each question with its figures, a drawing of them, what may be said in plain words, and what would make it
// surer. Every figure and sentence comes from the service; here they are only laid out.

import { button, h, link } from '../dom.js';
import { said as asSaid } from '../said.js';
import * as session from '../session.js';
import { rowsOf } from '../store.js';
import { day, known, mass, moment, monthName, number, percent, t } from '../words.js';
import * as chart from './charts.js';
import * as forms from './forms.js';

const YEARS = 5;
// Where water may not go above: the house's own limit, as the service answers it.
const houseLimit = ({ tables }) => tables.find((table) => table.name === 'season')?.rows[0]?.figures.house_limit_hundredths_percent?.value;
// The questions, the call that answers each, and how its tables are drawn: which figure, as what, with what line. `by`
// draws single colonies or boxes as rings, a row for each yard or day.
const FACTOR = { draws: 'factor_thousandths', line: () => 1000 };
const QUESTIONS = {
  yields: { path: (year) => `/v1/seasons/${year}/yards`, draw: { yards: { draws: 'y1_g', singles: 'yield_g' }, years: { draws: 'y1_g', kind: 'bars' } } },
  yards: { path: (year) => `/v1/yard-factors?from=${year - YEARS + 1}&to=${year}`, draw: { yards: FACTOR, cells: { draws: 'y1_g', kind: 'bars' } } },
  lines: { path: (year) => `/v1/queen-lines?from=${year - YEARS + 1}&to=${year}`, draw: { lines: FACTOR, lines_that_made_honey: FACTOR, dots: { draws: 'index_thousandths' } } },
  colonies: { path: (year) => `/v1/seasons/${year}/colonies`, draw: { colonies: { draws: 'index_thousandths', by: 'beside', line: () => 1000 } } },
  balance: { path: (year) => `/v1/seasons/${year}/balance`, draw: { season: { fall: ['net_g', 'wax_g', 'cappings_honey_g', 'bulk_g', 'samples_g', 'left_in_machine_g', 'water_dried_g', 'unexplained_g'] }, runs: { draws: 'unexplained_g', kind: 'bars' }, lots: { draws: 'unexplained_g', kind: 'bars' } } },
  costs: { path: (year) => `/v1/seasons/${year}/costs`, draw: { costs: { draws: 'amount_hundredths', kind: 'bars' }, work: { draws: 'minutes', kind: 'bars' }, yards: { draws: 'margin_hundredths', kind: 'bars' } } },
  forecast: { path: (year) => `/v1/seasons/${year}/forecast`, draw: { jars: { draws: 'jars', kind: 'bars' } } },
  moisture: { path: (year) => `/v1/seasons/${year}/moisture`, draw: { supers: { draws: 'moisture_hundredths_percent', by: 'on', line: houseLimit } } },
  harvest: { path: (year) => `/v1/seasons/${year}/harvest`, draw: { years: { grows: 'so_far_g' }, yards: { draws: 'run_g', kind: 'bars' }, water_by_pull: { draws: 'moisture_hundredths_percent' } } },
  context: { path: (year) => `/v1/seasons/${year}/context`, draw: { own: { draws: 'y2_g' }, public_years: { draws: 'per_harvested_colony_g' } } },
};
// A yard's single colonies come with the answer about colonies.
const SINGLES = 'colonies';
// As many years of a curve as can be told apart.
const CURVES = 4;
// What names the rows of these tables is a word of the program, not of the business.
const NAMED = { costs: 'cost', incomes: 'income', work: 'work' };

// How a figure is said, by the unit at the end of its name.
const UNITS = [
  [/_hundredths_percent$/, (value) => percent(value, 2)],
  [/_tenths_percent$/, (value) => `${number(value / 10, 1)}\u00a0%`],
  [/_percent$/, (value) => `${number(value)}\u00a0%`],
  [/_hundredths$/, (value) => number(value / 100, 2)],
  [/_per_kg_thousandths$/, (value) => number(value / 1000, 3)],
  [/_thousandths$/, (value) => number(value / 1000, 2)],
  [/_tenths$/, (value) => number(value / 10, 1)],
  [/_g$/, (value) => mass(value)],
  [/(^|_)minutes$/, (value) => t('unit.hours', { hours: number(value / 60, 1) })],
];
const is = (value) => value !== null && value !== undefined;
const unitOf = (name) => UNITS.find(([end]) => end.test(name))?.[1] ?? ((value) => number(value));

// A range in brackets has the unit of the figure before it.
const unitless = (text) => text.replace(/\u00a0\D+$/, '');

export function said(name, figure) {
  if (!figure) return '';
  const unit = unitOf(name);
  const { value, low, high } = figure;
  const range = is(low) && is(high) && (low !== value || high !== value) ? t('season.between', { low: is(value) ? unitless(unit(low)) : unit(low), high: is(value) ? unitless(unit(high)) : unit(high) }) : '';
  if (!is(value)) return range || t('unit.none');
  return range ? t('season.with_range', { value: unit(value), range }) : unit(value);
}

const titled = (prefix, name) => (known(`${prefix}.${name}`) ? t(`${prefix}.${name}`) : name.replaceAll('_', ' '));
const titleOf = (table) => titled('table', table.name);
const namesOf = (table) => [...new Set(table.rows.flatMap((row) => Object.keys(row.figures)))];

function rowName(table, row) {
  const name = row.name === 'unassigned' ? t('season.unassigned_row') : NAMED[table.name] ? titled(NAMED[table.name], row.name) : row.name;
  return [name, row.beside, row.season && String(row.season) !== row.name && row.season, row.on && day(row.on)].filter(Boolean).join(', ');
}

// What else belongs to a row's figures: of how many if no column says so, by which method, why there is no range.
function beside(table, row) {
  const columns = namesOf(table);
  const figures = Object.values(row.figures);
  const counted = figures.map((one) => one.denominator).filter((one) => one && !columns.includes(one.kind));
  const say = ({ kind, low, high }) => t('season.of_count', { kind: titled('denominator', kind), n: low === high ? number(high) : t('season.between', { low: number(low), high: number(high) }) });
  const notes = [
    ...counted.map(say),
    ...figures.map((one) => one.method && t('season.method', { letter: one.method })),
    ...figures.map((one) => one.why_no_range && t(`why_no_range.${one.why_no_range}`)),
    ...(row.words ?? []).map((word) => (known(`mark.${word}`) ? t(`mark.${word}`) : word)),
  ];
  return [...new Set(notes.filter(Boolean))].join('; ');
}

// The columns of a table: what is drawn first. One row alone reads better downwards.
function columnsOf(question, table) {
  const how = QUESTIONS[question].draw[table.name];
  const names = namesOf(table);
  const first = (how?.fall ?? [how?.draws]).filter((name) => names.includes(name));
  return [...first, ...names.filter((name) => !first.includes(name))];
}
// The whole before its parts.
const wholeFirst = (tables) => [...tables].sort((a, b) => (b.name === 'season') - (a.name === 'season'));
const isUpright = (table) => table.rows.length === 1 && namesOf(table).length > 2;

const single = (table, name) => (row) => ({ value: row.figures[name].value, name: rowName(table, row), text: said(name, row.figures[name]) });

function grouped(table, { draws, by }) {
  const groups = new Map();
  for (const row of table.rows) {
    if (row[by] && is(row.figures[draws]?.value)) groups.set(row[by], [...(groups.get(row[by]) ?? []), row]);
  }
  return [...groups].sort(([a], [b]) => (a < b ? -1 : 1)).map(([key, rows]) => ({ label: by === 'on' ? day(key) : key, singles: rows.map(single(table, draws)) }));
}

// What came in, and step by step where it went.
function fallen(table, names) {
  const { figures } = table.rows[0];
  let left = 0;
  return names.filter((name) => is(figures[name]?.value)).map((name, at) => {
    const from = left;
    left = at === 0 ? figures[name].value : left - figures[name].value;
    return { label: titled('figure', name), value: left, from: at === 0 ? 0 : from, text: said(name, figures[name]) };
  });
}

const DAY_MS = 86400000;
const dayOfYear = (on) => Math.round((Date.parse(on) - Date.parse(`${on.slice(0, 4)}-01-01`)) / DAY_MS) + 1;

function grown(table, name) {
  const years = new Map();
  for (const row of table.rows) years.set(row.name, [...(years.get(row.name) ?? []), { day: dayOfYear(row.on), ...single(table, name)(row) }]);
  return [...years].slice(-CURVES).map(([label, points]) => ({ label, points }));
}

function drawn(question, table, answer, singles) {
  const how = QUESTIONS[question].draw[table.name];
  if (!how) return null;
  const id = `chart-${question}-${table.name}`;
  const figure = how.draws ?? how.grows ?? how.fall[0];
  const title = `${titleOf(table)}: ${titled('figure', figure)}`;
  const say = unitOf(figure);
  const year = Number(answer.period);
  if (how.grows) return chart.curve({ id, title, series: grown(table, how.grows), say, month: (at) => monthName(Date.UTC(year, 0, at)) });
  if (how.fall) return isUpright(table) ? chart.rows({ id, title, rows: fallen(table, how.fall), kind: 'bars', say, column: 1 }) : null;
  const { kind } = how;
  const line = how.line?.(answer);
  if (how.by) return chart.rows({ id, title, rows: grouped(table, how), line, say });
  const told = table.rows.filter((row) => row.figures[figure]);
  const colonies = singles?.tables.find((one) => one.name === SINGLES);
  const of = (row) => colonies?.rows.filter((one) => one.beside === row.name && is(one.figures[how.singles]?.value)).map(single(colonies, how.singles));
  const label = (row) => (isUpright(table) ? titled('figure', figure) : rowName(table, row));
  const rows = told.map((row) => ({ label: label(row), ...row.figures[figure], text: said(figure, row.figures[figure]), singles: how.singles && of(row) }));
  return chart.rows({ id, title, rows, line, zero: figure.endsWith('_g'), kind, say, column: 1 });
}

function tableOf(question, table) {
  const names = columnsOf(question, table);
  const within = t(`question.${question}`);
  if (isUpright(table)) {
    const [row] = table.rows;
    const lines = names.map((name) => [titled('figure', name), said(name, row.figures[name])]);
    const notes = beside(table, row);
    return [forms.table(titleOf(table), [[t('season.figure')], [rowName(table, row), true]], lines, { within }), notes && h('p', { class: 'soft' }, notes)];
  }
  const notes = table.rows.map((row) => beside(table, row));
  const noted = notes.some(Boolean);
  const columns = [[t('season.name')], ...names.map((name) => [titled('figure', name), true]), ...(noted ? [[t('season.beside')]] : [])];
  const cells = (row, at) => [rowName(table, row), ...names.map((name) => said(name, row.figures[name])), ...(noted ? [notes[at]] : [])];
  return forms.table(titleOf(table), columns, table.rows.map(cells), { within, compared: true });
}

// A reason may begin with its year.
function reasonOf({ name, reason }) {
  const [, year, why] = /^(?:(\d{4}): )?(.*)$/.exec(reason);
  return t('season.left_out_one', { name: [name, year].filter(Boolean).join(' '), reason: titled('reason', why) });
}

function leftOut(answer) {
  const all = answer.tables.flatMap((table) => table.rows.flatMap((row) => Object.values(row.figures).flatMap((figure) => figure.left_out ?? [])));
  const once = new Set(all.map(reasonOf));
  return once.size > 0 && [h('h3', {}, t('season.left_out')), h('ul', {}, [...once].map((one) => h('li', {}, one)))];
}

async function newestYear() {
  const years = (await rowsOf('run')).map((run) => Number((run.state.on ?? '').slice(0, 4))).filter(Boolean);
  return Math.max(...years, 0) || new Date().getFullYear();
}

let kept = new Map();

async function answerOf(question, year, fresh) {
  const name = `${question}/${year}`;
  if (fresh || !kept.has(name)) kept.set(name, await forms.askService(QUESTIONS[question].path(year)));
  return kept.get(name);
}

function part(question, answer, singles) {
  const sure = t(`surer.${question}`);
  return h(
    'section',
    { class: 'question', 'data-question': question },
    h('h2', {}, t(`question.${question}`)),
    !answer && h('p', {}, t('season.no_answer')),
    answer && [
      (answer.words ?? []).map((sentence) => h('p', { class: 'told' }, asSaid({ sentence }))),
      wholeFirst(answer.tables).map((table) => table.rows.length > 0 && [drawn(question, table, answer, singles), tableOf(question, table)]),
      answer.tables.every((table) => table.rows.length === 0) && h('p', {}, t('season.nothing')),
      leftOut(answer),
    ],
    h('p', { class: 'soft' }, sure),
  );
}

export async function show(params, view) {
  const year = Number(params.year) || (await newestYear());
  const asked = QUESTIONS[params.question] ? [params.question] : Object.keys(QUESTIONS);
  const answers = await Promise.all(asked.map(async (question) => [question, await answerOf(question, year, view.fresh)]));
  const now = Math.max(year, new Date().getFullYear());
  const singles = asked.includes('yields') ? await answerOf(SINGLES, year, view.fresh) : undefined;
  const names = session.who().names;
  const nothing = answers.every(([, answer]) => !answer);
  return forms.page(
    t('season.of', { year }),
    h('p', {}, t('season.printed', { operation: names?.operation ?? '', at: moment(new Date()) })),
    h('nav', { class: 'picks no-print', 'aria-label': t('season.years') }, Array.from({ length: YEARS }, (_, at) => now - at).map((one) => link(`/office/season/${one}${params.question ? `/${params.question}` : ''}`, { class: 'line', 'aria-current': one === year ? 'page' : null }, String(one)))),
    h('nav', { class: 'picks no-print', 'aria-label': t('season.questions') }, Object.keys(QUESTIONS).map((question) => link(`/office/season/${year}/${question}`, { class: 'line', 'aria-current': question === params.question ? 'page' : null }, t(`season.ask.${question}`)))),
    nothing ? h('p', {}, t('office.needs_signal')) : answers.map(([question, answer]) => part(question, answer, singles)),
    h('h2', {}, t('season.words')),
    h('ul', {}, ['csf', 'pc', 'a', 'b', 'c', 'd'].map((key) => h('li', {}, t(`season.explain.${key}`)))),
    link('/signs', { class: 'line' }, t('signs.link')),
    h('p', { class: 'lines no-print' }, button('print', () => print(), {}, t('act.print')), link(`/office/inputs/${year}`, { class: 'act' }, t('inputs.title'))),
  );
}
