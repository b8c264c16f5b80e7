// What bars a thing: holds, and what was told of sick bees and by the authority. Each with the way to end it, which is
// the office's.

import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { holdReason } from '../tags.js';
import { day, moment, t } from '../words.js';
import { pageOf } from './deeds.js';

// Which way ends what was told of a place, or lets bees move in spite of it.
const ENDED_BY = { suspected: ['disease_cleared'], diagnosed: ['disease_cleared'], ordered: ['standstill_licensed', 'standstill_lifted'] };

const first = (said) => (Array.isArray(said) ? said[0] : said);
const act = (step) => Object.entries(step.act)[0];

// What was told of sick bees here and did not end yet.
function standing(one) {
  const steps = (one.state.sickness ?? []).map((step) => [step, ...act(step)]);
  const over = new Set(steps.filter(([, how]) => how === 'cleared' || how === 'lifted').map(([, , said]) => first(said)));
  return steps.filter(([step, how]) => ENDED_BY[how] && !over.has(step.entry_id));
}

const licences = (one, id) => (one.state.sickness ?? []).map((step) => step.act.licensed).filter((said) => said?.[0] === id);

function toldWords(one, [step, how, said]) {
  const what = how === 'ordered' ? first(said) : t(`disease.${first(said)}`);
  const licensed = licences(one, step.entry_id).map(([, licence, until]) => t(until ? 'bars.licence_until' : 'bars.licence', { licence, until: until ? day(until) : '' }));
  return [t(`bars.${how}`, { what, at: moment(step.at) }), step.text, step.reference, ...licensed].filter(Boolean).join(' · ');
}

function holdWords(one, hold) {
  const text = (one.state.holds ?? []).find((own) => own.hold_id === hold.hold_id)?.text;
  return [t('lots.hold', { reason: holdReason(hold.reason), on: hold.label ?? '', at: moment(hold.since) }), text].filter(Boolean).join(' · ');
}

// In words, what an entry set that bars this thing.
export function causeOf(one, id) {
  const told = standing(one).find(([step]) => step.entry_id === id);
  if (told) return toldWords(one, told);
  const hold = rules.holdsOn(one.kind, one.id).find((each) => each.hold_id === id);
  return hold ? holdWords(one, hold) : t('bars.over');
}

const item = (words, ...links) => h('li', { class: 'bar-item' }, h('p', {}, words), h('p', { class: 'lines' }, links));
const toEnd = (one, kind, id) => link(`/office/tell/${one.kind}/${one.id}/${kind}/${id}`, { class: 'act' }, t(`told.${kind}`));

export function bars(one, holds) {
  const causes = standing(one);
  const own = new Set(causes.map(([step]) => step.entry_id));
  const others = holds.filter((hold) => !own.has(hold.hold_id));
  if (causes.length + others.length === 0) return null;
  const ends = session.mayOffice();
  const cause = (told) => item(toldWords(one, told), ends && ENDED_BY[told[1]].map((kind) => toEnd(one, kind, told[0].entry_id)));
  // Told elsewhere: where it ends for everything that it bars.
  const held = (hold) => item(holdWords(one, hold), ends && toEnd(one, 'hold_lifted', hold.hold_id), hold.on.id !== one.id && link(pageOf(hold.on), { class: 'line' }, hold.label));
  return [h('h2', {}, t('lots.holds')), h('ul', { class: 'plain' }, causes.map(cause), others.map(held)), !ends && h('p', {}, t('hold.ends'))];
}
