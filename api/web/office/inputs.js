// What a season's figures ask for: days of the flow, counts, queens, hours, costs, prices, honey left on the hives.

import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { newId } from '../entry.js';
import { rowsAt, rowsOf } from '../store.js';
import { byLabel, day, number, t, today } from '../words.js';
import { ready } from './choices.js';
import * as forms from './forms.js';

const WORK = ['field', 'travel', 'house', 'bottling', 'selling', 'office'];
const COSTS = ['feed', 'medicine', 'bees', 'fuel', 'yard_rent', 'wages', 'power_and_water', 'jars_and_labels', 'selling', 'supplies', 'repairs', 'insurance', 'interest', 'other', 'depreciation'];
const INCOMES = ['wax', 'pollination', 'bees', 'other'];
const PRICES = ['honey', 'honey_in_jars', 'honey_in_bulk', 'own_hour', 'drying_hour'];
const ACCIDENTS = ['bear', 'theft', 'flood', 'fire', 'storm', 'vandalism', 'poisoning', 'other'];

const yard = ['yard_id', 'one', { needs: true, rows: 'yard' }];
const perhaps = ['yard_id', 'one', { rows: 'yard' }];
const hive = ['hive_id', 'one', { needs: true, rows: 'hive' }];
const on = ['on', 'date', { needs: true, today: true }];
const words = (list, say) => ({ needs: true, words: list, say });

// A queen is told of the hive she is in. Bees that nobody wrote down yet are written down with her.
async function queen({ hive_id, queen_line, ...more }) {
  const [bees] = (await rowsAt(`colony@${hive_id}`)).slice(-1);
  return bees ? { kind: 'colony_requeened', data: { colony_id: bees.id, queen_line, ...more } } : { kind: 'colony_registered', data: { colony_id: newId(), hive_id, queen_line } };
}

// [kind, fields, of what it is: the books and the operation have the same id, or how it becomes an entry].
const INPUTS = {
  counts: ['colonies_counted', [yard, on, ['fit', 'count', { needs: true }], ['unfit', 'count']]],
  flow_from: ['flow_started', [yard, on]],
  flow_until: ['flow_ended', [yard, on]],
  queens: ['colony_requeened', [hive, on, ['queen_line', 'text'], ['text', 'text']], queen],
  left: ['honey_left', [hive, on, ['honey_g', 'mass', { needs: true }], ['weighed', 'yes'], ['text', 'text']]],
  hours: ['work_booked', [on, ['work', 'one', words(WORK, 'work')], ['minutes', 'minutes', { needs: true }], perhaps, ['paid', 'yes'], ['text', 'text']], 'books_id'],
  costs: ['cost_booked', [on, ['cost', 'one', words(COSTS, 'cost')], ['amount_hundredths', 'money', { needs: true }], perhaps, ['text', 'text']], 'books_id'],
  incomes: ['income_booked', [on, ['income', 'one', words(INCOMES, 'income')], ['amount_hundredths', 'money', { needs: true }], ['text', 'text']], 'books_id'],
  prices: ['price_set', [['season', 'count', { needs: true, year: true }], ['price', 'one', words(PRICES, 'price')], ['amount_hundredths', 'money', { needs: true }], ['text', 'text']], 'books_id'],
  accidents: ['yield_left_out', [hive, ['season', 'count', { needs: true, year: true }], ['accident', 'one', words(ACCIDENTS, 'accident')], ['reason', 'text', { needs: true }]]],
  plan: ['season_planned', [['season', 'count', { needs: true, year: true }], ['colonies', 'count', { needs: true }], ['jars', 'jars', { called: 'planned_jars' }]], 'operation_id'],
  region: ['region_chosen', [['country', 'text', { needs: true }], ['region', 'text']], 'operation_id'],
};

async function inputForm(what, year, view) {
  const [kind, fields, ours] = INPUTS[what];
  const now = today();
  const begin = ([key, type, more = {}]) => [key, type, { ...more, value: more.year ? year : more.today ? (now.startsWith(String(year)) ? now : `${year}-06-01`) : more.value }];
  const spec = await ready(fields.map(begin));
  const plain = (said) => ({ kind, data: { ...(ours && { [ours]: session.who().operation_id }), ...said } });
  const save = async (said) => forms.saved([await (typeof ours === 'function' ? ours : plain)(said)], t('say.told', { what: t(`inputs.${what}`) }), view);
  const empty = spec.some(([, , more]) => more.needs && more.rows && more.list.length === 0);
  return empty ? h('p', {}, t('inputs.first', { what: t(`inputs.${what}`) })) : forms.quick(`${what}-form`, t(`inputs.${what}`), spec, { save, act: t('act.save') });
}

const of = (list, year) => (list ?? []).filter((one) => (one.on ?? one.from ?? '').startsWith(String(year)));

async function known(year) {
  const yards = (await rowsOf('yard')).sort(byLabel);
  const row = ({ label, state }) => {
    const flows = of(state.flows, year).map((flow) => t('season.between', { low: day(flow.from), high: flow.until ? day(flow.until) : t('unit.none') }));
    const counts = of(state.counts, year).map((count) => t('inputs.counted', { n: number(count.fit), at: day(count.on) }));
    return [label ?? t('unit.none'), flows.join('; ') || t('inputs.not_told'), counts.join('; ') || t('inputs.not_told')];
  };
  return forms.table(t('inputs.known', { year }), [[t('kind.yard')], [t('inputs.flow')], [t('inputs.counts')]], yards.map(row));
}

export async function show(params, view) {
  const year = Number(params.year) || new Date().getFullYear();
  await rules.start();
  // What this program's rules do not know yet is not offered.
  const offered = Object.keys(INPUTS).filter((what) => rules.knows(INPUTS[what][0]));
  const chosen = offered.includes(params.what) ? params.what : null;
  const to = (what) => h('li', {}, link(`/office/inputs/${year}/${what}`, { class: 'row-link' }, h('span', { class: 'row-name' }, t(`inputs.${what}`)), h('span', { class: 'row-more' }, t(`inputs.for.${what}`))));
  return forms.page(
    t('inputs.of', { year }),
    h('nav', { class: 'picks', 'aria-label': t('season.years') }, [1, 0, -1, -2, -3].map((off) => new Date().getFullYear() + off).map((one) => link(`/office/inputs/${one}${chosen ? `/${chosen}` : ''}`, { class: 'line', 'aria-current': one === year ? 'page' : null }, String(one)))),
    chosen && (await inputForm(chosen, year, view)),
    !chosen && h('ul', { class: 'rows' }, offered.map(to)),
    ['counts', 'flow_from', 'flow_until', null].includes(chosen) && (await known(year)),
    h('p', { class: 'lines' }, chosen && link(`/office/inputs/${year}`, { class: 'line' }, t('inputs.title')), link(`/office/season/${year}`, { class: 'line' }, t('season.title'))),
  );
}
