// The season: each question with its figures, a drawing of them, what may be said in plain words, and what would make it
// surer. Every figure and sentence comes from the service; here they are only laid out.

import { button, h, link } from '../dom.js';
import * as session from '../session.js';
import { rowsOf } from '../store.js';
import { day, known, mass, moment, number, percent, t } from '../words.js';
import { chart } from './charts.js';
import * as forms from './forms.js';

const YEARS = 5;
// A drawing of more rows than these says nothing; the table does.
const DRAWN_MOST = 80;
// Where water may not go above: the house's own limit, as the service answers it.
const houseLimit = (answer) => answer.tables.find((table) => table.name === 'season')?.rows[0]?.figures.house_limit_hundredths_percent?.value;
// The questions, the call that answers each, and which figure of which table is drawn.
const QUESTIONS = {
  yields: { path: (year) => `/v1/seasons/${year}/yards`, draws: { yards: 'y1_g', years: 'y1_g' }, kind: 'bars' },
  yards: { path: (year) => `/v1/yard-factors?from=${year - YEARS + 1}&to=${year}`, draws: { '*': 'factor_thousandths', cells: 'y1_g' }, line: 1000 },
  lines: { path: (year) => `/v1/queen-lines?from=${year - YEARS + 1}&to=${year}`, draws: { '*': 'factor_thousandths' }, line: 1000 },
  colonies: { path: (year) => `/v1/seasons/${year}/colonies`, draws: { '*': 'index_thousandths' }, line: 1000 },
  balance: { path: (year) => `/v1/seasons/${year}/balance`, draws: { runs: 'unexplained_g', lots: 'unexplained_g' }, kind: 'bars' },
  costs: { path: (year) => `/v1/seasons/${year}/costs`, draws: { costs: 'amount_hundredths', work: 'minutes', yards: 'margin_hundredths' }, kind: 'bars' },
  forecast: { path: (year) => `/v1/seasons/${year}/forecast`, draws: { season: 'honey_g', jars: 'jars' } },
  moisture: { path: (year) => `/v1/seasons/${year}/moisture`, draws: { '*': 'moisture_hundredths_percent' }, limit: houseLimit },
  harvest: { path: (year) => `/v1/seasons/${year}/harvest`, draws: { yards: 'run_g', water_by_pull: 'moisture_hundredths_percent' }, kind: 'bars' },
  context: { path: (year) => `/v1/seasons/${year}/context`, draws: { own: 'y2_g', public_years: 'per_harvested_colony_g' } },
};

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
  [/^minutes$/, (value) => t('unit.hours', { hours: number(value / 60, 1) })],
];
const unitOf = (name) => UNITS.find(([end]) => end.test(name))?.[1] ?? ((value) => number(value));

export function said(name, figure) {
  if (!figure) return '';
  const unit = unitOf(name);
  const { value, low, high } = figure;
  const has = (one) => one !== null && one !== undefined;
  const range = has(low) && has(high) && (low !== value || high !== value) ? t('season.between', { low: unit(low), high: unit(high) }) : '';
  if (!has(value)) return range || t('unit.none');
  return range ? t('season.with_range', { value: unit(value), range }) : unit(value);
}

// What else belongs to a figure: of how many, by which method, and why there is no range.
function beside(figure) {
  return [
    figure.denominator && t('season.of_count', { kind: known(`denominator.${figure.denominator.kind}`) ? t(`denominator.${figure.denominator.kind}`) : figure.denominator.kind, n: figure.denominator.low === figure.denominator.high ? number(figure.denominator.high) : t('season.between', { low: number(figure.denominator.low), high: number(figure.denominator.high) }) }),
    figure.n !== undefined && !figure.denominator && t('season.n', { n: number(figure.n) }),
    figure.method && t('season.method', { letter: figure.method }),
    figure.why_no_range && t(`why_no_range.${figure.why_no_range}`),
  ].filter(Boolean).join(', ');
}

const titled = (prefix, name) => (known(`${prefix}.${name}`) ? t(`${prefix}.${name}`) : name.replaceAll('_', ' '));
const rowName = (row) => [row.name === 'unassigned' ? t('season.unassigned_row') : row.name, row.beside, row.season, row.on && day(row.on)].filter(Boolean).join(', ');
const wordsOf = (row) => (row.words ?? []).map((word) => (known(`mark.${word}`) ? t(`mark.${word}`) : word)).join(' ');

function drawn(question, table, answer) {
  const { draws, kind, limit, line = limit?.(answer) } = QUESTIONS[question];
  const names = [...new Set(table.rows.flatMap((row) => Object.keys(row.figures)))];
  const figure = draws[table.name] ?? (draws['*'] && names.includes(draws['*']) ? draws['*'] : undefined);
  if (!figure || !names.includes(figure) || table.rows.length > DRAWN_MOST) return null;
  const rows = table.rows.filter((row) => row.figures[figure]).map((row) => ({ label: rowName(row), ...row.figures[figure], text: said(figure, row.figures[figure]) }));
  const caption = `${titled('table', table.name)}: ${titled('figure', figure)}`;
  return chart({ id: `chart-${question}-${table.name}`, title: caption, rows, line: figure.startsWith('y1') ? undefined : line, kind: figure.startsWith('moisture') ? 'dots' : kind, say: unitOf(figure) });
}

function tableOf(question, table) {
  const names = [...new Set(table.rows.flatMap((row) => Object.keys(row.figures)))];
  const columns = [[titled('table', table.name)], ...names.map((name) => [titled('figure', name), true]), [t('season.beside')]];
  const notes = (row) => [...new Set(Object.values(row.figures).map(beside).filter(Boolean))].concat(wordsOf(row)).filter(Boolean).join('; ');
  return forms.table(titled('table', table.name), columns, table.rows.map((row) => [rowName(row), ...names.map((name) => said(name, row.figures[name])), notes(row)]), t(`question.${question}`));
}

function leftOut(answer) {
  const all = answer.tables.flatMap((table) => table.rows.flatMap((row) => Object.values(row.figures).flatMap((figure) => figure.left_out ?? [])));
  const once = new Map(all.map((one) => [`${one.name}/${one.reason}`, one]));
  if (once.size === 0) return null;
  return [h('h3', {}, t('season.left_out')), h('ul', {}, [...once.values()].map((one) => h('li', {}, t('season.left_out_one', { name: one.name, reason: titled('reason', one.reason) }))))];
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

function part(question, answer) {
  const sure = t(`surer.${question}`);
  return h(
    'section',
    { class: 'question', 'data-question': question },
    h('h2', {}, t(`question.${question}`)),
    !answer && h('p', {}, t('season.no_answer')),
    answer && [
      (answer.words ?? []).map((sentence) => h('p', { class: 'told' }, sentence)),
      answer.tables.map((table) => table.rows.length > 0 && [drawn(question, table, answer), tableOf(question, table)]),
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
  const names = session.who().names;
  const nothing = answers.every(([, answer]) => !answer);
  return forms.page(
    t('season.of', { year }),
    h('p', {}, t('season.printed', { operation: names?.operation ?? '', at: moment(new Date()) })),
    h('nav', { class: 'years no-print', 'aria-label': t('season.years') }, Array.from({ length: YEARS }, (_, at) => now - at).map((one) => link(`/office/season/${one}${params.question ? `/${params.question}` : ''}`, { class: 'line', 'aria-current': one === year ? 'page' : null }, String(one)))),
    h('nav', { class: 'lines no-print', 'aria-label': t('season.questions') }, Object.keys(QUESTIONS).map((question) => link(`/office/season/${year}/${question}`, { class: 'line', 'aria-current': question === params.question ? 'page' : null }, t(`question.${question}`)))),
    nothing ? h('p', {}, t('office.needs_signal')) : answers.map(([question, answer]) => part(question, answer)),
    h('h2', {}, t('season.words')),
    h('ul', {}, ['csf', 'pc', 'a', 'b', 'c', 'd'].map((key) => h('li', {}, t(`season.explain.${key}`)))),
    h('p', { class: 'lines no-print' }, button('print', () => print(), {}, t('act.print')), link(`/office/inputs/${year}`, { class: 'act' }, t('inputs.title'))),
  );
}
