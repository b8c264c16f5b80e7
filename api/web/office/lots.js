// Lots: their water, their holds, and the release by a named person. A release is the office's call and needs the
// service: it knows of every hold, and a lot must not go out on a phone's word alone.

import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import * as session from '../session.js';
import { note } from '../shell.js';
import { row, rowsOf } from '../store.js';
import * as sync from '../sync.js';
import { tagsOf } from '../tags.js';
import { byLabel, mass, moment, percent, t } from '../words.js';
import { bars } from './bars.js';
import * as forms from './forms.js';
import { newId } from '../entry.js';
import { earlier } from '../when.js';
import { telling } from './tell.js';

const highest = (readings) => readings.map((reading) => reading.moisture_hundredths).filter((value) => value !== undefined);

function water(lot) {
  const readings = lot.state.readings ?? [];
  if (readings.length === 0) return t('moisture.not_measured');
  const last = readings.at(-1);
  const values = highest(readings);
  return values.length === 0 ? t('lots.off_scale') : t('lots.water', { value: percent(Math.max(...values)), at: moment(last.at) });
}

async function list() {
  const lots = (await rowsOf('lot')).sort(byLabel);
  const item = (lot) => [link(`/office/lots/${lot.id}`, { class: 'line' }, lot.label), [t(`status.lot.${lot.status}`), ' ', tagsOf(lot)], mass(lot.state.content_g), water(lot)];
  const columns = [[t('lots.code')], [t('lots.state')], [t('lots.content'), true], [t('lots.moisture')]];
  return forms.page(t('lots.title'), lots.length === 0 ? h('p', {}, t('lots.none')) : forms.table(t('stock.lots'), columns, lots.map(item)));
}

async function release(lot, read, view) {
  const at = earlier();
  const then = at ? `&happened_at=${encodeURIComponent(at.toISOString())}&utc_offset_min=${-at.getTimezoneOffset()}` : '';
  const said = { samples_kept: read.samples, tastes_right: read.tastes || undefined, reason: read.reason };
  try {
    const answer = await session.call('POST', `/v1/lots/${lot.id}/releases?entry_id=${newId()}${then}`, said);
    if (answer.status >= 300) return note(t('lots.not_released', { code: lot.label }), answer.body);
    note(t('lots.released', { code: lot.label }), ...answer.body.warnings);
    sync.soon(0);
    return view.redraw();
  } catch (error) {
    return note(error instanceof session.NoSignal ? t('lots.needs_signal') : t('say.not_ours'));
  }
}

function releaseForm(lot, view) {
  const fields = [
    forms.text('release-samples', t('lots.samples'), { inputmode: 'numeric', value: '2' }),
    forms.select('release-tastes', t('lots.tastes'), [['', t('chip.not_looked')], ['yes', t('chip.yes')]]),
    forms.text('release-reason', t('lots.reason')),
  ];
  const check = () => {
    const [samplesTyped, tastes, reason] = fields.map((field) => field.read());
    const [samples, wrong] = forms.typedNumber(samplesTyped, t('lots.samples'));
    return { wrong: { 'release-samples': wrong, 'release-reason': reason === '' && t('form.missing', { name: t('lots.reason') }) }, samples, tastes: tastes === 'yes', reason };
  };
  return forms.form('release-form', t('lots.release'), fields, { check, save: (read) => release(lot, read, view), act: t('lots.release_act', { code: lot.label }) });
}

function reading(one) {
  const value = one.moisture_hundredths === undefined ? t('lots.off_scale') : percent(one.moisture_hundredths, 2);
  return h('li', {}, t('lots.reading', { value, at: moment(one.at) }), (one.amber ?? []).length > 0 && ` (${t('lots.amber')})`);
}

export async function show(params, view) {
  const lot = params.lot && (await row('lot', params.lot));
  if (!lot) return list();
  const holds = rules.isReady() ? rules.holdsOn('lot', lot.id) : [];
  return h(
    'div',
    { class: 'page office' },
    h('h1', { tabindex: '-1' }, t('lots.one', { code: lot.label })),
    h('p', { class: 'big' }, t(`status.lot.${lot.status}`), ', ', mass(lot.state.content_g), tagsOf(lot, holds)),
    h('h2', {}, t('lots.moisture')),
    h('p', {}, water(lot)),
    h('ul', { class: 'plain' }, (lot.state.readings ?? []).map(reading)),
    h('p', { class: 'lines no-print' }, link(`/house/moisture/lot/${lot.id}`, { class: 'act' }, t('lots.measure')), link(`/office/trace/lot/${lot.id}`, { class: 'act' }, t('trace.title')), link(`/office/recall/lot/${lot.id}`, { class: 'act' }, t('recall.title'))),
    bars(lot, holds) ?? [h('h2', {}, t('lots.holds')), h('p', {}, t('lots.no_holds'))],
    session.mayOffice() ? releaseForm(lot, view) : h('p', {}, t('lots.office_releases')),
    await telling(lot),
    link('/office/lots', { class: 'line' }, t('lots.title')),
  );
}
