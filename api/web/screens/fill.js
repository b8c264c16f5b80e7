// Fill: a container, its gross weight. The tare is the container's own; the rules check what it holds.

import { button, h, link } from '../dom.js';
import { newId } from '../entry.js';
import { keypad } from '../keypad.js';
import { note, record } from '../shell.js';
import { row, rowsAt } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, gramsOfTenths, mass, massUnit, t } from '../words.js';

let source = null;
let stuck = undefined;

async function runs() {
  const open = [...(await rowsAt('run@open')), ...(await rowsAt('run@running')), ...(await rowsAt('run@drained'))];
  return open.sort((a, b) => (b.state.began_at ?? '').localeCompare(a.state.began_at ?? '')).slice(0, 6);
}

async function list(view) {
  const asked = new URLSearchParams(location.search).get('run');
  const from = await runs();
  if (asked) source = asked;
  source = from.find((run) => run.id === source)?.id ?? from[0]?.id ?? null;
  const empty = (await rowsAt('container@empty')).sort(byLabel);
  const chip = (run) =>
    button(`run-${run.id}`, () => view.redraw((source = run.id)), { class: 'chip', 'aria-pressed': String(run.id === source) }, run.label);
  const tile = (one) =>
    button(`container-${one.id}`, () => view.go(`/house/fill/${one.id}`), { class: 'tile' }, h('span', { class: 'tile-number middle' }, one.label), h('span', { class: 'tile-more' }, t(`container.${one.state.container}`)), tagsOf(one));
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('fill.title')),
    from.length === 0 ? h('p', {}, t('fill.no_run')) : h('fieldset', { class: 'chips' }, h('legend', {}, t('fill.from')), from.map(chip)),
    h('h2', {}, t('fill.which')),
    empty.length === 0 && h('p', {}, t('fill.none_empty')),
    h('div', { class: 'tiles' }, empty.map(tile)),
    link('/house', { class: 'line' }, t('house.title')),
  );
}

export async function show(params, view) {
  const container = params.container && (await row('container', params.container));
  if (!container) return list(view);
  if (!view.fresh) return undefined;
  const run = source ? await row('run', source) : (await runs())[0];
  stuck = undefined;
  const keep = async (grams) => {
    const data = {
      fill_id: newId(),
      source: run ? { run_id: run.id } : 'unknown',
      gross_g: grams,
      tare_g: container.state.tare_g,
      container_id: container.id,
      code: `${run?.label ?? ''} ${container.label}`.trim(),
      label_stuck: stuck,
    };
    const say = t('say.filled', { container: container.label, mass: mass(grams - container.state.tare_g) });
    if (await record([{ kind: 'container_filled', data }], say, { house: true })) await view.go('/house/fill', { replace: true });
  };
  const pad = keypad({
    name: 'fill-gross',
    label: t('fill.gross', { container: container.label, tare: mass(container.state.tare_g) }),
    unit: massUnit(),
    places: 1,
    next: t('act.next'),
    done: (tenths) => (tenths === null ? note(t('say.weight_missing')) : keep(gramsOfTenths(tenths))),
  });
  pad.field.dataset.first = '1';
  const chip = h('button', { type: 'button', class: 'chip', 'aria-pressed': 'false', 'data-key': 'label-stuck' }, t('fill.label_stuck'));
  chip.addEventListener('click', () => {
    stuck = stuck ? undefined : true;
    chip.setAttribute('aria-pressed', String(Boolean(stuck)));
  });
  return h('div', { class: 'pad-page' }, h('h1', { tabindex: '-1' }, t('fill.one', { container: container.label, run: run?.label ?? t('fill.unknown') })), pad.element, chip);
}
