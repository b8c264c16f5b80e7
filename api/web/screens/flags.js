// Flags: what does not add up, both stories side by side. Settling one is withdrawing the story that is wrong.

import { button, h, link } from '../dom.js';
import * as session from '../session.js';
import { ask, note, record } from '../shell.js';
import { tag } from '../tags.js';
import { mass, moment, t } from '../words.js';

let kept = null;

function withdraw(flag, side, view) {
  return async () => {
    const lines = [t('flags.withdraw_what', { label: flag.label, at: moment(side.at), names: side.label ?? '' })];
    if (!(await ask(lines, { title: t('flags.withdraw'), yes: t('flags.withdraw'), no: t('ask.back') }))) return;
    const reason = t('flags.reason', { sentence: flag.sentence });
    const told = await record([{ kind: 'voided', data: { entry_id: side.entry_id, reason } }], t('say.withdrawn', { label: flag.label }), { house: true });
    if (told) {
      kept = null;
      note(t('flags.after_sending'));
      view.redraw();
    }
  };
}

function story(flag, side, at, view) {
  return h(
    'div',
    { class: 'story' },
    h('strong', {}, t('flags.story', { n: at + 1 })),
    h('p', {}, moment(side.at), side.label && `: ${side.label}`, side.amount !== undefined && side.amount !== null && ` ${mass(side.amount)}`),
    button(`withdraw-${side.entry_id}`, withdraw(flag, side, view), {}, t('flags.withdraw')),
  );
}

const item = (flag, view) =>
  h(
    'li',
    { class: 'flag' },
    h('h2', {}, tag('flag', t('tag.flag')), ' ', t(`kind.${flag.kind}`), ' ', flag.label),
    h('p', {}, flag.sentence),
    h('div', { class: 'stories' }, flag.sides.map((side, at) => story(flag, side, at, view))),
  );

export async function show(params, view) {
  if (view.fresh || !kept) {
    try {
      const answer = await session.call('GET', '/v1/flags');
      kept = answer.status === 200 ? answer.body.items : null;
    } catch {
      kept = null;
    }
  }
  return h(
    'div',
    { class: 'page office' },
    h('h1', { tabindex: '-1' }, t('flags.title')),
    !kept && h('p', {}, t('office.needs_signal')),
    kept?.length === 0 && h('p', {}, t('flags.none')),
    kept && h('ul', { class: 'plain' }, kept.map((flag) => item(flag, view))),
    link('/office', { class: 'line' }, t('office.title')),
  );
}
