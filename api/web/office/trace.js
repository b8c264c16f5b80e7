// The trace as a picture: what the honey of a thing came from, and where it went, in the order of the work. The figures
// beside it are the same steps as a list.

import { h, link, svg } from '../dom.js';
import * as rules from '../rules.js';
import { row, rowsById } from '../store.js';
import { byLabel, known, mass, number, t } from '../words.js';
import * as forms from './forms.js';

const ORDER = ['yard', 'hive', 'super', 'run', 'fill', 'lot', 'batch', 'delivery', 'customer'];
// So many of a kind are drawn; the list below names all.
const DRAWN = 10;
const WIDTH = 116;
// From one column to the next; nearer where all of them find room so.
const ACROSS = 168;
const ACROSS_LEAST = 136;
const AROUND = 24;
const [HEIGHT, DOWN, TOP] = [34, 44, 40];

const key = (one) => `${one.kind}/${one.id}`;

// Which things a thing names as those its honey came from, as its state tells them.
function sources({ kind, state }, has) {
  const from = (of, id, possible) => id && { from: `${of}/${id}`, possible };
  switch (kind) {
    case 'hive': return [from('yard', state.stays?.at(-1)?.yard_id)];
    case 'super': {
      const fillings = [state.filling, ...(state.extracted ?? [])].filter(Boolean);
      const meant = fillings.filter((filling) => has(`run/${filling.run_id}`));
      const stands = (meant.length > 0 ? meant : [state.filling]).flatMap((filling) => filling?.stands ?? []);
      return stands.flatMap((stand) => [from('hive', stand.hive_id, (stand.or_hive_ids ?? []).length > 0), ...(stand.or_hive_ids ?? []).map((id) => from('hive', id, true))]);
    }
    case 'run': return (state.supers ?? []).map((one) => from('super', one.super_id));
    case 'fill': return [from('run', state.source?.run_id ?? state.source?.cappings_of_run_id)];
    case 'lot': return (state.parts ?? []).map((part) => from(part.from?.kind, part.from?.id));
    case 'batch': return [from('lot', state.lot_id, (state.or_lot_ids ?? []).length > 0), ...(state.or_lot_ids ?? []).map((id) => from('lot', id, true))];
    case 'delivery': return (state.lines ?? []).map((line) => (line.goods.jars ? from('batch', line.goods.jars.batch_id) : from('fill', line.goods.bulk.fill_id)));
    default: return [];
  }
}

function draw(nodes, edges, title, asked) {
  const columns = ORDER.map((kind) => nodes.filter((node) => node.kind === kind).sort(byLabel)).filter((column) => column.length > 0);
  const places = new Map();
  const shown = [];
  columns.forEach((column, x) => {
    const drawn = column.length > DRAWN ? column.slice(0, DRAWN - 1) : column;
    column.forEach((node, y) => places.set(key(node), [x, Math.min(y, drawn.length)]));
    shown.push(...drawn.map((node, y) => ({ x, y, label: node.label, node })));
    if (column.length > DRAWN) shown.push({ x, y: DRAWN - 1, label: t('trace.more', { n: column.length - drawn.length }) });
  });
  const deep = Math.max(...shown.map((one) => one.y)) + 1;
  const room = (document.documentElement.clientWidth - AROUND - WIDTH - 8) / Math.max(columns.length - 1, 1);
  const across = Math.min(ACROSS, Math.max(ACROSS_LEAST, Math.floor(room)));
  const [wide, high] = [(columns.length - 1) * across + WIDTH + 8, TOP + deep * DOWN];
  const at = ([x, y]) => [4 + x * across, TOP + y * DOWN];
  const seen = new Map();
  for (const edge of edges) {
    const [a, b] = [places.get(edge.from), places.get(edge.to)];
    if (!a || !b) continue;
    const line = `${a}-${b}`;
    // Several that are drawn as one line are as sure as the surest of them.
    seen.set(line, { a, b, possible: edge.possible && (seen.get(line)?.possible ?? true) });
  }
  const bend = (across - WIDTH) / 2;
  const lines = [...seen.values()].map(({ a, b, possible }) => {
    const [[ax, ay], [bx, by]] = [at(a), at(b)];
    const [x1, y1, x2, y2] = [ax + WIDTH, ay + HEIGHT / 2, bx, by + HEIGHT / 2];
    return svg('path', { class: possible ? 'edge possible' : 'edge', d: `M${x1} ${y1}C${x1 + bend} ${y1} ${x2 - bend} ${y2} ${x2} ${y2}` });
  });
  const boxes = shown.map(({ x, y, label, node }) => {
    const [left, top] = at([x, y]);
    const box = [svg('rect', { x: left, y: top, width: WIDTH, height: HEIGHT, rx: 4 }), svg('text', { x: left + WIDTH / 2, y: top + 23 }, label.length > 11 ? `${label.slice(0, 10)}…` : label)];
    return node ? svg('g', { class: node.asked ? 'node asked' : 'node' }, svg('title', {}, label), box) : svg('g', { class: 'node more' }, box);
  });
  const heads = columns.map((column, x) => svg('text', { class: 'head', x: 4 + x * across + WIDTH / 2, y: 20 }, `${t(`kinds.${column[0].kind}`)} ${number(column.length)}`));
  return h('div', { class: 'scroll', tabindex: '0', role: 'region', 'aria-label': title }, svg('svg', { class: 'trace', viewBox: `0 0 ${wide} ${high}`, width: wide, height: high, role: 'img', 'aria-label': asked }, heads, lines, boxes));
}

function list(traced) {
  const line = (step) => [t(`kind.${step.kind}`), link(`/office/trace/${step.kind}/${step.id}`, { class: 'line' }, step.label), t(`certainty.${step.certainty}`), step.amount === undefined || step.amount === null ? '' : step.kind === 'delivery' ? number(step.amount) : mass(step.amount)];
  const columns = [[t('trace.kind')], [t('trace.what')], [t('trace.sure')], [t('trace.amount'), true]];
  const tableOf = (title, steps) => (steps.length > 0 ? forms.table(title, columns, steps.map(line), { compared: true }) : h('p', {}, t('trace.nothing', { title })));
  return [tableOf(t('find.from'), traced.back), tableOf(t('find.to'), traced.forward)];
}

export async function show(params) {
  await rules.start();
  const one = await row(params.kind, params.id);
  if (!one || !known(`kind.${params.kind}`)) return forms.page(t('trace.title'), h('p', {}, t('find.nothing', { text: params.id ?? '' })));
  const traced = rules.trace(one.kind, one.id);
  const steps = [{ ...one, kind: one.kind, id: one.id, label: one.label ?? '' }, ...traced.back, ...traced.forward];
  const kinds = [...new Set(steps.map((step) => step.kind))];
  const rows = (await Promise.all(kinds.map((kind) => rowsById(kind, steps.filter((step) => step.kind === kind).map((step) => step.id))))).flat();
  const state = new Map(rows.map((each) => [key(each), each]));
  const nodes = [...new Map(steps.map((step) => [key(step), { kind: step.kind, id: step.id, label: step.label ?? '', asked: key(step) === key(one) }])).values()];
  const has = (name) => nodes.some((node) => key(node) === name);
  const edges = nodes.flatMap((node) => {
    const known = state.get(key(node));
    const made = known ? sources(known, has).filter(Boolean).map((edge) => ({ ...edge, to: key(node) })) : [];
    const buyer = known?.kind === 'delivery' && known.state.customer_id;
    return [...made, ...(buyer ? [{ from: key(node), to: `customer/${buyer}` }] : [])];
  });
  const asked = `${t(`kind.${one.kind}`)} ${one.label ?? ''}`;
  return forms.page(
    t('trace.of', { what: asked }),
    h('p', {}, t('trace.how')),
    draw(nodes, edges, t('trace.picture'), t('trace.alt', { what: asked, n: nodes.length - 1 })),
    h('p', { class: 'lines' }, link(`/office/recall/${one.kind}/${one.id}`, { class: 'act' }, t('recall.title'))),
    list(traced),
  );
}
