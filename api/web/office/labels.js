// Number labels for boxes, pails and hives: which numbers, which sheet, and the PDF to print.

import { h } from '../dom.js';
import * as session from '../session.js';
import { note } from '../shell.js';
import { meta, rowsOf, setMeta } from '../store.js';
import { byLabel, number, t } from '../words.js';
import * as forms from './forms.js';

const KINDS = { super: 'number', hive: 'code', container: 'number' };
// Sheets to begin with, in tenths of a millimetre: paper, columns, rows, width, height, left, top, across, down, margin.
const SHEETS = {
  a4_3x8: 'a4 3 8 700 370 0 5 700 370 40',
  a4_2x5: 'a4 2 5 960 508 88 213 986 508 40',
  a4_2x4: 'a4 2 4 991 677 46 131 1016 677 50',
  letter_2x5: 'letter 2 5 1016 508 40 127 1062 508 40',
  letter_2x3: 'letter 2 3 1016 847 40 127 1062 847 60',
};
const READ_MOST = 5000;
const KEEP_FILE_MS = 60000;
const FIELDS = ['paper', 'columns', 'rows', 'width', 'height', 'left', 'top', 'across', 'down', 'margin'];
const COUNTS = ['columns', 'rows', 'first'];

const sheetOf = (name) => Object.fromEntries(SHEETS[name].split(' ').map((value, at) => [FIELDS[at], at === 0 ? value : Number(value)]));

let kept = null;

async function numbersOf({ kind, from, to }) {
  const between = (label) => (!from || byLabel({ label }, { label: from }) >= 0) && (!to || byLabel({ label }, { label: to }) <= 0);
  return (await rowsOf(kind, READ_MOST)).sort(byLabel).map((one) => one.label).filter((label) => label && between(label));
}

// The service's answer is a file and no JSON, so it is fetched by itself.
async function fetchSheet(wish) {
  const answer = await session.file('POST', '/v1/label-sheets', wish);
  if (answer.blob) return answer.blob;
  const where = answer.body.pointer?.split('/').pop();
  note(where && FIELDS.concat('first').includes(where) ? `${t(`sheet.${where}`)}: ${answer.body.detail}` : answer.body);
  return null;
}

async function make(said, view) {
  const { kind, from, to, words, address, ...sheet } = said;
  const numbers = await numbersOf({ kind, from, to });
  if (numbers.length === 0) return note(t('labels.none'));
  kept = { ...said, preset: undefined };
  await setMeta('labels', kept);
  const blob = await fetchSheet({ numbers, address, words, sheet });
  if (!blob) return undefined;
  const url = URL.createObjectURL(blob);
  h('a', { href: url, download: `labels-${kind}.pdf` }).click();
  setTimeout(() => URL.revokeObjectURL(url), KEEP_FILE_MS);
  note(t('labels.made', { n: numbers.length }));
  return view.redraw();
}

const tenths = (field, value) => [field, 'tenths', { needs: true, label: t(`sheet.${field}`), value }];

export async function show(params, view) {
  if (view.fresh || !kept) kept = (await meta('labels')) ?? { kind: 'super', ...sheetOf('a4_3x8'), first: 1, drift_x: 0, drift_y: 0 };
  const access = await forms.askService('/v1/access');
  const address = kept.address ?? access?.addresses[0]?.replace(/\/$/, '') ?? location.origin;
  const presets = Object.keys(SHEETS).map((name) => [name, t(`sheet.${name}`)]);
  const preset = forms.quick('preset-form', t('labels.sheet'), [['preset', 'one', { needs: true, label: t('labels.preset'), list: presets, value: kept.preset }]], {
    save: ({ preset: name }) => view.redraw((kept = { ...kept, preset: name, ...sheetOf(name) })),
    act: t('labels.take'),
  });
  const spec = [
    ['kind', 'one', { needs: true, label: t('labels.of'), list: Object.keys(KINDS).map((kind) => [kind, t(`kinds.${kind}`)]), value: kept.kind }],
    ['from', 'text', { value: kept.from }],
    ['to', 'text', { value: kept.to }],
    ['words', 'text', { label: t('labels.words'), value: kept.words ?? session.who().names?.operation.slice(0, 40) }],
    ['address', 'text', { needs: true, label: t('labels.address'), value: address }],
    ['paper', 'one', { needs: true, label: t('sheet.paper'), list: [['a4', 'A4'], ['letter', 'Letter']], value: kept.paper }],
    ...COUNTS.map((field) => [field, 'count', { needs: true, label: t(`sheet.${field}`), value: kept[field] }]),
    ...FIELDS.slice(3).concat('drift_x', 'drift_y').map((field) => tenths(field, kept[field])),
    ['outlines', 'yes', { label: t('sheet.outlines'), needs: true, value: false }],
  ];
  return forms.page(
    t('labels.title'),
    h('p', {}, t('labels.how', { mm: number(10) })),
    preset,
    forms.quick('labels-form', t('labels.which'), spec, { save: (said) => make(said, view), act: t('labels.make') }),
  );
}
