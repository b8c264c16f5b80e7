// Profile and limits: whose law holds, the house's own limit, and how long holds last where no label says so.

import { h } from '../dom.js';
import { note } from '../shell.js';
import * as sync from '../sync.js';
import { t } from '../words.js';
import * as forms from './forms.js';

let kept = null;

const told = async (path, body, view) => {
  const written = await forms.tellService(path, body);
  if (!written) return;
  note(t('limits.written'), ...(written.warnings ?? []).map((warning) => warning.detail ?? warning.sentence));
  kept = null;
  sync.soon(0);
  view.redraw();
};

export async function show(params, view) {
  if (view.fresh || !kept) kept = await forms.askService('/v1/settings/profile');
  if (!kept) return forms.page(t('limits.title'), h('p', {}, t('office.needs_signal')));
  const profiles = ['eu', 'uk_england', 'canada', 'usa'].map((name) => [name, t(`profile.${name}`)]);
  return forms.page(
    t('limits.title'),
    h('p', { class: 'caution' }, kept.check),
    forms.quick('profile-form', t('limits.profile'), [['profile', 'one', { needs: true, value: kept.profile, list: profiles }]], { save: (said) => told('/v1/settings/profiles', said, view), act: t('act.save') }),
    forms.quick('limit-form', t('limits.house'), [['moisture_hundredths', 'percent', { needs: true, value: kept.house_limit_hundredths }]], { save: (said) => told('/v1/settings/house-limits', said, view), act: t('act.save') }),
    forms.quick('hold-days-form', t('limits.holds'), [['after_feed_days', 'count'], ['least_wait_days', 'count']], { save: (said) => told('/v1/settings/hold-days', said, view), act: t('act.save') }),
    forms.table(t('limits.values'), [[t('limits.what')], [t('limits.source')], [t('limits.changed')]], kept.values.map((one) => [one.means, [one.source.text, one.source.place].filter(Boolean).join(', '), one.changed ? t('chip.yes') : ''])),
  );
}
