// Feed: on all hives of the yard unless one is touched away. Kind and amount of the last time stand ready.

import { button, h } from '../dom.js';
import { keypad } from '../keypad.js';
import { note, record } from '../shell.js';
import { meta, setMeta } from '../store.js';
import { day, gramsOfTenths, mass, massUnit, number, t } from '../words.js';
import { chips } from './chips.js';
import * as picked from './picked.js';

export const needsHive = 'many';

const KINDS = ['sugar_syrup', 'invert_syrup', 'fondant', 'dry_sugar', 'pollen', 'combs', 'other'];
const KEPT_AMOUNTS = 3;

// Whether an amount is being typed, and in what.
let typing = null;
export const isTyping = () => typing !== null;

const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
const litres = (amount) => `${number(amount.volume_ml / 1000, 1)} l`;
const word = (amount) => (amount.volume_ml === undefined ? mass(amount.weight_g) : litres(amount));

const isOn = (hive) => Boolean((hive.state.feedings ?? []).at(-1)?.put_on);
export const done = (hive) => {
  const last = (hive.state.feedings ?? []).at(-1);
  return last?.put_on && t('feed.on', { feed: t(`feed.${last.put_on.feed}`), at: day(last.at) });
};

function amountPad(kept, view) {
  const byVolume = typing === 'l';
  const keep = async (tenths) => {
    if (tenths === null) return note(t('say.weight_missing_plain'));
    const amount = byVolume ? { volume_ml: tenths * 100 } : { weight_g: gramsOfTenths(tenths) };
    const amounts = [amount, ...kept.amounts.filter((one) => !same(one, amount))].slice(0, KEPT_AMOUNTS);
    await setMeta('feed', { ...kept, amounts, amount });
    typing = null;
    return view.redraw();
  };
  const pad = keypad({ name: 'feed-amount', label: t('feed.amount'), unit: byVolume ? 'l' : massUnit(), places: 1, next: t('act.next'), done: keep });
  pad.field.dataset.first = '1';
  return pad.element;
}

export async function pane({ yard, chosen, view }) {
  if (view.fresh) typing = null;
  const kept = { amounts: [], ...(await meta('feed')) };
  if (typing) return amountPad(kept, view);
  const set = async (change) => {
    await setMeta('feed', { ...kept, ...change });
    view.redraw();
  };
  const ids = (hives) => hives.map((hive) => hive.id);
  const on = async () => {
    if (chosen.length === 0) return note(t('many.none'));
    if (!kept.feed) return note(t('feed.kind_missing'));
    if (!kept.amount) return note(t('feed.amount_missing'));
    const data = { hive_ids: ids(chosen), feed: kept.feed, per_hive: kept.amount };
    const say = t('say.fed', { n: chosen.length, yard: yard.label, feed: t(`feed.${kept.feed}`), amount: word(kept.amount) });
    return (await record([{ kind: 'feed_put_on', data }], say)) && view.redraw(picked.reset(yard.id, 'feed'));
  };
  const fed = chosen.filter(isOn);
  const off = () => record([{ kind: 'feed_taken_off', data: { hive_ids: ids(fed) } }], t('say.feed_off', { n: fed.length, yard: yard.label }));
  const type = (unit) => () => view.redraw((typing = unit));
  return [
    chips('feed', t('feed.kind'), KINDS, kept.feed, (feed) => set({ feed }), (value) => t(`feed.${value}`), { keep: true, not: t('many.choose') }),
    h(
      'fieldset',
      { class: 'chips' },
      h('legend', {}, t('feed.amount')),
      kept.amounts.map((amount, at) => button(`amount-${at}`, () => set({ amount }), { class: 'chip', 'aria-pressed': String(same(amount, kept.amount)) }, word(amount))),
      button('amount-mass', type('kg'), { class: 'chip' }, t('feed.type', { unit: massUnit() })),
      button('amount-volume', type('l'), { class: 'chip' }, t('feed.type', { unit: 'l' })),
    ),
    button('feed-on', on, { class: 'main wide' }, t('feed.put', { n: chosen.length })),
    fed.length > 0 && button('feed-off', off, { class: 'wide' }, t('feed.take', { n: fed.length })),
  ];
}
