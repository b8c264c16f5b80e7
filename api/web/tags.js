// Tags: a word, a shape and a colour together, so that none of them is needed alone.

import { h, svg } from './dom.js';
import { known, t } from './words.js';

const SHAPES = {
  hold: [['rect', { x: 2, y: 2, width: 16, height: 16 }], ['path', { d: 'M5 10h10' }]],
  check: [['path', { d: 'M10 2 18 18H2z' }]],
  disputed: [['rect', { x: 2, y: 2, width: 11, height: 11 }], ['rect', { x: 7, y: 7, width: 11, height: 11 }]],
  flag: [['path', { d: 'M4 19V2l13 5-13 5' }]],
  to_send: [['circle', { cx: 10, cy: 10, r: 7 }]],
  sent: [['circle', { cx: 10, cy: 10, r: 8 }], ['path', { d: 'M6 10l3 3 5-6' }]],
  kept: [['circle', { cx: 10, cy: 10, r: 7, class: 'dotted' }]],
  not_taken: [['rect', { x: 2, y: 2, width: 16, height: 16 }], ['path', { d: 'M6 6l8 8M14 6l-8 8' }]],
  other: [['path', { d: 'M10 2l8 8-8 8-8-8z' }]],
};

export const shape = (name) =>
  svg('svg', { viewBox: '0 0 20 20', class: 'shape', 'aria-hidden': 'true' }, SHAPES[name].map(([tag, at]) => svg(tag, at)));

export const tag = (name, text) => h('span', { class: `tag tag-${name}` }, shape(name), h('span', {}, text));

export const holdReason = (reason) => (known(`hold.${reason}`) ? t(`hold.${reason}`) : reason);
export const holdTag = (reason) => tag('hold', t('tag.hold', { reason: holdReason(reason) }));
export const stateTag = (state) => tag(state, t(`tag.${state}`));

// Tags of a thing: its standing holds, its doubts, and whether something of it waits to be sent.
export function tagsOf(row, holds = []) {
  const state = row.state;
  const own = (state.holds ?? []).filter((hold) => !hold.lifted).map((hold) => hold.reason);
  const reasons = [...new Set([...own, ...holds.map((hold) => hold.reason)])];
  const disputed = (state.filling?.stands ?? []).some((stand) => (stand.or_hive_ids ?? []).length > 0);
  return [
    ...reasons.map(holdTag),
    disputed && tag('disputed', t('tag.disputed')),
    (state.flags ?? []).length > 0 && tag('flag', t('tag.flag')),
    row.mine && stateTag('to_send'),
  ];
}
