// Cleaning: containers that are empty are washed, boxes into which something foreign got are cleaned, supers are put away.

import { button, h } from '../dom.js';
import { record } from '../shell.js';
import { rowsAt, rowsById, rowsOf } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, t } from '../words.js';
import { page } from './parts.js';
import { steady, superTile } from './tiles.js';

const MOST = 120;

const wash = (one) => record([{ kind: 'container_washed', data: { container_id: one.id } }], t('say.washed', { container: one.label }), { house: true });
const store = (one, wet) =>
  record([{ kind: 'super_stored', data: { super_id: one.id, wet } }], t(wet ? 'say.stored_wet' : 'say.stored_dry', { super: one.label }), { house: true });

function clean(one) {
  const how = document.getElementById('how').value.trim() || t('clean.how_usual');
  return record([{ kind: 'box_cleaned', data: { super_ids: [one.id], how } }], t('say.cleaned', { super: one.label }), { house: true });
}

const tainted = (one) => Boolean((one.state.taints ?? []).at(-1)?.taint);

// Containers whose honey is all gone.
async function emptied() {
  const filled = await rowsAt('container@filled');
  const fills = new Map((await rowsById('fill', filled.map((one) => one.state.fill_id))).map((fill) => [fill.id, fill]));
  return filled.filter((one) => fills.get(one.state.fill_id)?.state.content_g <= 0).sort(byLabel);
}

export async function show(params, view) {
  const dirty = await emptied();
  const boxes = (await rowsOf('super')).filter(tainted).sort(byLabel);
  const spun = await steady('clean', async () => (await rowsAt('super@extracted')).sort(byLabel).slice(0, MOST), view.fresh);
  const tile = (one) =>
    button(`wash-${one.id}`, () => wash(one), { class: 'tile' }, h('span', { class: 'tile-number middle' }, one.label), h('span', { class: 'tile-more' }, t(`container.${one.state.container}`)), tagsOf(one));
  return page(
    t('clean.title'),
    ['/house', t('house.title')],
    h('h2', {}, t('clean.containers')),
    dirty.length === 0 && h('p', {}, t('clean.no_container')),
    h('div', { class: 'tiles' }, dirty.map(tile)),
    h('h2', {}, t('clean.wet')),
    h('p', {}, t('clean.wet_hint')),
    spun.length === 0 && h('p', {}, t('clean.no_super')),
    h('div', { class: 'tiles' }, spun.map((one) => superTile(one, { done: one.status !== 'extracted', more: t(`status.${one.status}`), act: () => store(one, true) }))),
    boxes.length > 0 && [
      h('h2', {}, t('clean.boxes')),
      h('div', { class: 'field' }, h('label', { for: 'how' }, t('clean.how')), h('input', { id: 'how', autocomplete: 'off' })),
      h('div', { class: 'tiles' }, boxes.map((one) => button(`clean-${one.id}`, () => clean(one), { class: 'tile' }, h('span', { class: 'tile-number' }, one.label), tagsOf(one)))),
    ],
  );
}
