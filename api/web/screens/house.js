// The honey house: what to do next with the reason, each leading to where it is done, and the rooms of the work.

import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import { said } from '../said.js';
import { countsAt } from '../store.js';
import { tag } from '../tags.js';
import { day, t } from '../words.js';
import { page, to } from './parts.js';

const WAITING_MOST = 30;

// Where each thing to do is done.
const WHERE = {
  hold: (one) => `/find/${encodeURIComponent(one.label)}`,
  measure: (one) => `/house/moisture/${one.kind}/${one.id}`,
  re_measure: (one) => `/house/moisture/${one.kind}/${one.id}`,
  dry: () => '/house/warm-room',
  extract: () => '/house/run',
  return_to_hive: () => '/yard',
  settle: (one) => `/house/settle/${one.id}`,
  draw: (one) => `/house/blend?from=${one.kind}/${one.id}`,
  release: (one) => `/office/lots/${one.id}`,
  bottle: (one) => `/house/bottle/${one.id}`,
};

function task(one) {
  return h(
    'li',
    { class: 'task' },
    link(WHERE[one.act]?.(one) ?? '/house', { class: 'row-link' }, h('span', { class: 'row-name' }, words(one)), one.late && tag('check', t('tag.late'))),
    h('span', { class: 'soft' }, said({ sentence: one.why }), ' ', t('house.why', { rule: one.rule, since: one.since ? day(one.since) : '–' })),
  );
}

const words = (one) => t('house.task', { act: t(`act.${one.act}`), kind: t(`kind.${one.kind}`), label: one.label });

function waiting(tasks) {
  return page(
    t('house.waiting'),
    ['/house', t('house.title')],
    tasks.length === 0 && h('p', {}, t('house.nothing')),
    h('ul', { class: 'plain' }, tasks.slice(0, WAITING_MOST).map(task)),
    tasks.length > WAITING_MOST && h('p', {}, t('house.more', { n: tasks.length - WAITING_MOST })),
  );
}

export async function show(params) {
  const [coming] = await countsAt(['super@on_truck']);
  const tasks = rules.isReady() ? rules.next() : [];
  if (params.next) return waiting(tasks);
  const first = tasks.length > 0 ? t('house.first', { n: tasks.length, first: words(tasks[0]) }) : t('house.nothing');
  const rows = [
    to('/house/receive', t('receive.title'), t('receive.coming', { n: coming })),
    to('/house/warm-room', t('room.title')),
    to('/house/moisture', t('moisture.title')),
    to('/house/run', t('run.title')),
    to('/house/fill', t('fill.title')),
    to('/house/settle', t('settle.title')),
    to('/house/blend', t('blend.title')),
    to('/office/lots', t('lots.title')),
    to('/house/bottle', t('bottle.title')),
    to('/house/checks', t('checks.title')),
    to('/house/clean', t('clean.title')),
  ];
  return page(
    t('house.title'),
    null,
    to('/house/next', t('house.waiting'), first, tasks.some((one) => one.late) && tag('check', t('tag.late'))),
    h('ul', { class: 'rows two' }, rows.map((row) => h('li', {}, row))),
  );
}
