// Boards: how each hive is cleared of bees before its supers come off. The method stays; a touch on a hive writes it.

import { caution } from '../caution.js';
import { h } from '../dom.js';
import { record } from '../shell.js';
import { meta, setMeta } from '../store.js';
import { clock, day, t } from '../words.js';
import { chips } from './chips.js';

export const needsHive = true;

const METHODS = ['escape_board', 'fume_board', 'blower', 'brush'];

const chosen = async () => (await meta('clearing')) ?? METHODS[0];

export async function touch(hive) {
  const clearing = await chosen();
  const data = { hive_ids: [hive.id], clearing };
  return record([{ kind: 'clearing_fitted', data }], t('say.clearing', { hive: hive.label, method: t(`clearing.${clearing}`) }));
}

export const done = (hive) => {
  const last = hive.state.clearing;
  return last && t('clearing.since', { method: t(`clearing.${last.clearing}`), at: `${day(last.at)} ${clock(last.at)}` });
};

export async function pane({ view }) {
  const method = await chosen();
  const choose = async (value) => {
    await setMeta('clearing', value);
    view.redraw();
  };
  return [
    chips('method', t('clearing.method'), METHODS, method, choose, (value) => t(`clearing.${value}`), { keep: true }),
    method === 'fume_board' && caution('safety.repellent'),
    h('p', { class: 'hint' }, t('clearing.hint')),
  ];
}
