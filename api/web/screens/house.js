// The honey house: where work goes in, and what waits there with the rule that says so.

import { h, link } from '../dom.js';
import * as rules from '../rules.js';
import { rowsAt } from '../store.js';
import { tag } from '../tags.js';
import { day, t } from '../words.js';

const WAITING_MOST = 30;

function task(one) {
  return h(
    'li',
    { class: 'task' },
    h('strong', {}, t('house.task', { act: t(`act.${one.act}`), kind: t(`kind.${one.kind}`), label: one.label })),
    one.late && tag('check', t('tag.late')),
    h('span', { class: 'soft' }, t('house.why', { why: one.why, rule: one.rule, since: one.since ? day(one.since) : '–' })),
  );
}

export async function show() {
  const coming = (await rowsAt('super@on_truck')).length;
  const tasks = rules.isReady() ? rules.next() : [];
  const to = (path, name, more) =>
    link(path, { class: 'row-link' }, h('span', { class: 'row-name' }, name), more && h('span', { class: 'row-more' }, more));
  return h(
    'div',
    { class: 'page' },
    h('h1', { tabindex: '-1' }, t('house.title')),
    h(
      'ul',
      { class: 'rows' },
      h('li', {}, to('/house/receive', t('receive.title'), t('receive.coming', { n: coming }))),
      h('li', {}, to('/house/moisture', t('moisture.title'))),
      h('li', {}, to('/house/run', t('run.title'))),
      h('li', {}, to('/house/fill', t('fill.title'))),
    ),
    h('h2', {}, t('house.waiting')),
    tasks.length === 0 && h('p', {}, t('house.nothing')),
    h('ul', { class: 'plain' }, tasks.slice(0, WAITING_MOST).map(task)),
    tasks.length > WAITING_MOST && h('p', {}, t('house.more', { n: tasks.length - WAITING_MOST })),
  );
}
