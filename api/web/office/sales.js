// Sales: who got which jars, when, for how much, and what came back.

import { button, h, link } from '../dom.js';
import { newId } from '../entry.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { record } from '../shell.js';
import { row, rowsOf } from '../store.js';
import { holdReason, tagsOf } from '../tags.js';
import { byLabel, day, mass, number, t } from '../words.js';
import * as forms from './forms.js';

const LISTED = 200;
// Lines of the sale that is being written: { batch, jars, price_hundredths }.
let lines = [];

const money = (hundredths) => (hundredths === undefined || hundredths === null ? t('unit.none') : number(hundredths / 100, 2));

async function inStock() {
  const batches = (await rowsOf('batch')).filter((batch) => (batch.state.jars_in_stock ?? 0) > 0);
  return batches.sort(byLabel).map((batch) => [batch, rules.isReady() ? rules.holdsOn('batch', batch.id) : []]);
}

function lineForm(stock, view) {
  const name = ([batch, holds]) => t('sales.batch', { code: batch.label, product: batch.state.product ?? '', n: batch.state.jars_in_stock }) + (holds.length > 0 ? ` (${t('tag.hold', { reason: holdReason(holds[0].reason) })})` : '');
  const spec = [
    ['batch_id', 'one', { needs: true, label: t('kind.batch'), list: stock.map((one) => [one[0].id, name(one)]) }],
    ['jars', 'count', { needs: true }],
    ['price_hundredths', 'money', { label: t('sales.price_line') }],
  ];
  const save = (line) => {
    const [batch] = stock.find(([one]) => one.id === line.batch_id);
    lines.push({ ...line, label: batch.label });
    view.redraw();
  };
  return forms.quick('line-form', t('sales.line'), spec, { save, act: t('sales.add_line') });
}

function written(view) {
  if (lines.length === 0) return null;
  const drop = (at) => button(`drop-${at}`, () => view.redraw(lines.splice(at, 1)), {}, t('sales.drop'));
  const rows = lines.map((line, at) => [line.label, number(line.jars), money(line.price_hundredths), drop(at)]);
  return forms.table(t('sales.lines'), [[t('lots.code')], [t('field.jars'), true], [t('sales.price'), true], ['']], rows);
}

async function saleForm(view) {
  const buyers = (await rowsOf('customer')).sort(byLabel);
  const spec = [
    ['customer_id', 'one', { label: t('kind.customer'), list: buyers.map((buyer) => [buyer.id, buyer.label]) }],
    ['place', 'text'],
    ['note_number', 'text'],
  ];
  const check = ({ customer_id: buyer, place }) => (!buyer && !place ? { place: t('sales.whom') } : {});
  const save = async (said) => {
    const goods = lines.map((line) => ({ goods: { jars: { batch_id: line.batch_id, count: line.jars } }, price_hundredths: line.price_hundredths }));
    const wish = { kind: 'delivered', data: { delivery_id: newId(), lines: goods, ...said } };
    if (!(await record([wish], t('say.sold', { n: lines.reduce((sum, line) => sum + line.jars, 0) }), { house: true }))) return;
    lines = [];
    view.redraw();
  };
  return forms.quick('sale-form', t('sales.to_whom'), spec, { check, save, act: t('sales.save') });
}

const jarsOf = (delivery) => (delivery.state.lines ?? []).reduce((sum, line) => sum + (line.goods.jars?.count ?? 0), 0);
const priceOf = (delivery) => (delivery.state.lines ?? []).reduce((sum, line) => sum + (line.price_hundredths ?? 0), 0);

async function list() {
  const deliveries = (await rowsOf('delivery')).sort((a, b) => (b.state.at ?? '').localeCompare(a.state.at ?? ''));
  const buyers = new Map((await rowsOf('customer')).map((buyer) => [buyer.id, buyer.label]));
  const rows = deliveries.slice(0, LISTED).map((one) => [
    link(`/office/sales/${one.id}`, { class: 'line' }, one.state.at ? day(one.state.at) : t('unit.none')),
    [buyers.get(one.state.customer_id) ?? t('sales.public', { place: one.state.place ?? '' }), ' ', tagsOf(one)],
    one.state.note_number ?? '',
    number(jarsOf(one)),
    money(priceOf(one)),
  ]);
  return forms.table(t('sales.list'), [[t('season.day')], [t('kind.customer')], [t('field.note_number')], [t('field.jars'), true], [t('sales.price'), true]], rows);
}

async function one(delivery, view) {
  const buyer = delivery.state.customer_id && (await row('customer', delivery.state.customer_id));
  const rows = await Promise.all(
    (delivery.state.lines ?? []).map(async ({ goods, price_hundredths }) => {
      const [kind, id] = goods.jars ? ['batch', goods.jars.batch_id] : ['fill', goods.bulk.fill_id];
      const what = await row(kind, id);
      return [link(`/office/trace/${kind}/${id}`, { class: 'line' }, what?.label ?? t('unit.none')), goods.jars ? number(goods.jars.count) : mass(goods.bulk.weight_g), money(price_hundredths)];
    }),
  );
  const batches = await Promise.all((delivery.state.lines ?? []).filter((line) => line.goods.jars).map((line) => row('batch', line.goods.jars.batch_id)));
  const spec = [
    ['batch_id', 'one', { needs: true, label: t('kind.batch'), list: batches.filter(Boolean).map((batch) => [batch.id, batch.label]) }],
    ['jars', 'count', { needs: true }],
    ['reason', 'text', { needs: true }],
  ];
  const save = (said) => forms.saved([{ kind: 'returned', data: { delivery_id: delivery.id, ...said } }], t('say.returned', { n: said.jars }), view);
  return forms.page(
    t('sales.one', { at: delivery.state.at ? day(delivery.state.at) : '' }),
    h('p', { class: 'big' }, buyer ? link(`/office/set-up/buyers/${buyer.id}`, { class: 'line' }, buyer.label) : t('sales.public', { place: delivery.state.place ?? '' })),
    buyer && h('p', {}, [buyer.state.address, buyer.state.phone].filter(Boolean).join(', ')),
    forms.table(t('sales.lines'), [[t('lots.code')], [t('sales.amount'), true], [t('sales.price'), true]], rows),
    (delivery.state.jars_returned ?? 0) > 0 && h('p', {}, t('sales.came_back', { n: delivery.state.jars_returned })),
    session.mayOffice() && batches.length > 0 && forms.quick('return-form', t('sales.return'), spec, { save, act: t('act.save') }),
    link('/office/sales', { class: 'line' }, t('sales.title')),
  );
}

export async function show(params, view) {
  const delivery = params.delivery && (await row('delivery', params.delivery));
  if (delivery) return one(delivery, view);
  if (view.fresh) lines = [];
  const stock = await inStock();
  return forms.page(
    t('sales.title'),
    session.mayOffice() && (stock.length > 0 ? [lineForm(stock, view), written(view), lines.length > 0 && (await saleForm(view))] : h('p', {}, t('sales.no_jars'))),
    h('p', { class: 'lines' }, link('/office/set-up/buyers', { class: 'line' }, t('setup.buyers')), link('/office/stock', { class: 'line' }, t('stock.title'))),
    await list(),
  );
}
