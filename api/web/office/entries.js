// The newest entries of one thing, as the service has them, with what corrects them: whoever told them, each to be
// amended or taken back. What this device told since and has not sent yet counts along.

import { button, h, link } from '../dom.js';
import { note, ask, record } from '../shell.js';
import { outboxOf, row } from '../store.js';
import { moment, t } from '../words.js';
import { amendForm, facts } from './amend.js';
import * as forms from './forms.js';

const CORRECTIONS = ['amended', 'voided'];
// So many to find one that somebody came for.
const ALL = 1000;

// An entry with what became of it: { id, kind, at, data, amended: [..], gone }.
function became(entries) {
  const voids = entries.filter((one) => one.kind === 'voided');
  const standing = (id) => voids.find((one) => one.data.entry_id === id && !standing(one.id));
  const amendments = (id) => entries.filter((one) => one.kind === 'amended' && !standing(one.id) && (one.data.entry_id === id || originOf(one.data.entry_id) === id));
  const byId = new Map(entries.map((one) => [one.id, one]));
  const originOf = (id) => (byId.get(id)?.kind === 'amended' ? originOf(byId.get(id).data.entry_id) : id);
  return entries
    .filter((one) => !CORRECTIONS.includes(one.kind))
    .map((one) => {
      const amended = amendments(one.id);
      return { ...one, told: one.data, amended, gone: standing(one.id), data: amended[0]?.data.data ?? one.data, say: t(`entry.${one.kind}`) };
    });
}

async function read(kind, id, most) {
  const answer = await forms.askService(`/v1/entries?kind=${kind}&id=${id}${most ? `&limit=${most}` : ''}`);
  if (!answer) return null;
  const sent = answer.entries.map((one) => ({ ...one.entry, at: one.entry.happened_at }));
  const unsent = (await outboxOf('to_send')).filter((one) => CORRECTIONS.includes(one.kind)).map((one) => ({ ...JSON.parse(one.text), at: one.at }));
  return became([...unsent.reverse(), ...sent]);
}

async function takeBack(id, what, view) {
  if (!(await ask([what], { title: t('amend.void'), yes: t('amend.void'), no: t('ask.back') }))) return;
  const told = await record([{ kind: 'voided', data: { entry_id: id, reason: t('undo.reason') } }], t('undo.done', { what }), { house: true });
  if (!told) return;
  note(t('flags.after_sending'));
  view.redraw();
}

async function item(one, params, view) {
  const newest = one.amended[0];
  const lines = (await facts(one)).map(([label, value]) => `${label}: ${value}`);
  const acts = [
    link(`/office/entries/${params.kind}/${params.id}/${one.id}`, { class: 'act', 'data-key': `amend-${one.id}`, 'aria-label': t('today.amend_act', { what: one.say }) }, t('today.amend')),
    button(`void-${one.id}`, () => takeBack(one.id, one.say, view), { 'aria-label': t('today.void_what', { what: one.say }) }, t('today.void')),
    newest && button(`void-${newest.id}`, () => takeBack(newest.id, t('amend.amendment', { what: one.say }), view), {}, t('amend.undo')),
  ];
  return h(
    'li',
    { class: 'entry', 'data-entry': one.id },
    h('span', { class: 'entry-time' }, moment(one.at)),
    h('span', { class: 'entry-say' }, one.say, h('span', { class: 'soft block' }, lines.join(', ')), newest && h('span', { class: 'soft block' }, t('amend.was', { at: moment(newest.at), why: newest.data.reason ?? '' }))),
    one.gone ? [h('span', { class: 'soft' }, t('today.taken_back')), button(`void-${one.gone.id}`, () => takeBack(one.gone.id, t('amend.withdrawal', { what: one.say }), view), {}, t('amend.counts_again'))] : h('span', { class: 'lines' }, acts),
  );
}

export async function show(params, view) {
  const thing = await row(params.kind, params.id);
  const name = `${t(`kind.${params.kind}`)} ${thing?.label ?? ''}`;
  const back = thing?.label && link(`/find/${encodeURIComponent(thing.label)}`, { class: 'line' }, name);
  if (params.entry && !view.fresh) return undefined;
  const all = await read(params.kind, params.id, params.entry && ALL);
  if (!all) return forms.page(t('amend.entries', { name }), h('p', {}, t('office.needs_signal')), back);
  if (params.entry) {
    const one = all.find((entry) => entry.id === params.entry);
    const list = `/office/entries/${params.kind}/${params.id}`;
    return forms.page(t('amend.title'), one ? await amendForm(one, () => (note(t('flags.after_sending')), view.go(list, { replace: true }))) : h('p', {}, t('amend.not_here')), link(list, { class: 'line' }, t('amend.entries', { name })));
  }
  return forms.page(
    t('amend.entries', { name }),
    h('p', {}, t('amend.intro')),
    all.length === 0 ? h('p', {}, t('amend.none')) : h('ul', { class: 'plain' }, await Promise.all(all.map((one) => item(one, params, view)))),
    back,
  );
}
