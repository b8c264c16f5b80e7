// Charts, drawn by hand: the same figures as the table beside them, in the same words. No chart shows more than its
// table, and none ranks: rows keep the order in which they came.

import { h, svg } from '../dom.js';
import { t } from '../words.js';

// As wide as the screen, nearly, so that letters keep their size on a phone.
const NARROW = 344;
const WIDE = 640;
const [LEFT, RIGHT] = [24, 32];
const [ROW, TOP, BOTTOM] = [58, 4, 34];
// Name and figure stand above their mark.
const [WORDS, MARK] = [20, 40];
const STEPS = [1, 2, 5, 10];
const ABOUT = 4;

// Round marks that cover everything.
function marks(most, least) {
  const span = Math.max(most - least, 1e-9);
  const size = 10 ** Math.floor(Math.log10(span / ABOUT));
  const step = STEPS.map((one) => one * size).find((one) => span / one <= ABOUT + 1) ?? 10 * size;
  const from = Math.floor(least / step) * step;
  const many = Math.ceil((most - from) / step);
  return Array.from({ length: many + 1 }, (_, at) => from + at * step);
}

// Rows of { label, value, low, high, dots, text }: a mark for the value, a whisker for the range, small rings for single
// years or colonies. `line`: where a thin line stands, such as 1.00. `kind`: dots or bars. `say(value)` names the marks.
export function chart({ id, title, text, rows, line, kind = 'dots', say }) {
  const all = rows.flatMap((row) => [row.value, row.low, row.high, ...(row.dots ?? [])]).filter((value) => value !== undefined && value !== null);
  if (all.length === 0) return null;
  const ticks = marks(Math.max(...all, line ?? -Infinity), Math.min(...all, line ?? Infinity, kind === 'bars' ? 0 : Infinity, 0));
  const [least, most] = [ticks[0], ticks[ticks.length - 1]];
  const width = globalThis.matchMedia('(min-width: 700px)').matches ? WIDE : NARROW;
  const x = (value) => LEFT + ((value - least) / (most - least || 1)) * (width - LEFT - RIGHT);
  const high = TOP + rows.length * ROW + BOTTOM;
  const foot = TOP + rows.length * ROW;
  const draw = (row, at) => {
    const words = TOP + at * ROW + WORDS;
    const y = TOP + at * ROW + MARK;
    const has = row.value !== undefined && row.value !== null;
    const ranged = row.low !== undefined && row.low !== null && row.high !== undefined && row.high !== null;
    return svg(
      'g',
      {},
      svg('text', { class: 'name', x: 0, y: words }, row.label),
      kind === 'bars' && has && svg('rect', { class: 'fill', x: Math.min(x(0), x(row.value)), y: y - 9, width: Math.abs(x(row.value) - x(0)), height: 18 }),
      ranged && svg('path', { class: 'whisker', d: `M${x(row.low)} ${y}H${x(row.high)}M${x(row.low)} ${y - 7}v14M${x(row.high)} ${y - 7}v14` }),
      (row.dots ?? []).map((dot) => svg('circle', { class: 'ring', cx: x(dot), cy: y, r: 4 })),
      kind !== 'bars' && has && svg('circle', { class: 'fill', cx: x(row.value), cy: y, r: 6 }),
      svg('text', { class: 'said', x: width, y: words, 'data-row': row.label }, row.text),
    );
  };
  return h(
    'figure',
    { class: 'chart' },
    svg(
      'svg',
      { viewBox: `0 0 ${width} ${high}`, role: 'img', 'aria-labelledby': `${id}-title ${id}-desc` },
      svg('title', { id: `${id}-title` }, title),
      svg('desc', { id: `${id}-desc` }, text ?? t('chart.same')),
      ticks.map((tick) => [svg('path', { class: 'grid', d: `M${x(tick)} ${TOP}V${foot}` }), svg('text', { class: 'tick', x: x(tick), y: foot + 22 }, say(tick))]),
      line !== undefined && svg('path', { class: 'line', d: `M${x(line)} ${TOP}V${foot}` }),
      rows.map(draw),
    ),
  );
}
