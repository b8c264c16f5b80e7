// Earlier: who writes down afterwards what happened sets the time first; the strip says so until it is now again.

import { button, h } from '../dom.js';
import { drawEarlier, note } from '../shell.js';
import { writeFor } from '../when.js';
import { local, t } from '../words.js';

const HOUR_MS = 3600000;

export async function show(params, view) {
  if (!view.fresh) return undefined;
  const field = h('input', { id: 'earlier-at', type: 'datetime-local', max: local(new Date()), value: local(new Date(Date.now() - HOUR_MS)) });
  const set = () => {
    const at = new Date(field.value);
    // Not a number where no time stands, which is no time in the past either.
    if (!(at < Date.now())) return note(t('earlier.past'));
    writeFor(at);
    drawEarlier();
    return view.go('/yard', { replace: true });
  };
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('earlier.title')),
    h('p', {}, t('earlier.how')),
    h('div', { class: 'field' }, h('label', { for: 'earlier-at' }, t('earlier.at')), field),
    button('earlier-set', set, { class: 'main wide' }, t('earlier.set')),
  );
}
