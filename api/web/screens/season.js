// Season: what each yard and hive yielded, with the letter and the denominator beside every figure.

import { h, link } from '../dom.js';
import * as session from '../session.js';
import { rowsOf } from '../store.js';
import { mass, number, percent, t } from '../words.js';

const YEARS = 4;

const table = (caption, columns, rows) =>
  h(
    'div',
    { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': caption },
    h(
      'table',
      {},
      h('caption', {}, caption),
      h('thead', {}, h('tr', {}, columns.map((column, at) => h('th', { scope: 'col', class: at > 0 && 'figure' }, column)))),
      h('tbody', {}, rows.map((cells) => h('tr', {}, cells.map((cell, at) => (at === 0 ? h('th', { scope: 'row' }, cell) : h('td', { class: 'figure' }, cell)))))),
    ),
  );

const between = (low, high, show) => (low === high ? show(low) : t('season.between', { low: show(low), high: show(high) }));
const count = (value) => (value === null || value === undefined ? t('unit.none') : number(value));

function yards(season) {
  const columns = ['season.yard', 'season.yield', 'season.letter', 'season.csf', 'season.pc', 'season.y1', 'season.y2'].map((key) => t(key));
  const rows = season.yards.map((yard) => [
    yard.name,
    mass(yard.yield_g),
    yard.method ?? t('unit.none'),
    between(yard.colonies_low, yard.colonies_high, count),
    between(yard.producing_low, yard.producing_high, count),
    between(yard.y1_low_g, yard.y1_high_g, mass),
    between(yard.y2_low_g, yard.y2_high_g, mass),
  ]);
  return table(t('season.by_yard', { year: season.season }), columns, rows);
}

function runs(season) {
  const columns = ['season.run', 'season.day', 'season.supers', 'season.pot', 'season.letter', 'season.unexplained'].map((key) => t(key));
  const unexplained = (balance) =>
    balance ? `${mass(balance.unexplained_g)} (${percent(balance.unexplained_share_bp, 2)}), ${t(`balance.${balance.band}`)}` : t('season.not_balanced');
  return table(t('season.by_run', { year: season.season }), columns, season.runs.map((run) => [run.name, run.on, number(run.supers), mass(run.pot_g), run.method, unexplained(run.balance)]));
}

function hives(season) {
  const columns = ['season.hive', 'season.yield', 'season.disputed', 'season.letter'].map((key) => t(key));
  return table(t('season.by_hive', { year: season.season }), columns, season.hives.map((hive) => [hive.code, mass(hive.yield_g), mass(hive.disputed_g), hive.method ?? t('unit.none')]));
}

async function newestYear() {
  const years = (await rowsOf('run')).map((run) => Number((run.state.on ?? '').slice(0, 4))).filter(Boolean);
  return Math.max(...years, 0) || new Date().getFullYear();
}

let kept = { year: 0, season: null };

export async function show(params, view) {
  const year = Number(params.year) || (await newestYear());
  if (view.fresh || kept.year !== year) {
    try {
      const answer = await session.call('GET', `/v1/yields?season=${year}`);
      kept = { year, season: answer.status === 200 ? answer.body : null };
    } catch {
      kept = { year, season: null };
    }
  }
  const { season } = kept;
  const now = Math.max(year, new Date().getFullYear());
  return h(
    'div',
    { class: 'page office' },
    h('h1', { tabindex: '-1' }, t('season.of', { year })),
    h('nav', { class: 'years', 'aria-label': t('season.years') }, Array.from({ length: YEARS }, (_, at) => now - at).map((one) => link(`/office/season/${one}`, { class: 'line', 'aria-current': one === year ? 'page' : null }, String(one)))),
    !season && h('p', {}, t('office.needs_signal')),
    season && [
      h('p', { class: 'big' }, t('season.total', { mass: mass(season.total_g), letter: season.method ?? t('unit.none') })),
      yards(season),
      h('p', {}, t('season.unassigned', { mass: mass(season.unassigned_g) })),
      runs(season),
      hives(season),
      h('h2', {}, t('season.words')),
      h('ul', {}, ['csf', 'pc', 'a', 'b', 'c', 'd'].map((key) => h('li', {}, t(`season.explain.${key}`)))),
    ],
    link('/office', { class: 'line' }, t('office.title')),
  );
}
