// Charts, drawn by hand: the same figures as the table beside them, in the same words. No chart shows more than its
// tables, and none ranks: rows keep the order in which they came.

import { h, svg } from '../dom.js';
import { t } from '../words.js';

// As wide as the screen, nearly, so that letters keep their size on a phone.
const NARROW = 344;
const WIDE = 640;
const [LEFT, RIGHT] = [24, 32];
const [TOP, BOTTOM] = [4, 34];
// Name and figure stand above their mark, in one line or, where that is too narrow, in two.
const LINE = 22;
const [ROW, WORDS, MARK] = [58, 20, 40];
// How wide a letter is, about.
const LETTER = 9;
const STEPS = [1, 2, 5, 10];
// How many marks stand under a chart, about.
const [FEW, SOME] = [2, 4];
// Half the height of a bar, and of what closes a whisker.
const [BAR, END] = [9, 7];
const RING = 4;
// A curve's height, and the months under it.
const CURVE = 240;
// What its marks need at the right.
const SAYS = 100;
const DAYS = [1, 60, 121, 182, 244, 305, 366];

const is = (value) => value !== undefined && value !== null;
const width = () => (globalThis.matchMedia('(min-width: 700px)').matches ? WIDE : NARROW);

// Round marks that cover everything.
function marks(most, least) {
  const about = width() === WIDE ? SOME : FEW;
  const span = Math.max(most - least, 1e-9);
  const size = 10 ** Math.floor(Math.log10(span / about));
  const step = STEPS.map((one) => one * size).find((one) => span / one <= about + 1) ?? 10 * size;
  const from = Math.floor(least / step) * step;
  const many = Math.ceil((most - from) / step);
  return Array.from({ length: many + 1 }, (_, at) => from + at * step);
}

// Which marks say their figure: all, or as many as find room. An outermost one says it inwards, over half a neighbour.
function sayable(ticks, say, room) {
  const longest = Math.max(...ticks.map((tick) => (say(tick).length * 3) / 2 + 1)) * LETTER;
  const every = Math.ceil((longest * (ticks.length - 1)) / room);
  return ticks.map((_, at) => at % every === 0);
}

// The outermost marks say their figure inwards, so that nothing is cut off.
const anchor = (at, many) => (at === 0 ? 'start' : at === many - 1 ? 'end' : 'middle');

// `column`: which column of the next table says the figures of the rows.
const figure = (id, title, column, high, ...content) =>
  h(
    'figure',
    { class: 'chart', 'data-column': column },
    svg('svg', { viewBox: `0 0 ${width()} ${high}`, role: 'img', 'aria-labelledby': `${id}-title ${id}-desc` }, svg('title', { id: `${id}-title` }, title), svg('desc', { id: `${id}-desc` }, t('chart.same')), content),
  );

// One colony or one box: a ring, and a cross where there was nothing.
const single = (x, y, { value, name, text }) =>
  svg('g', { class: 'single', 'data-name': name, 'data-said': text }, value === 0 ? svg('path', { class: 'ring', d: `M${x - RING} ${y - RING}l8 8m0 -8l-8 8` }) : svg('circle', { class: 'ring', cx: x, cy: y, r: RING }));

// Rows of { label, value, from, low, high, singles, text }: a mark for the value, a whisker for the range, rings for
// single colonies or boxes; a bar begins at `from`. `line`: where a thin line stands, such as 1.00. `zero`: nothing
// is in the picture too. `kind`: dots or bars. `say(value)` names the marks.
export function rows({ id, title, rows: given, line, zero = false, kind = 'dots', say, column }) {
  const all = given.flatMap((row) => [row.value, row.from, row.low, row.high, ...(row.singles ?? []).map((one) => one.value)]).filter(is);
  if (all.length === 0) return null;
  const ticks = marks(Math.max(...all, line ?? -Infinity), Math.min(...all, line ?? Infinity, kind === 'bars' || zero ? 0 : Infinity));
  const [least, most] = [ticks[0], ticks[ticks.length - 1]];
  const wide = width();
  const x = (value) => LEFT + ((value - least) / (most - least || 1)) * (wide - LEFT - RIGHT);
  const second = given.some((row) => (row.label.length + (row.text?.length ?? 0) + 1) * LETTER > wide) ? LINE : 0;
  const foot = TOP + given.length * (ROW + second);
  const says = sayable(ticks, say, wide - LEFT - RIGHT - 2 * LETTER);
  const draw = (row, at) => {
    const words = TOP + at * (ROW + second) + WORDS;
    const y = TOP + at * (ROW + second) + MARK + second;
    const from = x(row.from ?? 0);
    return svg(
      'g',
      {},
      svg('text', { class: 'name', x: 0, y: words }, row.label),
      kind === 'bars' && is(row.value) && svg('rect', { class: 'fill', x: Math.min(from, x(row.value)), y: y - BAR, width: Math.abs(x(row.value) - from), height: 2 * BAR }),
      is(row.low) && is(row.high) && svg('path', { class: 'whisker', d: `M${x(row.low)} ${y}H${x(row.high)}M${x(row.low)} ${y - END}v${2 * END}M${x(row.high)} ${y - END}v${2 * END}` }),
      (row.singles ?? []).map((one) => single(x(one.value), y, one)),
      kind !== 'bars' && is(row.value) && svg('circle', { class: 'fill', cx: x(row.value), cy: y, r: 6 }),
      is(row.text) && svg('text', { class: 'said', x: wide, y: words + second, 'data-row': row.label }, row.text),
    );
  };
  return figure(
    id,
    title,
    column,
    foot + BOTTOM,
    ticks.map((tick, at) => [svg('path', { class: 'grid', d: `M${x(tick)} ${TOP}V${foot}` }), says[at] && svg('text', { class: 'tick', x: x(tick), y: foot + WORDS, 'text-anchor': anchor(at, ticks.length) }, say(tick))]),
    line !== undefined && svg('path', { class: 'line', d: `M${x(line)} ${TOP}V${foot}` }),
    given.map(draw),
  );
}

// Heights of words, moved down where they would lie upon each other.
function apart(heights) {
  const order = heights.map((_, at) => at).sort((a, b) => heights[a] - heights[b]);
  const placed = [...heights];
  order.forEach((one, at) => at > 0 && (placed[one] = Math.max(placed[one], placed[order[at - 1]] + WORDS)));
  return placed;
}

// Series of { label, points: { day (of the year), value, name, text } }: how something grew through the year, each told
// apart by its name at the end and by its line.
export function curve({ id, title, series, say, month }) {
  const all = series.flatMap((one) => one.points.map((point) => point.value));
  if (all.length === 0) return null;
  const ticks = marks(Math.max(...all), 0);
  const wide = width();
  const y = (value) => TOP + WORDS + (1 - value / ticks[ticks.length - 1]) * CURVE;
  const x = (day) => LEFT + (day / DAYS[DAYS.length - 1]) * (wide - LEFT - SAYS);
  const foot = y(0);
  const last = series.map(({ points }) => points[points.length - 1]);
  const months = sayable(DAYS, month, wide - LEFT - SAYS);
  const names = apart(last.map((point) => y(point.value) - END));
  const draw = ({ label, points }, at) => {
    const steps = points.map((point) => `H${x(point.day)}V${y(point.value)}`).join('');
    return svg(
      'g',
      { class: `series-${at}` },
      svg('path', { class: 'whisker', d: `M${x(0)} ${foot}${steps}H${x(DAYS[DAYS.length - 1])}` }),
      points.map((point) => single(x(point.day), y(point.value), point)),
      svg('text', { class: 'name', x: LEFT, y: names[at] }, `${label}: ${last[at].text}`),
    );
  };
  return figure(
    id,
    title,
    undefined,
    foot + BOTTOM,
    ticks.slice(1).map((tick) => [svg('path', { class: 'grid', d: `M${LEFT} ${y(tick)}H${wide - SAYS}` }), svg('text', { class: 'tick', x: wide, y: y(tick) + RING, 'text-anchor': 'end' }, say(tick))]),
    DAYS.map((day, at) => months[at] && svg('text', { class: 'tick', x: x(day), y: foot + WORDS, 'text-anchor': anchor(at, DAYS.length) }, month(day))),
    series.map(draw),
  );
}
