// Look: what was seen in a hive. Everything is "not looked" until somebody says otherwise; what was chosen is written
// by one touch. A suspicion is written as a suspicion, and asks for a photo.

import { caution } from '../caution.js';
import { button, h } from '../dom.js';
import * as photos from '../photos.js';
import { note, record } from '../shell.js';
import { day, t } from '../words.js';
import { chips, yesNo } from './chips.js';

export const needsHive = true;

const FRAMES = [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10];
const STORES = ['light', 'enough', 'heavy'];
const SICK = ['american_foulbrood', 'european_foulbrood', 'small_hive_beetle', 'tropilaelaps', 'chalkbrood', 'sacbrood', 'unknown', 'other'];

// What was chosen for a hive and is not written yet.
const drafts = new Map();

async function write(hive, view) {
  const { photos: taken = [], ...seen } = drafts.get(hive.id) ?? {};
  const text = document.getElementById('look-text').value.trim() || undefined;
  const wish = { kind: 'hive_inspected', data: { hive_id: hive.id, ...seen, text }, photos: taken };
  if (!(await record([wish], t('say.looked', { hive: hive.label })))) return;
  drafts.delete(hive.id);
  view.redraw();
}

async function photo(hive, view) {
  const taken = await photos.take();
  if (taken.trouble) return note(t(taken.trouble));
  if (!taken.sha256) return undefined;
  const draft = drafts.get(hive.id) ?? {};
  drafts.set(hive.id, { ...draft, photos: [...(draft.photos ?? []), taken.sha256] });
  return view.redraw();
}

function before(hive) {
  const seen = hive.state.inspected;
  return seen ? h('p', {}, t('look.last', { at: day(seen.at) })) : h('p', {}, t('look.never'));
}

export const done = (hive) => {
  const seen = hive.state.inspected;
  return seen && t('look.on', { at: day(seen.at) });
};

export async function pane({ hive, view }) {
  if (!hive) return h('p', { class: 'hint' }, t('look.hint'));
  const draft = drafts.get(hive.id) ?? {};
  const typed = document.getElementById('look-text');
  const set = (name) => (value) => {
    drafts.set(hive.id, { ...draft, [name]: value });
    view.redraw();
  };
  const one = (name, values, word) => chips(name, t(`look.${name}`), values, draft[name], set(name), word);
  const text = h('input', { id: 'look-text', autocomplete: 'off', value: typed?.dataset.hive === hive.id ? typed.value : '', 'data-hive': hive.id });
  return [
    h('h2', {}, t('look.what', { hive: hive.label })),
    before(hive),
    caution('safety.stings'),
    h('div', { class: 'beside' }, one('eggs_seen', [true, false], yesNo), one('queen_seen', [true, false], yesNo)),
    one('stores', STORES, (value) => t(`stores.${value}`)),
    one('brood_frames', FRAMES, String),
    one('suspicion', SICK, (value) => t(`disease.${value}`)),
    draft.suspicion && h('p', { class: 'told' }, t('look.asks')),
    h('div', { class: 'acts' }, button('photo', () => photo(hive, view), {}, t('look.photo'), (draft.photos ?? []).length > 0 && ` (${draft.photos.length})`)),
    h('div', { class: 'field' }, h('label', { for: 'look-text' }, t('look.text')), text),
    button('write-look', () => write(hive, view), { class: 'main wide' }, t('look.write', { hive: hive.label })),
  ];
}
