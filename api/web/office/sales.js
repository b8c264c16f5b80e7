// Sales: who got which jars, when, for how much, and what came back.

import { button, h, link } from '../dom.js';
import { newId } from '../entry.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { record } from '../shell.js';
import { row, rowsOf } from '../store.js';
import { holdReason, tagsOf } from '../tags.js';
import { byLabel, day, known, mass, number, t } from '../words.js';
import * as forms from './forms.js';
import { mark, order } from './orders.js';
import { telling } from './tell.js';

const LISTED = 200;
// Lines of the sale that is being written: { label, goods, price_hundredths }.
let lines = [];
const chosenFill = () => new URLSearchParams(location.search).get('fill') ?? undefined;

const money = (hundredths) => (hundredths === undefined || hundredths === null ? t('unit.none') : number(hundredths / 100, 2));

async function inStock() {
  const batches = (await rowsOf('batch')).filter((batch) => (batch.state.jars_in_stock ?? 0) > 0);
  return batches.sort(byLabel).map((batch) => [batch, rules.isReady() ? rules.holdsOn('batch', batch.id) : []]);
}

const held = (holds) => (holds.length > 0 ? ` (${t('tag.hold', { reason: holdReason(holds[0].reason) })})` : '');

function lineForm(stock, view) {
  const name = ([batch, holds]) => t('sales.batch', { code: [batch.label, batch.state.product].filter(Boolean).join(' '), n: batch.state.jars_in_stock }) + held(holds);
  const spec = [
    ['batch_id', 'one', { needs: true, label: t('kind.batch'), list: stock.map((one) => [one[0].id, name(one)]) }],
    ['jars', 'count', { needs: true }],
    ['price_hundredths', 'money', { label: t('sales.price_line') }],
  ];
  const save = (line) => {
    const [batch] = stock.find(([one]) => one.id === line.batch_id);
    view.redraw(lines.push({ label: batch.label, goods: { jars: { batch_id: line.batch_id, count: line.jars } }, price_hundredths: line.price_hundredths }));
  };
  return forms.quick('line-form', t('sales.line'), spec, { save, act: t('sales.add_line') });
}

// Honey that is sold as it stands, out of one container.
async function bulkForm(view) {
  const fills = (await rowsOf('fill')).filter((fill) => (fill.state.content_g ?? 0) > 0).sort(byLabel);
  if (fills.length === 0) return null;
  const name = (fill) => t('sales.fill', { code: fill.label ?? t('unit.none'), mass: mass(fill.state.content_g) }) + held(rules.isReady() ? rules.holdsOn('fill', fill.id) : []);
  const spec = [
    ['fill_id', 'one', { needs: true, ask: true, label: t('kind.container'), list: fills.map((fill) => [fill.id, name(fill)]), value: chosenFill() }],
    ['weight_g', 'mass', { needs: true, called: 'honey_sold' }],
    ['price_hundredths', 'money', { label: t('sales.price_bulk') }],
  ];
  const save = ({ fill_id, weight_g, price_hundredths }) => view.redraw(lines.push({ label: fills.find((fill) => fill.id === fill_id).label, goods: { bulk: { fill_id, weight_g } }, price_hundredths }));
  const form = (title) => forms.quick('bulk-form', title, spec, { save, act: t('sales.add_line') });
  return chosenFill() ? form(t('sales.bulk')) : forms.behind(t('sales.bulk'), form(null));
}

const amountOf = (goods) => (goods.jars ? number(goods.jars.count) : mass(goods.bulk.weight_g));

function written(view) {
  if (lines.length === 0) return null;
  const drop = (at) => button(`drop-${at}`, () => view.redraw(lines.splice(at, 1)), {}, t('sales.drop'));
  const rows = lines.map((line, at) => [line.label, amountOf(line.goods), money(line.price_hundredths), drop(at)]);
  return forms.table(t('sales.lines'), [[t('lots.code')], [t('sales.amount'), true], [t('sales.price'), true], ['']], rows);
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
    const wish = { kind: 'delivered', data: { delivery_id: newId(), lines: lines.map(({ goods, price_hundredths }) => ({ goods, price_hundredths })), ...said } };
    const [jars, bulk] = [jarsIn(lines), bulkIn(lines)];
    if (!(await record([wish], bulk === 0 ? t('say.sold', { n: jars }) : t('say.sold_bulk', { n: jars, mass: mass(bulk) }), { house: true }))) return;
    lines = [];
    await view.go('/office/sales', { replace: true });
  };
  return forms.quick('sale-form', t('sales.to_whom'), spec, { check, save, act: t('sales.save') });
}

const jarsIn = (list) => list.reduce((sum, { goods }) => sum + (goods.jars?.count ?? 0), 0);
const bulkIn = (list) => list.reduce((sum, { goods }) => sum + (goods.bulk?.weight_g ?? 0), 0);
const wentOf = ({ state: { lines: went = [] } }) => [(jarsIn(went) > 0 || bulkIn(went) === 0) && number(jarsIn(went)), bulkIn(went) > 0 && mass(bulkIn(went))].filter(Boolean).join(', ');
const priceOf = (delivery) => (delivery.state.lines ?? []).reduce((sum, line) => sum + (line.price_hundredths ?? 0), 0);

async function list() {
  // What did not leave yet stands among the orders.
  const deliveries = (await rowsOf('delivery')).filter(({ state }) => state.at).sort((a, b) => (b.state.at ?? '').localeCompare(a.state.at ?? ''));
  const buyers = new Map((await rowsOf('customer')).map((buyer) => [buyer.id, buyer.label]));
  const rows = deliveries.slice(0, LISTED).map((one) => [
    link(`/office/sales/${one.id}`, { class: 'line' }, one.state.at ? day(one.state.at) : t('unit.none')),
    [buyers.get(one.state.customer_id) ?? t('sales.public', { place: one.state.place ?? '' }), ' ', tagsOf(one)],
    one.state.note_number ?? '',
    wentOf(one),
    money(priceOf(one)),
  ]);
  return forms.table(t('sales.list'), [[t('season.day')], [t('kind.customer')], [t('field.note_number')], [t('sales.amount'), true], [t('sales.price'), true]], rows);
}

const statusWord = (one) => (known(`status.${one.status}`) ? t(`status.${one.status}`) : '');

async function one(delivery, view) {
  const buyer = delivery.state.customer_id && (await row('customer', delivery.state.customer_id));
  const rows = await Promise.all(
    (delivery.state.lines ?? []).map(async ({ goods, price_hundredths }) => {
      const [kind, id] = goods.jars ? ['batch', goods.jars.batch_id] : ['fill', goods.bulk.fill_id];
      const what = await row(kind, id);
      return [link(`/office/trace/${kind}/${id}`, { class: 'line' }, what?.label ?? t('unit.none')), amountOf(goods), money(price_hundredths)];
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
    h('p', {}, statusWord(delivery)),
    session.mayOffice() && !delivery.state.order?.paid_at && h('p', { class: 'lines no-print' }, button('paid', () => mark(delivery, 'paid', view), {}, t('sales.paid'))),
    session.mayOffice() && batches.length > 0 && forms.quick('return-form', t('sales.return'), spec, { save, act: t('act.save') }),
    await telling(delivery),
    link('/office/sales', { class: 'line' }, t('sales.title')),
  );
}

export async function show(params, view) {
  const delivery = params.delivery && (await row('delivery', params.delivery));
  if (delivery) return delivery.state.order && !delivery.state.at ? order(delivery, view) : one(delivery, view);
  if (view.fresh) lines = [];
  const stock = await inStock();
  return forms.page(
    t('sales.title'),
    session.mayOffice() && [stock.length > 0 ? lineForm(stock, view) : h('p', {}, t('sales.no_jars')), await bulkForm(view), written(view), lines.length > 0 && (await saleForm(view))],
    h('p', { class: 'lines' }, link('/office/orders', { class: 'line' }, t('orders.title')), link('/office/set-up/buyers', { class: 'line' }, t('setup.buyers')), link('/office/stock', { class: 'line' }, t('stock.title'))),
    await list(),
  );
}
