// What is in stock: honey in lots, jars in batches, and what can be done with one batch.

import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { row, rowsOf } from '../store.js';
import { holdReason, tagsOf } from '../tags.js';
import { byLabel, day, mass, number, t } from '../words.js';
import * as forms from './forms.js';
import { ready } from './setup.js';

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
    lot.state.name ?? lot.state.claim ?? '',
  ];
  const batchRow = (batch) => [
    link(`/office/stock/${batch.id}`, { class: 'line' }, batch.label),
    [batch.state.product ?? '', ' ', tagsOf(batch)],
    number(batch.state.jars_in_stock),
    mass(net(batch)),
    batch.state.place ?? '',
  ];
  return forms.page(
    t('stock.title'),
    h('p', { class: 'big' }, t('stock.total', { bulk: mass(total(fills, (fill) => fill.state.content_g) + total(lots, (lot) => lot.state.content_g)), jars: number(total(batches, (batch) => batch.state.jars_in_stock)), net: mass(total(batches, net)) })),
    forms.table(t('stock.jars'), [[t('lots.code')], [t('field.product')], [t('stock.count'), true], [t('stock.net'), true], [t('field.place')]], batches.map(batchRow)),
    forms.table(t('stock.lots'), [[t('lots.code')], [t('lots.state')], [t('lots.content'), true], [t('stock.named')]], lots.map(lotRow)),
    h('p', {}, t('stock.fills', { n: fills.length, mass: mass(total(fills, (fill) => fill.state.content_g)) })),
    link('/office/sales', { class: 'line' }, t('sales.title')),
  );
}

const WENT = ['given', 'broken', 'samples', 'own_use'];

// What can be told of a batch: [kind, fields, fixed data].
const TOLD = [
  ['weights_checked', [['net_tenths_g', 'text', { needs: true }]]],
  ['labelled', [['printed', 'count', { needs: true }], ['used', 'count', { needs: true }], ['spoilt', 'count'], ['label_version', 'text'], ['best_before', 'date']]],
  ['batch_stored', [['place', 'text', { needs: true }]]],
  ['stock_counted', [['jars', 'count', { needs: true }], ['reason', 'text']]],
  ['jars_taken_out', [['jars', 'count', { needs: true }], ['went', 'one', { needs: true, words: WENT, say: 'went' }], ['reason', 'text', { needs: true }]]],
];

// Weights of full jars, typed one after the other: 501.2 499.8 500.3.
function weights(typed) {
  const parts = typed.split(/[\s;/]+/).filter(Boolean);
  const read = parts.map((part) => forms.typedNumber(part, t('field.net_tenths_g')));
  const wrong = read.find(([, why]) => why)?.[1] ?? (parts.length === 0 ? t('form.missing', { name: t('field.net_tenths_g') }) : null);
  return [read.map(([value]) => Math.round(value * 10)), wrong];
}

async function tellForm([kind, fields], batch, view) {
  const check = kind === 'weights_checked' ? (data) => (data.net_tenths_g ? { net_tenths_g: weights(data.net_tenths_g)[1] } : {}) : undefined;
  const save = (data) => {
    const told = kind === 'weights_checked' ? { net_tenths_g: weights(data.net_tenths_g)[0] } : data;
    return forms.saved([{ kind, data: { batch_id: batch.id, ...told } }], t('say.told_of', { what: t(`told.${kind}`), label: batch.label }), view);
  };
  return forms.quick(`${kind}-form`, t(`told.${kind}`), await ready(fields), { check, save, act: t('act.save') });
}

async function one(batch, view) {
  const { state } = batch;
  const holds = rules.isReady() ? rules.holdsOn('batch', batch.id) : [];
  const lot = state.lot_id && (await row('lot', state.lot_id));
  const said = (term, text) => text !== undefined && text !== '' && [h('dt', {}, term), h('dd', {}, text)];
  return forms.page(
    t('stock.one', { code: batch.label }),
    h('p', { class: 'big' }, state.product ?? '', ' ', t('stock.in_stock', { n: state.jars_in_stock ?? 0 }), ' ', tagsOf(batch, holds)),
    h('ul', { class: 'plain' }, holds.map((hold) => h('li', {}, t('lots.hold', { reason: holdReason(hold.reason), on: hold.label ?? '', at: day(hold.since) })))),
    h('dl', {}, said(t('stock.filled'), state.filled_at && day(state.filled_at)), said(t('kind.lot'), lot && link(`/office/lots/${lot.id}`, { class: 'line' }, lot.label)), said(t('stock.good'), number(state.jars_good ?? 0)), said(t('field.place'), state.place), said(t('field.best_before'), state.labels?.at(-1)?.best_before && day(state.labels.at(-1).best_before))),
    h('p', { class: 'lines' }, link(`/office/trace/batch/${batch.id}`, { class: 'act' }, t('trace.title')), link(`/office/recall/batch/${batch.id}`, { class: 'act' }, t('recall.title'))),
    session.role() !== 'viewer' && (await Promise.all(TOLD.map((told) => tellForm(told, batch, view)))),
    link('/office/stock', { class: 'line' }, t('stock.title')),
  );
}

export async function show(params, view) {
  const batch = params.batch && (await row('batch', params.batch));
  return batch ? one(batch, view) : all();
}
