// Set-up: yards, hives and supers in ranges, containers, meters. Everything becomes entries like any touch.

import { h, link } from '../dom.js';
import { newId } from '../entry.js';
import { record } from '../shell.js';
import { rowsOf } from '../store.js';
import { byLabel, massUnit, gramsOfTenths, t } from '../words.js';
import * as forms from './forms.js';

// So many things are written by one touch at most; more would be one entry each all the same.
const RANGE_MOST = 400;

function range(prefix, from, to) {
  const width = from.length;
  const [first, last] = [Number(from), Number(to)];
  return Array.from({ length: last - first + 1 }, (_, at) => `${prefix}${String(first + at).padStart(width, '0')}`);
}

function checkRange(from, to, [fromId, toId]) {
  const wrong = {};
  if (!/^\d{1,6}$/.test(from)) wrong[fromId] = t('form.from_digits');
  if (!/^\d{1,6}$/.test(to)) wrong[toId] = t('form.to_digits');
  if (!wrong[fromId] && !wrong[toId]) {
    if (Number(to) < Number(from)) wrong[toId] = t('form.to_below_from');
    else if (Number(to) - Number(from) >= RANGE_MOST) wrong[toId] = t('form.range_long', { n: RANGE_MOST });
  }
  return wrong;
}

const saved = async (wishes, say, view) => {
  if (await record(wishes, say, { house: true })) view.redraw();
};

function yardForm(view) {
  const fields = [forms.text('yard-name', t('setup.yard_name')), forms.text('yard-code', t('setup.yard_code'))];
  const check = () => {
    const [name, code] = fields.map((field) => field.read());
    return { wrong: { 'yard-name': name === '' && t('form.missing', { name: t('setup.yard_name') }) }, name, code };
  };
  const save = ({ name, code }) =>
    saved([{ kind: 'yard_registered', data: { yard_id: newId(), name, code: code || undefined } }], t('say.yard', { name }), view);
  return forms.form('yard-form', t('setup.yard'), fields, { check, save, act: t('setup.save_yard') });
}

function hivesForm(yards, view) {
  const fields = [
    forms.select('hives-yard', t('setup.in_yard'), yards.map((yard) => [yard.id, yard.label])),
    forms.text('hives-prefix', t('setup.prefix')),
    forms.text('hives-from', t('setup.from'), { inputmode: 'numeric' }),
    forms.text('hives-to', t('setup.to'), { inputmode: 'numeric' }),
  ];
  const check = () => {
    const [yard, prefix, from, to] = fields.map((field) => field.read());
    return { wrong: checkRange(from, to, ['hives-from', 'hives-to']), yard, prefix, from, to };
  };
  const save = ({ yard, prefix, from, to }) => {
    const wish = (code) => ({ kind: 'hive_registered', data: { hive_id: newId(), yard_id: yard, code }, say: t('say.hive', { hive: code }) });
    const codes = range(prefix, from, to);
    return saved(codes.map(wish), t('say.hives', { n: codes.length }), view);
  };
  return forms.form('hives-form', t('setup.hives'), fields, { check, save, act: t('setup.save_hives') });
}

function supersForm(view) {
  const classes = ['medium', 'deep', 'shallow'];
  const fields = [
    forms.text('supers-from', t('setup.from'), { inputmode: 'numeric' }),
    forms.text('supers-to', t('setup.to'), { inputmode: 'numeric' }),
    forms.select('supers-class', t('setup.class'), classes.map((name) => [name, t(`class.${name}`)])),
    forms.text('supers-frames', t('setup.frames'), { inputmode: 'numeric', value: '10' }),
  ];
  const check = () => {
    const [from, to, box, frames] = fields.map((field) => field.read());
    const [count, wrong] = forms.typedNumber(frames, t('setup.frames'));
    return { wrong: { ...checkRange(from, to, ['supers-from', 'supers-to']), 'supers-frames': wrong }, from, to, box, count };
  };
  const save = ({ from, to, box, count }) => {
    const wish = (number) => ({ kind: 'super_registered', data: { super_id: newId(), number, class: box, frames: count }, say: t('say.super', { super: number }) });
    const numbers = range('', from, to);
    return saved(numbers.map(wish), t('say.supers', { n: numbers.length }), view);
  };
  return forms.form('supers-form', t('setup.supers'), fields, { check, save, act: t('setup.save_supers') });
}

function containersForm(view) {
  const kinds = ['pail', 'bucket', 'tank', 'drum'];
  const fields = [
    forms.select('containers-kind', t('setup.kind'), kinds.map((name) => [name, t(`container.${name}`)])),
    forms.text('containers-prefix', t('setup.prefix')),
    forms.text('containers-from', t('setup.from'), { inputmode: 'numeric' }),
    forms.text('containers-to', t('setup.to'), { inputmode: 'numeric' }),
    forms.text('containers-tare', t('setup.tare', { unit: massUnit() }), { inputmode: 'decimal' }),
    forms.text('containers-litres', t('setup.litres'), { inputmode: 'decimal' }),
  ];
  const check = () => {
    const [container, prefix, from, to, tareTyped, litresTyped] = fields.map((field) => field.read());
    const [tare, tareWrong] = forms.typedNumber(tareTyped, t('setup.tare', { unit: massUnit() }));
    const [litres, litresWrong] = forms.typedNumber(litresTyped, t('setup.litres'));
    const wrong = { ...checkRange(from, to, ['containers-from', 'containers-to']), 'containers-tare': tareWrong, 'containers-litres': litresWrong };
    return { wrong, container, prefix, from, to, tare, litres };
  };
  const save = ({ container, prefix, from, to, tare, litres }) => {
    const wish = (number) => ({
      kind: 'container_registered',
      data: { container_id: newId(), number, container, tare_g: gramsOfTenths(tare * 10), holds_ml: Math.round(litres * 1000) },
      say: t('say.container', { container: number }),
    });
    const numbers = range(prefix, from, to);
    return saved(numbers.map(wish), t('say.containers', { n: numbers.length }), view);
  };
  return forms.form('containers-form', t('setup.containers'), fields, { check, save, act: t('setup.save_containers') });
}

function meterForm(view) {
  const fields = [
    forms.text('meter-name', t('setup.meter_name')),
    forms.select('meter-compensated', t('setup.compensated'), [['yes', t('chip.yes')], ['no', t('chip.no')]]),
  ];
  const check = () => {
    const [name, compensated] = fields.map((field) => field.read());
    return { wrong: { 'meter-name': name === '' && t('form.missing', { name: t('setup.meter_name') }) }, name, compensated: compensated === 'yes' };
  };
  const save = ({ name, compensated }) =>
    saved([{ kind: 'meter_registered', data: { meter_id: newId(), name, compensated } }], t('say.meter', { name }), view);
  return forms.form('meter-form', t('setup.meter'), fields, { check, save, act: t('setup.save_meter') });
}

export async function show(params, view) {
  const yards = (await rowsOf('yard')).sort(byLabel);
  return h(
    'div',
    { class: 'page office' },
    h('h1', { tabindex: '-1' }, t('office.set_up')),
    h('p', {}, t('setup.intro')),
    yardForm(view),
    yards.length > 0 ? hivesForm(yards, view) : h('p', {}, t('setup.yard_first')),
    supersForm(view),
    containersForm(view),
    meterForm(view),
    link('/office', { class: 'line' }, t('office.title')),
  );
}
