// The warm room: its air, which supers dry in it, and what that air does to their honey. Figures and cautions come from
// the rules.

import { button, h } from '../dom.js';
import { newId } from '../entry.js';
import { keypad } from '../keypad.js';
import * as rules from '../rules.js';
import { note, record } from '../shell.js';
import { row, rowsAt, rowsOf } from '../store.js';
import { byLabel, number, percent, t, temperatureUnit, tenthsCOf } from '../words.js';
import { countPad, notReckoned, padPage, page, sentences, to } from './parts.js';
import { steady, superTile } from './tiles.js';

// What the thermometer showed, while the humidity is typed.
let air = null;

const shown = (tenthsC) => `${number(temperatureUnit() === '°F' ? (tenthsC * 9) / 50 + 32 : tenthsC / 10, 1)} ${temperatureUnit()}`;
const airWords = (read) => (read.humidity_percent === undefined ? shown(read.air_tenths_c) : t('room.air', { warmth: shown(read.air_tenths_c), humidity: read.humidity_percent }));

async function first() {
  const data = { room_id: newId(), name: t('room.first') };
  await record([{ kind: 'room_registered', data }], t('say.room', { room: data.name }), { house: true });
}

async function list() {
  const rooms = (await rowsOf('room')).sort(byLabel);
  const last = (room) => (room.state.air ?? []).at(-1);
  return page(
    t('room.title'),
    ['/house', t('house.title')],
    rooms.length === 0 && [h('p', {}, t('room.none')), button('first-room', first, { class: 'main wide' }, t('room.set_up'))],
    h('ul', { class: 'rows' }, rooms.map((room) => h('li', {}, to(`/house/warm-room/${room.id}`, room.label, last(room) ? airWords(last(room)) : t('room.not_read'))))),
  );
}

function readAir(room, view) {
  const keep = async (humidity_percent) => {
    const data = { room_id: room.id, air_tenths_c: air, humidity_percent };
    if (!(await record([{ kind: 'room_read', data }], t('say.air', { room: room.label, air: airWords(data) }), { house: true }))) return;
    air = null;
    await view.go(`/house/warm-room/${room.id}`, { replace: true });
  };
  if (air !== null) {
    return padPage(room.label, countPad('humidity', t('room.humidity'), '%', keep, { extra: [button('skip-humidity', () => keep(undefined), { class: 'key word' }, t('key.skip'))] }));
  }
  const pad = keypad({
    name: 'air',
    label: t('room.warmth'),
    unit: temperatureUnit(),
    places: 1,
    next: t('act.next'),
    done: (typed) => (typed === null ? note(t('room.warmth_missing')) : view.go(`/house/warm-room/${room.id}/air`, { replace: true }, (air = tenthsCOf(typed)))),
  });
  return padPage(room.label, pad);
}

async function advice(room, supers) {
  if (!rules.isReady() || supers.length === 0) return null;
  const answer = await rules.drying(room.id, supers.map((one) => one.id));
  if (answer.not_reckoned) return notReckoned(answer);
  const { plan, not_weighed, not_measured } = answer;
  const range = (span) => t('room.hours', { from: number(span.from_h), to: number(span.to_h) });
  return [
    h('p', { class: 'big' }, t(`outlook.${plan.outlook}`)),
    plan.driest_moisture_hundredths && h('p', {}, t('room.driest', { value: percent(plan.driest_moisture_hundredths.value) })),
    plan.planned && h('p', {}, range(plan.planned)),
    plan.measure_after_h !== undefined && plan.measure_after_h !== null && h('p', {}, t('room.measure_after', { n: plan.measure_after_h })),
    not_weighed.length > 0 && h('p', {}, t('room.not_weighed', { n: not_weighed.length })),
    not_measured.length > 0 && h('p', {}, t('room.not_measured', { n: not_measured.length })),
    sentences(plan.reasons),
    plan.cautions.map((caution) => h('p', { class: 'caution' }, caution)),
  ];
}

export async function show(params, view) {
  const room = params.room && (await row('room', params.room));
  if (!room) return list();
  if (params.step === 'air') return view.fresh ? readAir(room, view) : undefined;
  air = null;
  const supers = await steady(`room/${room.id}`, async () => [...(await rowsAt('super@drying')), ...(await rowsAt('super@in_house'))].sort(byLabel), view.fresh);
  const drying = supers.filter((one) => one.status === 'drying');
  const turn = (one) => {
    const kind = one.status === 'drying' ? 'drying_stopped' : 'drying_started';
    return record([{ kind, data: { super_ids: [one.id], room_id: room.id } }], t(`say.${kind}`, { super: one.label }), { house: true });
  };
  const last = (room.state.air ?? []).at(-1);
  return page(
    room.label,
    ['/house/warm-room', t('room.title')],
    h('p', { class: 'big' }, last ? airWords(last) : t('room.not_read')),
    button('read-air', () => view.go(`/house/warm-room/${room.id}/air`), { class: 'main wide' }, t('room.read')),
    h('h2', {}, t('room.drying', { n: drying.length })),
    await advice(room, drying),
    h('h2', {}, t('room.which')),
    supers.length === 0 && h('p', {}, t('run.none_waiting')),
    h('div', { class: 'tiles' }, supers.map((one) => superTile(one, { done: one.status === 'drying', more: t(`status.${one.status}`), act: () => turn(one) }))),
  );
}
