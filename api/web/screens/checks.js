// Checks: whether refractometers and scales were found right, since when, and the offset where one was wrong.

import { button, h } from '../dom.js';
import { keypad } from '../keypad.js';
import { note, record } from '../shell.js';
import { row, rowsOf } from '../store.js';
import { tag } from '../tags.js';
import { byLabel, day, t } from '../words.js';
import { padPage, page } from './parts.js';

const last = (one) => (one.state.checks ?? []).at(-1);

function words(one) {
  const check = last(one);
  if (!check) return tag('check', t('checks.never'));
  return check.passed ? tag('sent', t('checks.right', { at: day(check.at) })) : tag('not_taken', t('checks.wrong', { at: day(check.at) }));
}

const wish = (one, passed, offset_hundredths) => ({
  kind: `${one.kind}_checked`,
  data: { [`${one.kind}_id`]: one.id, passed, offset_hundredths },
});

const tell = (one, passed, offset) => record([wish(one, passed, offset)], t(passed ? 'say.checked_right' : 'say.checked_wrong', { name: one.label }), { house: true });

function item(one, view) {
  const wrong = () => (one.kind === 'meter' ? view.go(`/house/checks/${one.id}`) : tell(one, false));
  return h(
    'li',
    { class: 'task' },
    h('strong', {}, t(`kind.${one.kind}`), ' ', one.label),
    words(one),
    h('div', { class: 'acts' }, button(`right-${one.id}`, () => tell(one, true), {}, t('checks.is_right')), button(`wrong-${one.id}`, wrong, {}, t('checks.is_wrong'))),
  );
}

// By how much it was wrong, up or down; it may be left out.
function offset(meter, view) {
  const keep = async (value) => {
    if (await tell(meter, false, value)) await view.go('/house/checks', { replace: true });
  };
  let sign = 1;
  const pad = keypad({
    name: 'offset',
    label: t('checks.offset'),
    unit: '%',
    places: 1,
    next: t('act.next'),
    done: (typed) => (typed === null ? note(t('checks.offset_missing')) : keep(sign * typed * 10)),
    extra: [button('skip-offset', () => keep(undefined), { class: 'key word' }, t('key.skip'))],
  });
  const way = (value, word) => {
    const chip = h('button', { type: 'button', class: 'chip', 'data-key': `sign-${value}`, 'aria-pressed': String(value === sign) }, word);
    chip.addEventListener('click', () => {
      sign = value;
      for (const one of chip.parentElement.children) one.setAttribute('aria-pressed', String(one === chip));
    });
    return chip;
  };
  return padPage(t('checks.how_wrong', { name: meter.label }), pad, h('div', { class: 'beside choices' }, way(1, t('checks.too_wet')), way(-1, t('checks.too_dry'))));
}

export async function show(params, view) {
  const meter = params.meter && (await row('meter', params.meter));
  if (meter) return view.fresh ? offset(meter, view) : undefined;
  const all = [...(await rowsOf('meter')), ...(await rowsOf('scale'))].sort(byLabel);
  return page(
    t('checks.title'),
    ['/house', t('house.title')],
    h('p', {}, t('checks.how')),
    all.length === 0 && h('p', {}, t('checks.none')),
    h('ul', { class: 'plain' }, all.map((one) => item(one, view))),
  );
}
