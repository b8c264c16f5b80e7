// A copy that was saved on a phone, taken in at the office: whose it is stands in its first line.

import { button, h } from '../dom.js';
import * as session from '../session.js';
import { note } from '../shell.js';
import * as sync from '../sync.js';
import { t } from '../words.js';

let handed = null;

export function form() {
  const field = h('input', { id: 'hand-in', type: 'file', accept: '.ndjson,application/x-ndjson', 'aria-describedby': 'hand-in-name' });
  const name = h('p', { id: 'hand-in-name' }, handed?.name);
  field.addEventListener('change', () => {
    [handed] = field.files;
    name.replaceChildren(handed?.name ?? '');
  });
  const take = async () => {
    const file = handed;
    if (!file) return note(t('handin.no_file'));
    try {
      const answer = await session.call('POST', '/v1/sync/outboxes', file, { headers: { 'content-type': 'application/x-ndjson' }, slow: true });
      if (answer.status !== 200) return note(t('handin.not_taken'), answer.body);
      const count = (result) => answer.body.results.filter((one) => one.result === result).length;
      note(t('handin.taken', { stored: count('stored'), duplicate: count('duplicate') }), ...answer.body.results.filter((one) => one.result === 'refused' || one.result === 'quarantined').map((one) => t('handin.aside', { reason: one.detail ?? one.reason })));
      [handed, field.value] = [null, ''];
      name.replaceChildren();
      return sync.soon(0);
    } catch (error) {
      return note(error instanceof session.NoSignal ? t('handin.no_signal') : t('say.not_ours'));
    }
  };
  return h('section', { class: 'stack', 'aria-label': t('handin.title') }, h('h2', {}, t('handin.title')), h('div', { class: 'field' }, h('label', { for: 'hand-in' }, t('handin.file')), field), name, button('hand-in-act', take, { class: 'wide' }, t('handin.act')));
}
