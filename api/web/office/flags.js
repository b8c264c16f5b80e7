// Flags: what does not add up, both stories side by side, and the ways out of it that the service knows. Settling is an
// entry with a reason; nothing is deleted.

import { button, h, link } from '../dom.js';
import { said, saidShort } from '../said.js';
import * as session from '../session.js';
import { ask, note, record } from '../shell.js';
import { tag } from '../tags.js';
import { day, known, mass, moment, number, pointOf, t } from '../words.js';
import * as forms from './forms.js';

let kept = null;
// Which way out somebody chose, by flag; its form stands open until it is saved.
let chosen = { flag: '', way: -1 };

const nameOf = (flag) => `${flag.code}/${flag.id}`;

async function settle(flag, way, said, view) {
  const { confirm, ...filled } = said;
  const wish = { kind: way.kind, data: { ...way.data, ...filled } };
  const told = await record([wish], t('say.settled', { label: flag.label }), { house: true });
  if (!told) return;
  kept = null;
  chosen = { flag: '', way: -1 };
  note(t('flags.after_sending'));
  view.redraw();
}

function wayForm(flag, way, view) {
  const spec = way.to_fill.map((key) => [key, 'text', { needs: true, value: key === 'reason' ? '' : undefined }]);
  return forms.quick(`settle-${flag.id}`, saidShort(`way.${way.kind}`, way.says), spec, { save: (said) => settle(flag, way, said, view), act: t('flags.settle') });
}

async function withdraw(flag, side, view) {
  const lines = [t('flags.withdraw_what', { label: flag.label, at: moment(side.at), names: side.label ?? '' })];
  if (!(await ask(lines, { title: t('flags.withdraw'), yes: t('flags.withdraw'), no: t('ask.back') }))) return;
  await settle(flag, { kind: 'voided', data: { entry_id: side.entry_id } }, { reason: t('flags.reason', { sentence: pointOf(`flag.${flag.code}`) ?? flag.sentence }) }, view);
}

// Of a batch jars are counted, of anything else honey is weighed.
const amount = (flag, value) => (value === undefined || value === null ? '' : flag.kind === 'batch' ? number(value) : mass(value));

function story(flag, side, at, view) {
  return h(
    'div',
    { class: 'story' },
    h('strong', {}, t('flags.story', { n: at + 1 })),
    h('p', {}, [moment(side.at), side.label, amount(flag, side.amount)].filter(Boolean).join(', ')),
    flag.kind !== 'device' &&
      h(
        'div',
        { class: 'acts' },
        link(`/office/entries/${flag.kind}/${flag.id}/${side.entry_id}`, { class: 'act', 'data-key': `amend-${side.entry_id}` }, t('today.amend')),
        button(`withdraw-${side.entry_id}`, () => withdraw(flag, side, view), {}, t('flags.withdraw')),
      ),
  );
}

function ways(flag, view) {
  const mine = chosen.flag === nameOf(flag) ? chosen.way : -1;
  // Withdrawing stands below each story already.
  const others = (flag.settled_by ?? []).map((way, at) => [way, at]).filter(([way]) => way.kind !== 'voided' || flag.kind === 'device');
  if (mine >= 0 && flag.settled_by?.[mine]) return wayForm(flag, flag.settled_by[mine], view);
  return h(
    'div',
    { class: 'lines' },
    others.map(([way, at]) => button(`way-${flag.id}-${at}`, () => view.redraw((chosen = { flag: nameOf(flag), way: at })), {}, saidShort(`way.${way.kind}`, way.says))),
  );
}

function item(flag, view) {
  const kind = known(`kind.${flag.kind}`) ? t(`kind.${flag.kind}`) : '';
  return h(
    'li',
    { class: 'flag' },
    h('h2', {}, tag('flag', t('tag.flag')), ' ', kind, ' ', flag.label),
    h('p', {}, saidShort(`flag.${flag.code}`, flag.sentence)),
    (flag.affects ?? []).length > 0 && h('p', {}, t('flags.affects', { what: flag.affects.map((one) => one.label).join(', ') })),
    h('div', { class: 'stories' }, (flag.sides ?? []).map((side, at) => story(flag, side, at, view))),
    session.role() !== 'viewer' && ways(flag, view),
  );
}

export async function show(params, view) {
  if (view.fresh || !kept) kept = await forms.askService('/v1/flags');
  if (!kept) return forms.page(t('flags.title'), h('p', {}, t('office.needs_signal')));
  const doubts = kept.doubts ?? [];
  return forms.page(
    t('flags.title'),
    h('p', {}, t('flags.as_of', { at: day(new Date()) })),
    kept.items.length + doubts.length === 0 && h('p', {}, t('flags.none')),
    h('ul', { class: 'plain' }, kept.items.map((flag) => item(flag, view))),
    doubts.length > 0 && [h('h2', {}, t('flags.doubts')), h('ul', { class: 'plain' }, doubts.map((doubt) => h('li', { class: 'flag' }, h('p', {}, said({ ...doubt, code: `doubt.${doubt.doubt}` }), ' ', h('span', { class: 'soft' }, `(${doubt.rule})`)))))],
    link('/find', { class: 'line' }, t('find.title')),
  );
}
