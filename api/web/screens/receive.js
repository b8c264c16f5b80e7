// Receive: the super, its weight, Next. How many of those loaded have come in is always to be seen.

import { button, h, link } from '../dom.js';
import { keypad } from '../keypad.js';
import * as rules from '../rules.js';
import { note, record } from '../shell.js';
import { meta, row, rowsAt } from '../store.js';
import { gramsOfTenths, mass, massUnit, t, today } from '../words.js';
import { inTurn, numberField, steady, superTile } from './tiles.js';

async function find(typed) {
  await rules.start();
  const subject = rules.find(typed);
  return subject?.kind === 'super' ? row('super', subject.id) : undefined;
}

const cameToday = (one) => (one.state.filling?.received_at ?? '').slice(0, 10) === today();

async function list(view) {
  const supers = await steady('receive', () => inTurn('super@on_truck', 'super@pulled'), view.fresh);
  const house = await rowsAt('super@in_house');
  const coming = await rowsAt('super@on_truck');
  const came = house.filter(cameToday).length;
  const to = (one) => view.go(`/house/receive/${one.id}`);
  const more = (one) => (one.status === 'in_house' ? mass(one.state.filling?.full?.gross_g) : t(`status.${one.status}`));
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('receive.title')),
    h('p', { class: 'big' }, t('receive.of', { came, all: came + coming.length })),
    h('div', { class: 'tiles' }, supers.map((one) => superTile(one, { done: one.status === 'in_house', more: more(one), act: () => to(one) }))),
    supers.length === 0 && h('p', {}, t('receive.none')),
    numberField('receive-number', t('receive.other'), find, to),
    link('/house', { class: 'line' }, t('house.title')),
  );
}

export async function show(params, view) {
  if (!params.super) return list(view);
  const one = await row('super', params.super);
  if (!one) return list(view);
  if (!view.fresh) return undefined;
  const keep = async (grams) => {
    const scale = (await rowsAt('scale@in_use'))[0];
    const data = { super_id: one.id, gross_g: grams, scale_id: grams === undefined ? undefined : scale?.id };
    const say = grams === undefined ? t('say.received', { super: one.label }) : t('say.received_at', { super: one.label, mass: mass(grams) });
    const again = one.status === 'in_house';
    const wish = again && grams !== undefined ? { kind: 'super_weighed', data } : { kind: 'super_received', data };
    if (await record([wish], say, { house: true })) await view.go('/house/receive', { replace: true });
  };
  const prefs = (await meta('prefs')) ?? {};
  const pad = keypad({
    name: 'gross',
    label: t('receive.gross', { super: one.label }),
    unit: massUnit(),
    places: 1,
    next: t('act.next'),
    system: prefs.keypad === 'system',
    done: (tenths) => (tenths === null ? note(t('say.weight_missing')) : keep(gramsOfTenths(tenths))),
    extra: [button('skip', () => keep(undefined), { class: 'key word' }, t('key.skip'))],
  });
  pad.field.dataset.first = '1';
  return h('div', { class: 'pad-page' }, h('h1', { tabindex: '-1' }, t('receive.one', { super: one.label })), pad.element);
}
