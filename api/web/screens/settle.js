// Settle: wax and air have risen; what was skimmed off is weighed.

import { button, h } from '../dom.js';
import { record } from '../shell.js';
import { row, rowsOf } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, day, mass, t } from '../words.js';
import { padPage, page, to, weightPad } from './parts.js';

const HOURS_A_DAY_MS = 24 * 3600 * 1000;
const standing = (fill) => Math.max(0, Math.floor((Date.now() - Date.parse(fill.state.filled_at)) / HOURS_A_DAY_MS));

async function list() {
  const fills = (await rowsOf('fill')).filter((fill) => fill.state.content_g > 0 && !fill.state.settled_at).sort(byLabel);
  const item = (fill) => h('li', {}, to(`/house/settle/${fill.id}`, fill.label, t('settle.since', { mass: mass(fill.state.content_g), at: day(fill.state.filled_at) }), tagsOf(fill)));
  return page(t('settle.title'), ['/house', t('house.title')], fills.length === 0 && h('p', {}, t('settle.none')), h('ul', { class: 'rows' }, fills.map(item)));
}

export async function show(params, view) {
  const fill = params.fill && (await row('fill', params.fill));
  if (!fill) return list();
  if (!view.fresh) return undefined;
  const keep = async (skimmed_g) => {
    const wish = { kind: 'fill_settled', data: { fill_id: fill.id, days: standing(fill), skimmed_g } };
    if (await record([wish], t('say.settled', { fill: fill.label }), { house: true })) await view.go('/house/settle', { replace: true });
  };
  const pad = weightPad('skimmed', t('settle.skimmed'), keep, { extra: [button('skip-skimmed', () => keep(undefined), { class: 'key word' }, t('key.skip'))] });
  return padPage(t('settle.one', { fill: fill.label }), pad);
}
