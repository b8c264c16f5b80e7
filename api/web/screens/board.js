// The yard board: the job above, the hives as tiles, and below them what the job needs for the hive that was touched.

import { button, h, link } from '../dom.js';
import * as rules from '../rules.js';
import { currentPlace, setPlace } from '../shell.js';
import { countsAt, meta, row, rowsAt, setMeta } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, t } from '../words.js';
import * as hold from './job-hold.js';
import * as load from './job-load.js';
import * as place from './job-place.js';
import * as pull from './job-pull.js';

const JOBS = { place, pull, load, hold };

// Holds follow hives, feed and medicine through everything; asked once, until something new was fetched or written.
let holds = new Map();
let holdsAsOf = '';

async function holdsOf(hives) {
  if (!rules.isReady()) return new Map();
  const now = `${await meta('head')}/${await meta('counter')}`;
  const asOf = hives.some((hive) => hive.mine) ? now : String(await meta('head'));
  if (holdsAsOf !== asOf) [holds, holdsAsOf] = [new Map(), asOf];
  for (const hive of hives) if (!holds.has(hive.id)) holds.set(hive.id, rules.holdsOn('hive', hive.id));
  return holds;
}

const size = (label) => (label.length <= 3 ? 'short' : label.length <= 5 ? 'middle' : 'long');

function hiveTile(hive, supers, held, params, view) {
  const label = hive.label ?? t('hive.unnamed');
  const chosen = hive.id === params.hive;
  return button(
    `hive-${hive.id}`,
    () => {
      // At once, before anything is read: a quick second touch must not meet a super of the hive before.
      document.querySelector('[data-pane="pane"]').replaceChildren();
      return view.go(`/yard/${params.yard}/${params.job}/${hive.id}`, { replace: true });
    },
    { class: 'tile hive', 'aria-pressed': String(chosen) },
    h('span', { class: `tile-number ${size(label)}` }, label),
    h('span', { class: 'tile-more' }, t('hive.supers', { n: supers })),
    tagsOf(hive, held),
  );
}

function jobLink(name, params) {
  const here = name === params.job;
  return link(`/yard/${params.yard}/${name}`, { class: 'job', 'aria-current': here ? 'true' : null }, t(`job.${name}`));
}

export async function show(params, view) {
  const yard = await row('yard', params.yard);
  if (!yard) return h('div', { class: 'page' }, h('h1', { tabindex: '-1' }, t('yard.unknown')), link('/yard', { class: 'line' }, t('arrive.title')));
  if (currentPlace()?.id !== yard.id) await setPlace({ id: yard.id, label: yard.label });
  if (!JOBS[params.job]) {
    // The job stays until another is touched.
    const job = (await meta('job')) ?? 'place';
    return void (await view.go(`/yard/${yard.id}/${JOBS[job] ? job : 'place'}`, { replace: true }));
  }
  if (view.fresh) await setMeta('job', params.job);
  const hives = (await rowsAt(`hive@${yard.id}`)).sort(byLabel);
  const hive = hives.find((one) => one.id === params.hive);
  const [held, supers] = [await holdsOf(hives), await countsAt(hives.map((one) => `super@${one.id}`))];
  const job = JOBS[params.job];
  const pane = await job.pane({ yard, hives, hive, on: hive ? () => rowsAt(`super@${hive.id}`) : null, view });
  return h(
    'div',
    { class: hive ? `board chosen ${params.job}` : 'board' },
    h('h1', { class: 'board-title', tabindex: '-1' }, yard.label),
    h('nav', { class: 'jobs', 'aria-label': t('job.label') }, Object.keys(JOBS).map((name) => jobLink(name, params))),
    job.needsHive &&
      h(
        'section',
        { class: 'tiles hives', 'data-pane': 'hives', 'aria-label': t('hive.title'), tabindex: '0' },
        hives.length === 0 && h('p', {}, t('yard.no_hives')),
        hives.map((one, at) => hiveTile(one, supers[at], held.get(one.id), params, view)),
      ),
    h('section', { class: 'pane', 'data-pane': 'pane', 'aria-label': t(`job.${params.job}`), tabindex: '0' }, pane),
  );
}
