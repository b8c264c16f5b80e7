// Pull: a touch on a super takes it off. What was looked at is added with chips; an untouched chip is "not looked".

import { caution } from '../caution.js';
import { button, h } from '../dom.js';
import { amended } from '../entry.js';
import * as rules from '../rules.js';
import { record } from '../shell.js';
import { byLabel, t } from '../words.js';
import { chips, yesNo } from './chips.js';
import { steady, superTile } from './tiles.js';

export const needsHive = true;

// Chips of the screen: what a person can say at a glance. The rules hold the limits.
const CAPPED = [25, 50, 75, 90, 100];
const FULL = [0, 1, 2, 3, 4];

let last = null;

const pulledSay = (one, hive) => t('say.pulled', { super: one.label, hive: hive.label });

async function take(one, hive) {
  const wish = { kind: 'super_pulled', data: { super_id: one.id, hive_id: hive.id } };
  last = one.id;
  if (!(await record([wish], pulledSay(one, hive)))) last = null;
}

// What was told of the pull so far: by the row, or by a chip touched since.
function told(one) {
  const { entry_id, hive_id, fullness_quarters, full_frames, capped_percent, brood_seen } = one.state.filling.pulled;
  const data = { super_id: one.id, hive_id, fullness_quarters, full_frames, capped_percent, brood_seen };
  return { entry_id, data: amended(entry_id) ?? data };
}

function amend(one, change) {
  const { entry_id, data } = told(one);
  const instead = { ...data, ...change };
  const wish = { kind: 'amended', data: { entry_id, kind: 'super_pulled', v: rules.version('super_pulled'), data: instead } };
  return record([wish], t('say.pull_amended', { super: one.label }));
}

const looked = (one, name, values, word) =>
  chips(name, t(`chip.${name}`), values, told(one).data[name], (value) => amend(one, { [name]: value }), word);

function stays(one, yard) {
  const wish = { kind: 'super_left_in_yard', data: { super_id: one.id, yard_id: yard.id } };
  return button('chip-stays', () => record([wish], t('say.stays', { super: one.label })), { class: 'chip' }, t('chip.stays'));
}

export async function pane({ yard, hive, on, view }) {
  if (!hive) return h('p', { class: 'hint' }, t('pull.hint'));
  const supers = await steady(`pull/${yard.id}/${hive.id}`, async () => (await on()).sort(byLabel), view.fresh);
  const one = supers.find((each) => each.id === last && each.status === 'pulled');
  return [
    h('h2', {}, t('pull.which', { hive: hive.label })),
    supers.length === 0 && h('p', {}, t('pull.none', { hive: hive.label })),
    h(
      'div',
      { class: 'tiles' },
      supers.map((each) =>
        superTile(each, {
          done: each.status !== 'on_hive',
          more: each.status === 'on_hive' ? null : t(`status.${each.status}`),
          act: () => (each.status === 'pulled' && each.state.filling.pulled ? view.redraw((last = each.id)) : take(each, hive)),
        }),
      ),
    ),
    one && h('h2', {}, t('pull.looked', { super: one.label })),
    one && looked(one, 'capped_percent', CAPPED, (value) => String(value)),
    one && looked(one, 'fullness_quarters', FULL, (value) => t(`chip.quarters.${value}`)),
    one && h('div', { class: 'beside' }, looked(one, 'brood_seen', [true, false], yesNo), stays(one, yard)),
    caution('safety.stings'),
  ];
}
