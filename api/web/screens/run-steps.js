// What is told of a run on the number pad: a wet super, the cappings, a sample, frames set aside, what was left in the
// machine.

import { caution } from '../caution.js';
import { button, h, link } from '../dom.js';
import { keypad } from '../keypad.js';
import { note, record } from '../shell.js';
import { meta, row, rowsById, setMeta } from '../store.js';
import { byLabel, gramsOfTenths, mass, massUnit, t } from '../words.js';
import { yesNo } from './chips.js';
import { countPad } from './parts.js';
import { superTile } from './tiles.js';

function page(title, pad) {
  pad.field.dataset.first = '1';
  return h('div', { class: 'pad-page' }, h('h1', { tabindex: '-1' }, title), pad.element);
}

const pad = (name, label, next, done, extra) =>
  keypad({
    name,
    label,
    unit: massUnit(),
    places: 1,
    next,
    done: (tenths) => (tenths === null ? note(t('say.weight_missing')) : done(gramsOfTenths(tenths))),
    extra,
  });

async function wet(run, id, view) {
  const one = await row('super', id);
  const keep = async (grams) => {
    const wish = { kind: 'wet_weighed', data: { run_id: run.id, super_id: id, gross_g: grams } };
    if (await record([wish], t('say.wet', { super: one.label, mass: mass(grams) }), { house: true })) await view.go(`/house/run/${run.id}`, { replace: true });
  };
  return page(t('run.wet_one', { super: one?.label ?? '' }), pad('wet', t('run.wet_weight'), t('act.next'), keep));
}

// Honey first, then wax; wax may be left out.
function cappings(run, view) {
  const keep = async (honey_g, wax_g) => {
    const wish = { kind: 'cappings_weighed', data: { run_id: run.id, honey_g, wax_g } };
    if (await record([wish], t('say.cappings', { mass: mass(honey_g) }), { house: true })) await view.go(`/house/run/${run.id}`, { replace: true });
  };
  const place = h('div', {});
  const wax = (honey) => {
    const second = pad('wax', t('run.wax'), t('act.next'), (grams) => keep(honey, grams), [
      button('skip-wax', () => keep(honey, undefined), { class: 'key word' }, t('key.skip')),
    ]);
    place.replaceChildren(second.element);
    second.field.focus();
  };
  const first = pad('cappings-honey', t('run.cappings_honey'), t('act.next'), wax);
  first.field.dataset.first = '1';
  place.append(first.element);
  return h('div', { class: 'pad-page' }, h('h1', { tabindex: '-1' }, t('run.cappings')), place, caution('safety.wax'));
}

function sample(run, view) {
  const keep = async (weight_g) => {
    const wish = { kind: 'sample_taken', data: { run_id: run.id, weight_g } };
    if (await record([wish], t('say.sample', { run: run.label, mass: mass(weight_g) }), { house: true })) await view.go(`/house/run/${run.id}`, { replace: true });
  };
  return page(t('run.sample'), pad('sample', t('run.sample_weight'), t('act.next'), keep));
}

// Frames that are not spun, with brood in them or not ripe: of which super, then how many.
async function aside(run, id, view) {
  const one = id && (await row('super', id));
  if (!one) {
    const supers = await rowsById('super', (run.state.supers ?? []).map((put) => put.super_id));
    const tile = (each) => superTile(each, { act: () => view.go(`/house/run/${run.id}/aside/${each.id}`, { replace: true }) });
    return h('div', { class: 'page' }, h('h1', { tabindex: '-1' }, t('run.aside')), h('div', { class: 'tiles' }, supers.sort(byLabel).map(tile)), link(`/house/run/${run.id}`, { class: 'line' }, run.label));
  }
  const keep = async (frames) => {
    const wish = { kind: 'frames_set_aside', data: { run_id: run.id, super_id: id, frames } };
    if (await record([wish], t('say.aside', { super: one.label, n: frames }), { house: true })) await view.go(`/house/run/${run.id}`, { replace: true });
  };
  const asked = countPad('frames', t('run.aside_how_many', { super: one.label }), '', keep);
  return page(t('run.aside'), asked);
}

function drain(run, view) {
  const keep = async (left_in_machine_g) => {
    const wish = { kind: 'run_drained', data: { run_id: run.id, left_in_machine_g } };
    if (await record([wish], t('say.drained', { run: run.label }), { house: true })) await view.go(`/house/run/${run.id}`, { replace: true });
  };
  return page(
    t('run.drain'),
    pad('left', t('run.left'), t('run.drain'), keep, [button('skip-left', () => keep(undefined), { class: 'key word' }, t('key.skip'))]),
  );
}

// The mesh, and whether its screen was whole before and after: a torn one holds the run.
async function strain(run, view) {
  const seen = {};
  const last = await meta('mesh');
  const keep = async (mesh_um) => {
    await setMeta('mesh', mesh_um);
    const wish = { kind: 'honey_strained', data: { run_id: run.id, mesh_um, ...seen } };
    if (await record([wish], t('say.strained', { run: run.label }), { house: true })) await view.go(`/house/run/${run.id}`, { replace: true });
  };
  const asked = keypad({
    name: 'mesh',
    label: t('run.mesh'),
    unit: 'µm',
    places: 0,
    next: t('run.strain'),
    done: (typed) => (typed === null ? note(t('run.mesh_missing')) : keep(typed)),
    extra: last ? [button('mesh-last', () => keep(last), { class: 'key word' }, `${last} µm`)] : [],
  });
  const whole = (name) => {
    const chip = (value) => {
      const made = h('button', { type: 'button', class: 'chip', 'aria-pressed': 'false', 'data-key': `${name}-${value}` }, yesNo(value));
      made.addEventListener('click', () => {
        seen[name] = seen[name] === value ? undefined : value;
        for (const one of made.parentElement.querySelectorAll('button')) one.setAttribute('aria-pressed', String(one.dataset.key === `${name}-${seen[name]}`));
      });
      return made;
    };
    return h('fieldset', { class: 'chips' }, h('legend', {}, t(`run.${name}`)), chip(true), chip(false));
  };
  const made = page(t('run.strain'), asked);
  asked.element.before(h('div', { class: 'beside choices' }, whole('whole_before'), whole('whole_after')));
  return made;
}

export function show(run, params, view) {
  if (params.step === 'wet') return wet(run, params.super, view);
  if (params.step === 'strain') return strain(run, view);
  if (params.step === 'sample') return sample(run, view);
  if (params.step === 'aside') return aside(run, params.super, view);
  if (params.step === 'cappings') return cappings(run, view);
  return drain(run, view);
}
