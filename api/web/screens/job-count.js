// Count: colonies fit to produce at the start of the flow, the figure that every yield is divided by. What the book says
// is shown only after something was typed.

import { button, h } from '../dom.js';
import { keypad } from '../keypad.js';
import { note, record } from '../shell.js';
import { day, t, today } from '../words.js';

export const needsHive = false;

let fit = null;

const flowOf = (yard) => (yard.state.flows ?? []).at(-1);

function flowActs(yard) {
  const flow = flowOf(yard);
  const on = today();
  const runs = flow && !flow.until;
  const start = () => record([{ kind: 'flow_started', data: { yard_id: yard.id, on } }], t('say.flow_started', { yard: yard.label }));
  const end = () => record([{ kind: 'flow_ended', data: { yard_id: yard.id, on } }], t('say.flow_ended', { yard: yard.label }));
  return [
    h('h2', {}, t('count.flow')),
    h('p', {}, flow ? t(flow.until ? 'count.flow_was' : 'count.flow_runs', { from: day(flow.from), until: flow.until ? day(flow.until) : '' }) : t('count.no_flow')),
    runs ? button('flow-end', end, { class: 'wide' }, t('count.flow_end')) : button('flow-start', start, { class: 'wide' }, t('count.flow_start')),
  ];
}

export async function pane({ yard, hives, view }) {
  if (view.fresh) fit = null;
  const keep = async (unfit) => {
    const data = { yard_id: yard.id, on: today(), fit, unfit };
    const told = await record([{ kind: 'colonies_counted', data }], t('say.counted', { n: fit, yard: yard.label, hives: hives.length }));
    if (told) fit = null;
    view.redraw();
  };
  const pad = (name, label, done, extra) => keypad({ name, label, unit: '', places: 0, next: t('act.next'), done: (typed) => (typed === null ? note(t('count.missing')) : done(typed)), extra });
  const second = fit !== null;
  const asked = second
    ? pad('unfit', t('count.unfit'), keep, [button('skip-unfit', () => keep(undefined), { class: 'key word' }, t('key.skip'))])
    : pad('fit', t('count.fit', { yard: yard.label }), (typed) => view.redraw((fit = typed)));
  asked.field.dataset.first = '1';
  const last = (yard.state.counts ?? []).at(-1);
  return [asked.element, second ? null : last && h('p', {}, t('count.last', { at: day(last.on) })), second ? null : flowActs(yard)];
}
