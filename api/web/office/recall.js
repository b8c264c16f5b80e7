// A recall from a thing: which jars, where they are, and whom to ring. Worked out from the rows of this device, so that
// it can be read and printed without a signal; the service works it out the same.

import { button, h, link } from '../dom.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { row, rowsById } from '../store.js';
import { day, known, mass, moment, number, t } from '../words.js';
import * as forms from './forms.js';

function totals(batches) {
  const sum = (field) => batches.reduce((all, batch) => all + (batch[field] ?? 0), 0);
  return ['jars_filled', 'in_stock', 'sold_to_customers', 'sold_to_public', 'given_broken_samples', 'unexplained'].map(sum);
}

async function who(traced) {
  const ids = traced.forward.filter((step) => step.kind === 'delivery').map((step) => step.id);
  const deliveries = await rowsById('delivery', ids);
  const batches = new Map(traced.affected.batches.map((batch) => [batch.subject?.id ?? batch.id, batch.code]));
  const buyers = new Map();
  const open = [];
  for (const { state } of deliveries.sort((a, b) => (a.state.at ?? '').localeCompare(b.state.at ?? ''))) {
    const jars = (state.lines ?? []).filter((line) => batches.has(line.goods.jars?.batch_id));
    const got = { at: state.at, note: state.note_number, place: state.place, jars: jars.reduce((all, line) => all + line.goods.jars.count, 0), codes: [...new Set(jars.map((line) => batches.get(line.goods.jars.batch_id)))], bulk: (state.lines ?? []).reduce((all, line) => all + (line.goods.bulk?.weight_g ?? 0), 0) };
    if (state.customer_id) buyers.set(state.customer_id, [...(buyers.get(state.customer_id) ?? []), got]);
    else open.push(got);
  }
  return { buyers, open };
}

const dates = (got) => got.map((one) => [one.at ? day(one.at) : '', one.note].filter(Boolean).join(' · ')).join('; ');
const pieces = (got) => got.reduce((all, one) => all + one.jars, 0);
const codes = (got) => [...new Set(got.flatMap((one) => one.codes))].join(', ');
const bulk = (got) => got.reduce((all, one) => all + one.bulk, 0);

export async function show(params) {
  await rules.start();
  const one = await row(params.kind, params.id);
  if (!one || !known(`kind.${params.kind}`)) return forms.page(t('recall.title'), h('p', {}, t('find.nothing', { text: params.id ?? '' })));
  const traced = rules.trace(one.kind, one.id);
  const { batches } = traced.affected;
  const { buyers, open } = await who(traced);
  const people = await Promise.all([...buyers].map(async ([id, got]) => [await row('customer', id), got]));
  const amount = (got) => [number(pieces(got)), bulk(got) > 0 && `, ${mass(bulk(got))}`].filter(Boolean).join('');
  const ring = people.map(([buyer, got]) => [
    buyer?.label ?? t('unit.none'),
    buyer?.state.phone ? h('a', { href: `tel:${buyer.state.phone.replace(/[^\d+]/g, '')}`, class: 'line' }, buyer.state.phone) : t('recall.no_phone'),
    buyer?.state.address ?? '',
    amount(got),
    codes(got),
    dates(got),
  ]);
  const batchRow = (batch) => [batch.code, t(`certainty.${batch.certainty}`), ...[batch.jars_filled, batch.in_stock, batch.sold_to_customers, batch.sold_to_public, batch.given_broken_samples, batch.unexplained].map((n) => number(n))];
  const columns = ['recall.filled', 'recall.in_stock', 'recall.buyers', 'recall.public', 'recall.other', 'recall.unexplained'].map((name) => [t(name), true]);
  const names = session.who().names;
  return forms.page(
    t('recall.of', { what: `${t(`kind.${one.kind}`)} ${one.label ?? ''}` }),
    h('p', {}, [names?.operation, moment(new Date())].filter(Boolean).join(', ')),
    h('p', { class: 'caution' }, t('recall.caution')),
    h('p', { class: 'big' }, t('recall.jars', { n: traced.affected.jars, mass: mass(traced.affected.net_g), buyers: number(buyers.size) })),
    ring.length > 0
      ? forms.table(t('recall.ring'), [[t('kind.customer')], [t('field.phone')], [t('field.address')], [t('field.jars'), true], [t('lots.code')], [t('recall.dates')]], ring)
      : h('p', {}, t('recall.nobody')),
    open.length > 0 && forms.table(t('recall.public_sales'), [[t('season.day')], [t('field.place')], [t('field.jars'), true], [t('lots.code')]], open.map((got) => [got.at ? day(got.at) : '', got.place ?? '', amount([got]), codes([got])])),
    batches.length > 0 && forms.table(t('recall.batches'), [[t('lots.code')], [t('trace.sure')], ...columns], [...batches.map(batchRow), [t('recall.all'), '', ...totals(batches).map((n) => number(n))]]),
    h('p', { class: 'lines no-print' }, button('print', () => print(), {}, t('act.print')), link(`/office/trace/${one.kind}/${one.id}`, { class: 'act' }, t('trace.title'))),
  );
}
