// The first steps on a fresh data folder: a yard, its hives and the supers, told in one form, and then out to the yard.

import { h, link } from '../dom.js';
import { newId } from '../entry.js';
import { record } from '../shell.js';
import { t } from '../words.js';
import * as forms from './forms.js';

const MOST = 400;
const numbered = (n, width, prefix = '') => Array.from({ length: n }, (_, at) => `${prefix}${String(at + 1).padStart(width, '0')}`);

// The first letter of a yard's name stands before the numbers of its hives.
const letterOf = (name) => name.replace(/[^\p{L}]/gu, '').slice(0, 1).toUpperCase();

export async function show(params, view) {
  const spec = [
    ['name', 'text', { needs: true, label: t('begin.yard') }],
    ['hives', 'count', { needs: true, label: t('begin.hives') }],
    ['supers', 'count', { needs: true, label: t('begin.supers') }],
    ['class', 'one', { needs: true, list: ['medium', 'deep', 'shallow'].map((name) => [name, t(`class.${name}`)]) }],
    ['frames', 'count', { needs: true, value: 10 }],
  ];
  const check = ({ hives, supers }) => ({
    hives: hives > MOST && t('form.at_most', { name: t('begin.hives'), n: MOST }),
    supers: supers > MOST && t('form.at_most', { name: t('begin.supers'), n: MOST }),
  });
  const save = async ({ name, hives, supers, class: box, frames }) => {
    const yard = newId();
    const code = letterOf(name);
    // Hives stand in a yard that is known, so it comes first.
    if (!(await record([{ kind: 'yard_registered', data: { yard_id: yard, name, code: code || undefined } }], t('say.set_up', { label: name }), { house: true }))) return;
    const wishes = [
      ...numbered(hives, 2, code).map((hive) => ({ kind: 'hive_registered', data: { hive_id: newId(), yard_id: yard, code: hive }, say: t('say.set_up', { label: hive }) })),
      ...numbered(supers, 3).map((super_) => ({ kind: 'super_registered', data: { super_id: newId(), number: super_, class: box, frames }, say: t('say.set_up', { label: super_ }) })),
    ];
    if (await record(wishes, t('say.begun', { name, hives, supers }), { house: true })) await view.go(`/yard/${yard}/place`, { replace: true });
  };
  return forms.page(
    t('begin.title'),
    h('p', {}, t('begin.how')),
    forms.quick('begin-form', t('begin.form'), spec, { check, save, act: t('begin.save') }),
    link('/office/set-up', { class: 'line' }, t('begin.other')),
  );
}
