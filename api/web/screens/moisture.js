// Moisture: what was measured, what the meter showed, and the honey's temperature where the meter does not correct.
// The screen keeps the reading as the meter showed it; the rules work out the rest.

import { button, h, link } from '../dom.js';
import { keypad } from '../keypad.js';
import { choose, note, record } from '../shell.js';
import { meta, row, rowsAt, rowsOf, setMeta } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, decimalMark, percent, t, temperatureUnit, tenthsCOf } from '../words.js';

// How each scale is typed and what it is called in an entry.
const SCALES = {
  water: { field: 'moisture_hundredths', places: 1, times: 10, unit: '%' },
  index: { field: 'refractive_index_e4', places: 4, before: '1', unit: 'n' },
  brix: { field: 'brix_hundredths', places: 1, times: 10, unit: '°Bx' },
};
const KINDS = ['lot', 'fill', 'run'];

let chosen = { scale: 'water', meter: null };
let shown = null;

function reading(one) {
  const readings = one.state.filling?.readings ?? one.state.readings ?? [];
  const last = readings.at(-1)?.moisture_hundredths;
  return last === undefined ? t('moisture.not_measured') : percent(last);
}

async function list() {
  const inHouse = (await rowsAt('super@in_house')).sort(byLabel);
  const others = (await Promise.all(KINDS.map((kind) => rowsOf(kind)))).map((rows) => rows.sort(byLabel));
  const open = (one) => !['empty', 'used_up', 'not_made', 'not_filled', 'drained'].includes(one.status);
  const item = (one) =>
    h(
      'li',
      {},
      link(`/house/moisture/${one.kind}/${one.id}`, { class: 'row-link' }, h('span', { class: 'row-name' }, t(`kind.${one.kind}`), ' ', one.label), h('span', { class: 'row-more' }, reading(one)), tagsOf(one)),
    );
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('moisture.title')),
    h('p', {}, t('moisture.where')),
    h('ul', { class: 'rows' }, [...inHouse, ...others.flat().filter(open)].map(item)),
    link('/house', { class: 'line' }, t('house.title')),
  );
}

const index = (typed) => 10000 + typed;

function shownOf(scale, typed) {
  return { [scale.field]: scale.before ? index(typed) : typed * scale.times };
}

async function keep(one, view, tenthsC) {
  const meter = chosen.meter;
  const data = {
    targets: [{ kind: one.kind, id: one.id }],
    shown,
    honey_tenths_c: tenthsC,
    meter_id: meter?.id,
    compensated: meter ? meter.state.compensated : undefined,
  };
  const told = await record([{ kind: 'moisture_read', data }], t('say.measured', { kind: t(`kind.${one.kind}`), label: one.label ?? '' }), { house: true });
  if (!told) return;
  shown = null;
  await view.go('/house/moisture', { replace: true });
}

function temperature(one, view) {
  const pad = keypad({
    name: 'honey',
    label: t('moisture.honey_temperature'),
    unit: temperatureUnit(),
    places: 1,
    next: t('act.next'),
    done: (tenths) => (tenths === null ? note(t('say.temperature_missing')) : keep(one, view, tenthsCOf(tenths))),
    extra: [button('skip-temperature', () => keep(one, view, undefined), { class: 'key word' }, t('key.skip'))],
  });
  return pad;
}

const asksTemperature = () => chosen.meter?.state.compensated !== true;

async function choices(view) {
  const meters = (await rowsOf('meter')).sort(byLabel);
  chosen.meter = meters.find((meter) => meter.id === chosen.meter?.id) ?? meters[0] ?? null;
  const choose = (change) => async () => {
    chosen = { ...chosen, ...change };
    await setMeta('moisture', { scale: chosen.scale, meter: chosen.meter?.id });
    view.redraw();
  };
  const chip = (key, word, on, change) => button(key, choose(change), { class: 'chip', 'aria-pressed': String(on) }, word);
  return h(
    'div',
    { class: 'choices' },
    h('fieldset', { class: 'chips' }, h('legend', {}, t('moisture.scale')), Object.keys(SCALES).map((name) => chip(`scale-${name}`, t(`scale.${name}`), chosen.scale === name, { scale: name }))),
    meters.length > 1 && h('fieldset', { class: 'chips' }, h('legend', {}, t('moisture.meter')), meters.map((meter) => chip(`meter-${meter.id}`, meter.label, chosen.meter?.id === meter.id, { meter }))),
  );
}

export async function show(params, view) {
  const one = params.id && (await row(params.kind, params.id));
  if (!one) return list();
  const before = await meta('moisture');
  if (view.fresh && before) chosen = { scale: SCALES[before.scale] ? before.scale : 'water', meter: { id: before.meter } };
  if (view.fresh) shown = null;
  const picked = await choices(view);
  const scale = SCALES[chosen.scale];
  const on = (next) => {
    shown = next;
    return asksTemperature() ? view.redraw() : keep(one, view, undefined);
  };
  const off = async () => {
    const ends = ['off_scale_wet', 'off_scale_dry'].map((which) => [`off-${which}`, which, t(`key.${which}`)]);
    const which = await choose(t('moisture.off_which'), [], ends, null);
    return which && on(which);
  };
  const pad = shown
    ? temperature(one, view)
    : keypad({
        name: 'reading',
        label: t('moisture.reading', { kind: t(`kind.${one.kind}`), label: one.label ?? '' }),
        unit: scale.unit,
        places: scale.places,
        before: scale.before,
        next: t('act.next'),
        done: (typed) => (typed === null ? note(t(scale.before ? 'say.index_missing' : 'say.reading_missing', { mark: decimalMark() })) : on(shownOf(scale, typed))),
        extra: [button('off-scale', off, { class: 'key word' }, t('key.off_scale'))],
      });
  pad.field.dataset.first = '1';
  return h('div', { class: 'pad-page' }, h('h1', { tabindex: '-1' }, t('moisture.title')), pad.element, !shown && picked);
}
