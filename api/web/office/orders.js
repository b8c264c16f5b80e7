// Orders: what buyers want and by when, what was put together for them out of stock, and how it becomes a delivery. An
// order and its delivery are one thing under one id.

import { button, h, link } from '../dom.js';
import { newId } from '../entry.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { note, record } from '../shell.js';
import { row, rowsOf } from '../store.js';
import { holdReason, tag, tagsOf } from '../tags.js';
import { byLabel, day, known, number, t } from '../words.js';
import * as forms from './forms.js';
import { telling } from './tell.js';

// Lines of the order that is being written.
let wanted = [];

const isOpen = ({ state }) => state.order && !state.at && !state.order.cancelled;
const statusOf = (one) => (known(`status.${one.status}`) ? t(`status.${one.status}`) : '');
const what = ({ nominal_g, product }) => [product, `${number(nominal_g)} g`].filter(Boolean).join(' ');
const wants = (one) => (one.state.order?.wanted ?? []).map((line) => t('orders.line', { n: number(line.count), what: what(line) })).join(', ');

const deliveries = async (wish) => (await rowsOf('delivery')).filter(wish);

async function buyers() {
  return (await rowsOf('customer')).sort(byLabel).map((buyer) => [buyer.id, buyer.label ?? t('unit.none')]);
}

// Those wanted first stand first, then those without a day.
const byDay = (a, b) => (a.state.order.wanted_on ?? '9').localeCompare(b.state.order.wanted_on ?? '9') || (a.state.order.ordered_at ?? '').localeCompare(b.state.order.ordered_at ?? '');

async function list() {
  const open = (await deliveries(isOpen)).sort(byDay);
  const names = new Map(await buyers());
  if (open.length === 0) return h('p', {}, t('orders.none'));
  const rows = open.map((one) => [
    link(`/office/orders/${one.id}`, { class: 'line' }, names.get(one.state.customer_id) ?? t('orders.nobody')),
    [statusOf(one), ' ', tagsOf(one)],
    one.state.order.wanted_on ? day(one.state.order.wanted_on) : '',
    wants(one),
    one.state.note_number ?? '',
  ]);
  return forms.table(t('orders.open'), [[t('setup.one.buyers')], [t('lots.state')], [t('field.wanted_on')], [t('orders.wanted')], [t('field.order_number')]], rows);
}

function lineForm(view) {
  const spec = [['nominal_g', 'grams', { needs: true }], ['count', 'count', { needs: true, called: 'jars' }], ['product', 'text']];
  const save = (line) => view.redraw(wanted.push(line));
  return forms.quick('wanted-form', t('orders.add'), spec, { save, act: t('sales.add_line') });
}

function lines(view) {
  if (wanted.length === 0) return null;
  const drop = (at) => button(`drop-${at}`, () => view.redraw(wanted.splice(at, 1)), {}, t('sales.drop'));
  return forms.table(t('orders.wanted'), [[t('field.product')], [t('field.jars'), true], ['']], wanted.map((line, at) => [what(line), number(line.count), drop(at)]));
}

async function orderForm(view) {
  const chosen = new URLSearchParams(location.search).get('buyer') ?? undefined;
  const spec = [['customer_id', 'one', { needs: true, ask: true, label: t('setup.one.buyers'), list: await buyers(), value: chosen }], ['wanted_on', 'date'], ['note_number', 'text', { called: 'order_number' }]];
  const save = async (said) => {
    const delivery_id = newId();
    const jars = wanted.reduce((sum, line) => sum + line.count, 0);
    if (!(await record([{ kind: 'goods_ordered', data: { delivery_id, wanted, ...said } }], t('say.ordered', { n: jars }), { house: true }))) return;
    wanted = [];
    await view.go(`/office/orders/${delivery_id}`, { replace: true });
  };
  return forms.quick('order-form', t('orders.who'), spec, { save, act: t('orders.save') });
}

// Jars of one size, the oldest first: by the release of the lot, then by the filling.
async function jarsOf(line) {
  const batches = (await rowsOf('batch')).filter(({ state }) => state.nominal_g === line.nominal_g && state.jars_in_stock > 0);
  const lots = new Map((await rowsOf('lot')).map((lot) => [lot.id, lot.state.releases?.at(-1)?.at]));
  const age = ({ state }) => [lots.get(state.lot_id) ?? state.filled_at ?? '', state.filled_at ?? ''].join(' ');
  return batches.map((batch) => ({ batch, age: age(batch), holds: rules.isReady() ? rules.holdsOn('batch', batch.id) : [] })).sort((a, b) => a.age.localeCompare(b.age));
}

const isSame = (line, state) => state?.nominal_g === line.nominal_g && (!line.product || state.product === line.product);

// What is still to be put together of a line, given what was.
async function missing(one) {
  const picked = await Promise.all((one.state.order.picked ?? []).filter(({ goods }) => goods.jars).map(async ({ goods }) => ({ state: (await row('batch', goods.jars.batch_id))?.state, n: goods.jars.count })));
  return (one.state.order.wanted ?? []).map((line) => {
    const mine = picked.filter(({ state, n }) => n > 0 && isSame(line, state));
    let rest = line.count;
    // Of two lines for the same jars each takes what it wants.
    for (const each of mine) [rest, each.n] = [Math.max(0, rest - each.n), Math.max(0, each.n - rest)];
    return { ...line, rest };
  });
}

// Proposes the oldest jars that are not held; those that are stand there with their reason and nothing typed.
async function proposed(rests) {
  const found = new Map();
  for (const line of rests.filter(({ rest }) => rest > 0)) {
    let { rest } = line;
    for (const { batch, holds } of await jarsOf(line)) {
      const one = found.get(batch.id) ?? { batch, holds, take: 0 };
      const take = holds.length === 0 && isSame(line, batch.state) ? Math.min(rest, batch.state.jars_in_stock - one.take) : 0;
      rest -= take;
      found.set(batch.id, { ...one, take: one.take + take });
    }
  }
  return [...found.values()];
}

async function pickForm(one, view) {
  const rests = await missing(one);
  const left = rests.reduce((sum, { rest }) => sum + rest, 0);
  if (left === 0) return null;
  const found = await proposed(rests);
  if (found.length === 0) return h('p', {}, t('orders.no_jars'));
  const held = (holds) => (holds.length > 0 ? ` (${t('tag.hold', { reason: holdReason(holds[0].reason) })})` : '');
  const name = ({ batch, holds }) => t('sales.batch', { code: [batch.label, batch.state.product].filter(Boolean).join(' '), n: batch.state.jars_in_stock }) + held(holds);
  const spec = found.flatMap((each) => [
    [each.batch.id, 'count', { label: t('orders.take_of', { what: name(each) }), value: each.take || undefined }],
    [`price_${each.batch.id}`, 'money', { label: t('orders.price_of', { code: each.batch.label }) }],
  ]);
  const chosen = (said) => found.filter(({ batch }) => said[batch.id] > 0);
  const check = (said) => (chosen(said).length === 0 ? { [found[0].batch.id]: t('orders.take_some') } : {});
  const save = (said) => {
    const goods = chosen(said).map(({ batch }) => ({ goods: { jars: { batch_id: batch.id, count: said[batch.id] } }, price_hundredths: said[`price_${batch.id}`] }));
    const n = goods.reduce((sum, line) => sum + line.goods.jars.count, 0);
    return forms.saved([{ kind: 'order_picked', data: { delivery_id: one.id, lines: goods } }], t('say.picked', { n }), view);
  };
  const short = left - found.reduce((sum, { take }) => sum + take, 0);
  return [
    short > 0 && h('p', {}, tag('check', t('orders.short', { n: number(short) }))),
    forms.quick('pick-form', t('orders.pick'), spec, { check, save, act: t('orders.pick_save') }),
  ];
}

async function put(one) {
  const picked = one.state.order.picked ?? [];
  if (picked.length === 0) return null;
  const rows = await Promise.all(
    picked.map(async ({ goods, price_hundredths }) => {
      const batch = goods.jars && (await row('batch', goods.jars.batch_id));
      const holds = batch && rules.isReady() ? rules.holdsOn('batch', batch.id) : [];
      return [batch ? [link(`/office/stock/${batch.id}`, { class: 'line' }, batch.label), ' ', tagsOf(batch, holds)] : t('unit.none'), number(goods.jars?.count ?? 0), price_hundredths === undefined ? t('unit.none') : number(price_hundredths / 100, 2)];
    }),
  );
  return forms.table(t('orders.picked'), [[t('lots.code')], [t('field.jars'), true], [t('sales.price'), true]], rows);
}

function deliverForm(one, view) {
  const { order, customer_id } = one.state;
  if ((order.picked ?? []).length === 0) return null;
  const save = async (said) => {
    const wish = { kind: 'delivered', data: { delivery_id: one.id, lines: order.picked, customer_id, ...said } };
    const n = order.picked.reduce((sum, { goods }) => sum + (goods.jars?.count ?? 0), 0);
    if (await record([wish], t('say.sold', { n }), { house: true })) await view.go(`/office/sales/${one.id}`, { replace: true });
  };
  return forms.quick('deliver-form', t('orders.deliver'), [['note_number', 'text']], { save, act: t('orders.deliver_save') });
}

export const mark = (one, which, view, more = {}) =>
  forms.saved([{ kind: 'order_marked', data: { delivery_id: one.id, mark: which, ...more } }], t('say.marked', { what: t(`status.${which}`) }), view);

function acts(one, view) {
  const { order } = one.state;
  return !order.confirmed_at && h('p', { class: 'lines' }, button('confirm', () => mark(one, 'confirmed', view), { class: 'main' }, t('orders.confirm')));
}

const cancelForm = (one, view) =>
  forms.behind(t('orders.cancel'), forms.quick('cancel-form', null, [['reason', 'text', { needs: true }]], { save: ({ reason }) => mark(one, 'cancelled', view, { reason }), act: t('orders.cancel') }));

export async function order(one, view) {
  const buyer = one.state.customer_id && (await row('customer', one.state.customer_id));
  const rests = await missing(one);
  const goes = isOpen(one) && session.mayOffice();
  const cancelled = one.state.order.cancelled;
  return forms.page(
    t('orders.one', { buyer: buyer?.label ?? t('orders.nobody') }),
    h('p', { class: 'big' }, statusOf(one), ' ', tagsOf(one)),
    cancelled && h('p', {}, t('orders.cancelled', { at: day(cancelled.at), reason: cancelled.reason ?? '' })),
    h('p', {}, [one.state.note_number && t('orders.number', { number: one.state.note_number }), one.state.order.ordered_at && t('orders.ordered', { at: day(one.state.order.ordered_at) }), one.state.order.wanted_on && t('orders.by', { at: day(one.state.order.wanted_on) })].filter(Boolean).join(' · ')),
    forms.table(t('orders.wanted'), [[t('field.product')], [t('field.jars'), true], [t('orders.rest'), true]], rests.map((line) => [what(line), number(line.count), number(line.rest)])),
    await put(one),
    goes && [acts(one, view), await pickForm(one, view), deliverForm(one, view), cancelForm(one, view)],
    await telling(one),
    h('p', { class: 'lines' }, buyer && link(`/office/set-up/buyers/${buyer.id}`, { class: 'line' }, buyer.label), link('/office/orders', { class: 'line' }, t('orders.title'))),
  );
}

export async function show(params, view) {
  await rules.start();
  const one = params.delivery && (await row('delivery', params.delivery));
  if (one?.state.order) return order(one, view);
  if (params.delivery) note(t('find.nothing', { text: params.delivery }));
  if (view.fresh) wanted = [];
  const nobody = (await buyers()).length === 0;
  const take = nobody ? h('p', {}, t('orders.buyer_first'), ' ', link('/office/set-up/buyers', { class: 'line' }, t('setup.buyers'))) : [lineForm(view), lines(view), wanted.length > 0 && (await orderForm(view))];
  return forms.page(
    t('orders.title'),
    await list(),
    session.mayOffice() && [h('h2', {}, t('orders.take')), take],
    h('p', { class: 'lines' }, link('/office/sales', { class: 'line' }, t('sales.title')), link('/office/stock', { class: 'line' }, t('stock.title'))),
  );
}
