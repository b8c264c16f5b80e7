// A run: open it, uncap supers into it, weigh them wet, weigh the cappings, drain, close. The balance goes along in words.

import { caution } from '../caution.js';
import { button, h, link } from '../dom.js';
import { newId } from '../entry.js';
import { record } from '../shell.js';
import { row, rowsAt, rowsOf } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, day, mass, t } from '../words.js';
import * as steps from './run-steps.js';
import { steady, superTile } from './tiles.js';
import { balance } from './run-balance.js';

async function open(view) {
  const id = newId();
  const runs = await rowsOf('run');
  const name = t('run.name', { n: runs.length + 1, day: day(Date.now()) });
  if (await record([{ kind: 'run_opened', data: { run_id: id, name } }], t('say.run_opened', { run: name }), { house: true })) {
    await view.go(`/house/run/${id}`);
  }
}

async function list(view) {
  const runs = (await rowsOf('run')).sort((a, b) => (b.state.began_at ?? '').localeCompare(a.state.began_at ?? ''));
  const item = (run) =>
    h(
      'li',
      {},
      link(`/house/run/${run.id}`, { class: 'row-link' }, h('span', { class: 'row-name' }, run.label), h('span', { class: 'row-more' }, t(`status.run.${run.status}`), ', ', t('run.supers', { n: (run.state.supers ?? []).length })), tagsOf(run)),
    );
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('run.title')),
    button('open-run', () => open(view), { class: 'main wide' }, t('run.open')),
    h('ul', { class: 'rows' }, runs.map(item)),
    link('/house', { class: 'line' }, t('house.title')),
  );
}

const fillingIn = (one, run) => [...(one.state.extracted ?? []), one.state.filling ?? {}].find((filling) => filling.run_id === run.id);

async function supersOf(run) {
  const rows = await Promise.all((run.state.supers ?? []).map((one) => row('super', one.super_id)));
  return rows.filter(Boolean);
}

function uncapTiles(run, waiting) {
  const uncap = (one) =>
    record([{ kind: 'super_uncapped', data: { run_id: run.id, super_id: one.id } }], t('say.uncapped', { super: one.label, run: run.label }), { house: true });
  return [
    h('h2', {}, t('run.add')),
    waiting.length === 0 && h('p', {}, t('run.none_waiting')),
    h('div', { class: 'tiles' }, waiting.map((one) => superTile(one, { done: one.status === 'extracted', more: mass(one.state.filling?.full?.gross_g), act: () => uncap(one) }))),
  ];
}

function wetTiles(run, supers, view) {
  const wet = (one) => fillingIn(one, run)?.wet?.gross_g;
  return [
    h('h2', {}, t('run.wet')),
    h(
      'div',
      { class: 'tiles' },
      supers.map((one) => superTile(one, { done: wet(one) !== undefined, more: wet(one) === undefined ? t('run.not_weighed') : mass(wet(one)), act: () => view.go(`/house/run/${run.id}/wet/${one.id}`) })),
    ),
  ];
}

export async function show(params, view) {
  const run = params.run && (await row('run', params.run));
  if (!run) return list(view);
  if (params.step) {
    // Half typed figures stay when something arrives meanwhile.
    return view.fresh ? steps.show(run, params, view) : undefined;
  }
  const waiting = await steady(`run/${run.id}`, async () => (await rowsAt('super@in_house')).sort(byLabel), view.fresh);
  const supers = await supersOf(run);
  const to = (step) => () => view.go(`/house/run/${run.id}/${step}`);
  const { drained, closed } = run.state;
  const close = () => record([{ kind: 'run_closed', data: { run_id: run.id } }], t('say.run_closed', { run: run.label }), { house: true });
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, run.label),
    h('p', { class: 'big' }, t(`status.run.${run.status}`), tagsOf(run)),
    balance(run, supers, fillingIn),
    !closed && caution('safety.extractor'),
    !drained && waiting.length > 0 && caution('safety.knife'),
    drained ? null : uncapTiles(run, waiting),
    supers.length > 0 && wetTiles(run, supers, view),
    h(
      'div',
      { class: 'acts' },
      button('cappings', to('cappings'), {}, t('run.cappings')),
      button('strain', to('strain'), {}, t('run.strain')),
      link(`/house/fill?run=${run.id}`, { class: 'act' }, t('fill.title')),
      !closed && button('sample', to('sample'), {}, t('run.sample')),
      !closed && supers.length > 0 && button('aside', to('aside'), {}, t('run.aside')),
      !closed && (drained ? button('close', close, { class: 'main' }, t('run.close')) : button('drain', to('drain'), { class: 'main' }, t('run.drain'))),
    ),
    link(`/office/tell/run/${run.id}`, { class: 'line' }, t('run.more')),
    link('/house/run', { class: 'line' }, t('run.title')),
  );
}
