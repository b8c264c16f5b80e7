// What can be chosen in a form: rows and words become the choices of a list.

import { rowsOf } from '../store.js';
import { byLabel, t } from '../words.js';

export const word = (field, value) => t(field === 'class' ? `class.${value}` : `container.${value}`);

// The fields of a form with their choices, and what stands in them beforehand.
export async function ready(fields, values = {}) {
  const chosen = async ([key, type, more = {}]) => {
    const list = more.rows
      ? (await rowsOf(more.rows)).sort(byLabel).map((one) => [one.id, one.label ?? t('unit.none')])
      : (more.words?.map((name) => [name, more.say ? t(`${more.say}.${name}`) : word(key, name)]) ?? more.list);
    return [key, type, { ...more, list, value: values[key] ?? more.value }];
  };
  return Promise.all(fields.map(chosen));
}
