// Treat: a medicine from the cupboard, its batch, all hives of the yard unless one is touched away. Supers that stand on
// these hives are named before anything goes in; what that means for them the rules say.

import { caution } from '../caution.js';
import { button, h } from '../dom.js';
import { note, record } from '../shell.js';
import { meta, rowsOf, setMeta } from '../store.js';
import { byLabel, day, t } from '../words.js';
import { chips } from './chips.js';
import * as picked from './picked.js';

export const needsHive = 'many';

const PIECES = [1, 2, 3, 4];

function lastStep(hive) {
  const steps = hive.state.treatments ?? [];
  return steps.at(-1);
}
const isIn = (hive) => ['put_in', 'seen'].includes(lastStep(hive)?.act);

export const done = (hive) => {
  const step = lastStep(hive);
  return step && t(`treat.step.${step.act}`, { at: day(step.at) });
};

// Named by hive, so that somebody takes them off first where the label asks for it.
function supersOn(chosen, supers) {
  const on = chosen.filter((hive) => supers.get(hive.id) > 0);
  if (on.length === 0) return null;
  const list = on.map((hive) => t('treat.stands', { hive: hive.label, n: supers.get(hive.id) })).join(', ');
  return h('p', { class: 'told' }, t('treat.supers', { list }));
}

export async function pane({ yard, chosen, supers, view }) {
  const cupboard = (await rowsOf('medicine')).sort(byLabel);
  const kept = (await meta('treat')) ?? {};
  const medicine = cupboard.find((one) => one.id === kept.medicine);
  const batches = [...new Set((medicine?.state.bought ?? []).map((bought) => bought.batch))].reverse();
  const batch = batches.includes(kept.batch) ? kept.batch : undefined;
  const set = async (change) => {
    await setMeta('treat', { ...kept, ...change });
    view.redraw();
  };
  const ids = (hives) => hives.map((hive) => hive.id);
  const give = (kind) => async () => {
    if (chosen.length === 0) return note(t('many.none'));
    if (!medicine) return note(t('treat.medicine_missing'));
    const per_hive = kept.pieces ? { pieces: kept.pieces } : undefined;
    const data = { hive_ids: ids(chosen), medicine_id: medicine.id, batch, per_hive };
    const say = t(`say.${kind}`, { medicine: medicine.label, n: chosen.length, yard: yard.label });
    return (await record([{ kind, data }], say)) && view.redraw(picked.reset(yard.id, 'treat'));
  };
  const treated = chosen.filter(isIn);
  const of = (kind) => () => record([{ kind, data: { hive_ids: ids(treated) } }], t(`say.${kind}`, { n: treated.length, yard: yard.label }));
  if (cupboard.length === 0) return h('p', { class: 'hint' }, t('treat.empty'));
  return [
    chips('medicine', t('treat.medicine'), cupboard.map((one) => one.id), medicine?.id, (id) => set({ medicine: id, batch: undefined }), (id) => cupboard.find((one) => one.id === id).label, { keep: true, not: t('many.choose') }),
    medicine && (batches.length > 0 ? chips('batch', t('treat.batch'), batches, batch, (value) => set({ batch: value }), String, { not: t('treat.no_batch') }) : h('p', {}, t('treat.not_bought'))),
    medicine && chips('pieces', t('treat.pieces'), PIECES, kept.pieces, (pieces) => set({ pieces }), String, { not: t('treat.not_told') }),
    supersOn(chosen, supers),
    caution('safety.medicine'),
    button('put-in', give('treatment_put_in'), { class: 'main wide' }, t('treat.put_in', { n: chosen.length })),
    h(
      'div',
      { class: 'acts' },
      button('given', give('treatment_given'), {}, t('treat.given', { n: chosen.length })),
      treated.length > 0 && button('take-out', of('treatment_taken_out'), {}, t('treat.take_out', { n: treated.length })),
      treated.length > 0 && button('seen-in', of('treatment_seen'), {}, t('treat.seen', { n: treated.length })),
    ),
  ];
}
