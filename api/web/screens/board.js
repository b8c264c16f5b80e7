// The yard board: the job above, the hives as tiles, and below them what the job needs for the hive that was touched.

import { button, h, link } from '../dom.js';
import * as rules from '../rules.js';
import { currentPlace, setPlace } from '../shell.js';
import { countsAt, meta, row, rowsAt, setMeta } from '../store.js';
import { tagsOf } from '../tags.js';
import { byLabel, t } from '../words.js';
import * as picked from './picked.js';
import * as boards from './job-boards.js';
import * as colony from './job-colony.js';
import * as count from './job-count.js';
import * as feed from './job-feed.js';
import * as hold from './job-hold.js';
import * as load from './job-load.js';
import * as look from './job-look.js';
import * as move from './job-move.js';
import * as place from './job-place.js';
import * as pull from './job-pull.js';
import * as spare from './job-spare.js';
import * as treat from './job-treat.js';

const JOBS = { place, pull, load, boards, spare, look, colony, count, feed, treat, hold, move };
// Two jobs stand in front always, the third is the last other one, the fourth leads to all of them.
const FRONT = ['place', 'pull'];
const GROUPS = [['supers', ['place', 'pull', 'boards', 'load', 'spare']], ['bees', ['look', 'colony', 'count', 'move']], ['care', ['feed', 'treat', 'hold']]];

// Holds follow hives, feed and medicine through everything; asked once, until something new was fetched or written.
let holds = new Map();
let holdsAsOf = '';

async function holdsOf(hives) {
  if (!rules.isReady()) return new Map();
  const now = `${await meta('head')}/${await meta('counter')}`;
  const asOf = hives.some((hive) => hive.mine) ? now : String(await meta('head'));
  if (holdsAsOf !== asOf) [holds, holdsAsOf] = [new Map(), asOf];
  for (const [id, held] of rules.holdsOnEach(hives.filter((hive) => !holds.has(hive.id)))) holds.set(id, held);
  return holds;
}

const size = (label) => (label.length <= 3 ? 'short' : label.length <= 5 ? 'middle' : 'long');

// A job for one hive goes to it; a job for many takes it in or leaves it out.
function touchHive(hive, job, params, view) {
  if (job.touch) return job.touch(hive);
  if (job.needsHive === 'many') return view.redraw(picked.toggle(params.yard, params.job, hive.id));
  // At once, before anything is read: a quick second touch must not meet a super of the hive before.
  document.querySelector('[data-pane="pane"]').replaceChildren();
  return view.go(`/yard/${params.yard}/${params.job}/${hive.id}`, { replace: true });
}

function hiveTile(hive, supers, held, job, params, view) {
  const label = hive.label ?? t('hive.unnamed');
  const many = job.needsHive === 'many';
  const on = many ? picked.has(params.yard, params.job, hive.id) : hive.id === params.hive;
  return button(
    `hive-${hive.id}`,
    () => touchHive(hive, job, params, view),
    { class: 'tile hive', 'aria-pressed': String(on) },
    h('span', { class: `tile-number ${size(label)}` }, label),
    h('span', { class: 'tile-more' }, many && !on ? t('hive.left_out') : t('hive.supers', { n: supers })),
    job.done?.(hive) && h('span', { class: 'tile-more' }, job.done(hive)),
    tagsOf(hive, held),
  );
}

function jobLink(name, params) {
  const here = name === params.job;
  return link(`/yard/${params.yard}/${name}`, { class: 'job', 'aria-current': here ? 'true' : null }, t(`job.${name}`));
}

function allJobs(params) {
  const group = ([name, jobs]) => [
    h('h2', {}, t(`jobs.${name}`)),
    h('div', { class: 'tiles' }, jobs.map((job) => link(`/yard/${params.yard}/${job}`, { class: 'act tile word', 'data-key': `job-${job}` }, t(`job.${job}`)))),
  ];
  return [...GROUPS.map(group), link(`/yard/bring`, { class: 'line' }, t('bring.title')), link(`/office/set-up/yards/${params.yard}`, { class: 'line' }, t('yard.page'))];
}

async function third(params) {
  const other = JOBS[params.job] && !FRONT.includes(params.job) ? params.job : undefined;
  if (other) {
    if ((await meta('other_job')) !== other) await setMeta('other_job', other);
    return other;
  }
  const last = await meta('other_job');
  return JOBS[last] ? last : 'load';
}

export async function show(params, view) {
  const yard = await row('yard', params.yard);
  if (!yard) return h('div', { class: 'page' }, h('h1', { tabindex: '-1' }, t('yard.unknown')), link('/yard', { class: 'line' }, t('arrive.title')));
  if (currentPlace()?.id !== yard.id) await setPlace({ id: yard.id, label: yard.label });
  const more = params.job === 'more';
  if (!JOBS[params.job] && !more) {
    // The job stays until another is touched.
    const job = (await meta('job')) ?? 'place';
    return void (await view.go(`/yard/${yard.id}/${JOBS[job] ? job : 'place'}`, { replace: true }));
  }
  if (view.fresh && !more) await setMeta('job', params.job);
  const hives = (await rowsAt(`hive@${yard.id}`)).sort(byLabel);
  const hive = hives.find((one) => one.id === params.hive);
  const [held, supers] = [await holdsOf(hives), await countsAt(hives.map((one) => `super@${one.id}`))];
  const job = JOBS[params.job] ?? {};
  const names = [...FRONT, await third(params), 'more'];
  const chosen = job.needsHive === 'many' ? hives.filter((one) => picked.has(yard.id, params.job, one.id)) : [];
  const pane = more
    ? allJobs(params)
    : await job.pane({ yard, hives, hive, chosen, supers: new Map(hives.map((one, at) => [one.id, supers[at]])), on: hive ? () => rowsAt(`super@${hive.id}`) : null, view });
  return h(
    'div',
    { class: `board job-${params.job}${hive || job.needsHive === 'many' ? ' chosen' : ''}` },
    h('h1', { class: 'board-title', tabindex: '-1' }, yard.label),
    h('nav', { class: 'jobs', 'aria-label': t('job.label') }, names.map((name) => jobLink(name, params))),
    // Where an amount is typed the keys need the room.
    job.needsHive &&
      !job.isTyping?.() &&
      h(
        'section',
        { class: 'tiles hives', 'data-pane': 'hives', 'aria-label': t('hive.title'), tabindex: '0' },
        hives.length === 0 && h('p', {}, t('yard.no_hives')),
        hives.map((one, at) => hiveTile(one, supers[at], held.get(one.id), job, params, view)),
      ),
    h('section', { class: 'pane', 'data-pane': 'pane', 'aria-label': t(`job.${params.job}`), tabindex: '0' }, pane),
  );
}
