// Load: what was pulled here stands to be loaded; one touch takes all of it, or box by box where one stays behind.

import { button, h } from '../dom.js';
import { record } from '../shell.js';
import { rowsAt } from '../store.js';
import { byLabel, t } from '../words.js';
import { steady, superTile } from './tiles.js';

export const needsHive = false;

const wish = (one, yard) => ({
  kind: 'super_loaded',
  data: { super_id: one.id, yard_id: yard.id },
  say: t('say.loaded', { super: one.label }),
});

export async function pane({ yard, hives, view }) {
  const here = new Set(hives.map((hive) => hive.id));
  const lastHive = (one) => one.state.filling?.stands?.at(-1)?.hive_id;
  const find = async () => {
    const pulled = (await rowsAt('super@pulled')).filter((one) => here.has(lastHive(one)));
    return [...pulled.sort(byLabel), ...(await rowsAt(`super@${yard.id}`)).sort(byLabel)];
  };
  const supers = await steady(`load/${yard.id}`, find, view.fresh);
  const waiting = supers.filter((one) => one.status === 'pulled');
  const all = () =>
    record(waiting.map((one) => wish(one, yard)), t('say.loaded_all', { n: waiting.length }));
  return [
    h('h2', {}, t('load.pulled_here', { n: waiting.length })),
    waiting.length > 0 && button('load-all', all, { class: 'main wide' }, t('load.all', { n: waiting.length })),
    supers.length > 0 && h('p', { class: 'hint' }, t('load.single')),
    h(
      'div',
      { class: 'tiles' },
      supers.map((one) =>
        superTile(one, {
          done: one.status === 'on_truck',
          more: t(`status.${one.status}`),
          act: () => record([wish(one, yard)], t('say.loaded', { super: one.label })),
        }),
      ),
    ),
  ];
}
