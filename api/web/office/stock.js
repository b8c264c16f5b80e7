// What is in stock: honey in lots, jars in batches, and what can be done with one batch.

import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import { row, rowsOf } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, day, mass, number, t } from '../words.js';
import { bars } from './bars.js';
import * as forms from './forms.js';
import { telling } from './tell.js';

const total = (rows, of) => rows.reduce((sum, one) => sum + (of(one) ?? 0), 0);

async function all() {
  const lots = (await rowsOf('lot')).filter((lot) => (lot.state.content_g ?? 0) > 0).sort(byLabel);
  const batches = (await rowsOf('batch')).filter((batch) => (batch.state.jars_in_stock ?? 0) !== 0).sort(byLabel);
  const fills = (await rowsOf('fill')).filter((fill) => (fill.state.content_g ?? 0) > 0);
  const net = (batch) => (batch.state.nominal_g ?? 0) * batch.state.jars_in_stock;
  const lotRow = (lot) => [
    link(`/office/lots/${lot.id}`, { class: 'line' }, lot.label),
    [t(`status.lot.${lot.status}`), ' ', tagsOf(lot)],
    mass(lot.state.content_g),
    lot.state.name ?? (lot.state.claim && t(`claim.${lot.state.claim}`)) ?? '',
  ];
  const batchRow = (batch) => [
    link(`/office/stock/${batch.id}`, { class: 'line' }, batch.label),
    [batch.state.product ?? '', ' ', tagsOf(batch)],
    number(batch.state.jars_in_stock),
    mass(net(batch)),
    batch.state.place ?? '',
  ];
  const fillRow = (fill) => [link(`/office/tell/fill/${fill.id}`, { class: 'line' }, fill.label ?? t('unit.none')), [t(`status.${fill.status}`), ' ', tagsOf(fill)], mass(fill.state.content_g)];
  return forms.page(
    t('stock.title'),
    h('p', { class: 'big' }, t('stock.total', { bulk: mass(total(fills, (fill) => fill.state.content_g) + total(lots, (lot) => lot.state.content_g)), jars: number(total(batches, (batch) => batch.state.jars_in_stock)), net: mass(total(batches, net)) })),
    batches.length + lots.length + fills.length === 0 && h('p', {}, t('stock.none')),
    batches.length > 0 && forms.table(t('stock.jars'), [[t('lots.code')], [t('field.product')], [t('stock.count'), true], [t('stock.net'), true], [t('field.place')]], batches.map(batchRow)),
    lots.length > 0 && forms.table(t('stock.lots'), [[t('lots.code')], [t('lots.state')], [t('lots.content'), true], [t('stock.named')]], lots.map(lotRow)),
    fills.length > 0 && forms.table(t('stock.fills', { n: fills.length, mass: mass(total(fills, (fill) => fill.state.content_g)) }), [[t('lots.code')], [t('lots.state')], [t('lots.content'), true]], fills.sort(byLabel).map(fillRow)),
    link('/office/sales', { class: 'line' }, t('sales.title')),
  );
}

async function one(batch) {
  const { state } = batch;
  const holds = rules.isReady() ? rules.holdsOn('batch', batch.id) : [];
  const lot = state.lot_id && (await row('lot', state.lot_id));
  const said = (term, text) => text !== undefined && text !== '' && [h('dt', {}, forms.headed(term)), h('dd', {}, text)];
  return forms.page(
    t('stock.one', { code: batch.label }),
    h('p', { class: 'big' }, state.product ?? '', ' ', t('stock.in_stock', { n: state.jars_in_stock ?? 0 }), ' ', tagsOf(batch, holds)),
    bars(batch, holds),
    h('dl', {}, said(t('stock.filled'), state.filled_at && day(state.filled_at)), said(t('kind.lot'), lot && link(`/office/lots/${lot.id}`, { class: 'line' }, lot.label)), said(t('stock.good'), number(state.jars_good ?? 0)), said(t('field.place'), state.place), said(t('field.best_before'), state.labels?.at(-1)?.best_before && day(state.labels.at(-1).best_before))),
    h('p', { class: 'lines' }, link(`/office/trace/batch/${batch.id}`, { class: 'act' }, t('trace.title')), link(`/office/recall/batch/${batch.id}`, { class: 'act' }, t('recall.title'))),
    await telling(batch),
    link('/office/stock', { class: 'line' }, t('stock.title')),
  );
}

export async function show(params) {
  const batch = params.batch && (await row('batch', params.batch));
  return batch ? one(batch) : all();
}
