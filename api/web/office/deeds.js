// What can be told of a thing where it is looked at: what happens often stands first, the rest behind "More". The rules
// check it, and say what speaks against it.

import { newId } from '../entry.js';
import * as rules from '../rules.js';
import { who } from '../session.js';

const HOLDS = ['treatment', 'feed', 'disease', 'brood', 'taint', 'glass', 'foreign_matter', 'unknown_origin', 'moisture', 'complaint', 'other'];
const DISEASES = ['american_foulbrood', 'european_foulbrood', 'small_hive_beetle', 'tropilaelaps', 'chalkbrood', 'sacbrood', 'unknown', 'other'];
const TAINTS = ['repellent', 'smoke', 'fuel', 'moth_control', 'other'];
const CLAIMS = ['general', 'heather', 'bakers', 'bakers_heather'];
const LOT_ENDS = ['withdrawn', 'recalled', 'destroyed', 'downgraded'];
const BATCH_ENDS = ['withdrawn', 'recalled', 'destroyed'];
const SUPER_ENDS = ['scrapped', 'lost', 'burnt_by_order', 'brood_box'];
const WENT = ['given', 'broken', 'samples', 'own_use'];
const SPINS = ['tangential', 'radial'];

// How a thing is named where its own field does not do it.
const target = ({ kind, id }) => ({ target: { kind, id } });
const about = ({ kind, id }) => ({ about: [{ kind, id }] });
const place = ({ kind, id }) => ({ place: { [`${kind}_id`]: id } });
const boxes = ({ id }) => ({ super_ids: [id] });

const words = (list, say, called) => ({ needs: true, ask: true, words: list, say, called });
const TEXT = ['text', 'text'];
const WHY = ['reason', 'text', { needs: true }];
const PERHAPS_WHY = ['reason', 'text'];
const WEIGHT = ['weight_g', 'mass', { needs: true }];
const DISEASE = ['disease', 'one', words(DISEASES, 'disease')];
const standsOn = (one) => one.state.filling?.stands?.at(-1)?.hive_id;

// [kind, fields, more] each. `names`: as above; `also`: what the program adds; `known`: words that are told anew, only
// those that changed; `when`: whether it can have happened at all; `caution`: what is said above the form; `to`: where
// it leads.
const NOTE = ['note_written', [['text', 'text', { needs: true, called: 'note' }]], { names: about }];
const HOLD = ['hold_set', [['reason', 'one', words(HOLDS, 'hold', 'hold_reason')], TEXT], { names: target }];
const SUSPECTED = ['disease_suspected', [DISEASE, ['text', 'text', { called: 'seen' }]], { names: place, caution: 'tell.notifiable' }];
const DIAGNOSED = ['disease_diagnosed', [DISEASE, ['found_by', 'text', { needs: true }], ['reference', 'text'], TEXT], { names: place, caution: 'tell.notifiable' }];
const STIRRED = ['honey_stirred', [], { names: target }];
const COUNTED = ['honey_counted', [['content_g', 'mass', { needs: true }], ['reason', 'text', { called: 'differs' }]], { names: target }];
const ended = (list) => ['honey_ended', [['how', 'one', words(list, 'ended', 'honey_end')], WHY], { names: target, caution: 'recall.caution' }];

const newLot = () => ({ lot_id: newId(), code: rules.nextCode(who().device_id, new Date().getFullYear()).code });

export const DEEDS = {
  lot: {
    often: [['lot_sampled', [WEIGHT]], STIRRED, COUNTED],
    rare: [
      ['lot_described', [['claim', 'one', { words: CLAIMS, say: 'claim' }], ['name', 'text', { called: 'sold_as' }], ['claim_reason', 'text']], { known: true }],
      ['honey_wasted', [WEIGHT, WHY]],
      ended(LOT_ENDS),
      HOLD,
      NOTE,
    ],
  },
  batch: {
    often: [
      ['labelled', [['printed', 'count', { needs: true }], ['used', 'count', { needs: true }], ['spoilt', 'count'], ['label_version', 'text'], ['best_before', 'date']]],
      ['batch_stored', [['place', 'text', { needs: true }]]],
      ['stock_counted', [['jars', 'count', { needs: true }], PERHAPS_WHY]],
      ['complaint_told', [['text', 'text', { needs: true, called: 'complaint' }], ['jars', 'count']], { caution: 'tell.complaint' }],
    ],
    rare: [
      ['weights_checked', [['net_tenths_g', 'weights', { needs: true }]]],
      ['jars_taken_out', [['jars', 'count', { needs: true }], ['went', 'one', words(WENT, 'went')], WHY]],
      ['jars_reworked', [['jars', 'count', { needs: true, called: 'emptied' }], ['weight_g', 'mass', { needs: true, called: 'came_out' }], ['claim', 'one', { words: CLAIMS, say: 'claim' }], PERHAPS_WHY], { also: newLot, caution: 'safety.glass', to: ({ lot_id }) => `/office/lots/${lot_id}` }],
      ended(BATCH_ENDS),
      HOLD,
      NOTE,
    ],
  },
  fill: { often: [STIRRED, COUNTED], rare: [HOLD, NOTE] },
  run: {
    often: [
      ['run_closed', [TEXT], { when: ({ state }) => state.drained && !state.closed }],
      ['sample_taken', [WEIGHT], { when: ({ state }) => !state.closed }],
      ['run_reopened', [WHY], { when: ({ state }) => state.closed }],
    ],
    rare: [
      ['frames_set_aside', [['super_id', 'one', { needs: true, ask: true, rows: 'super', of: (one) => (one.state.supers ?? []).map((put) => put.super_id) }], ['frames', 'count', { needs: true, called: 'frames_aside' }], PERHAPS_WHY], { when: ({ state }) => !state.closed && state.supers?.length }],
      ['run_described', [['name', 'text'], ['extractor', 'text'], ['spin', 'one', { words: SPINS, say: 'spin' }]], { known: true }],
      HOLD,
      NOTE,
    ],
  },
  super: {
    often: [
      ['super_moved', [['to_hive_id', 'one', { needs: true, ask: true, rows: 'hive' }]], { also: (one) => ({ from_hive_id: standsOn(one) }), when: (one) => one.status === 'on_hive', caution: 'tell.lift' }],
      ['taint_noted', [['taint', 'one', words(TAINTS, 'taint')], ['text', 'text', { called: 'seen' }]], { names: boxes, caution: 'tell.taint' }],
      NOTE,
    ],
    rare: [
      ['box_cleaned', [['how', 'text', { needs: true, called: 'cleaned_how' }]], { names: boxes, caution: 'tell.cleaning' }],
      ['super_scrapped', [['how', 'one', words(SUPER_ENDS, 'scrapped', 'became')]], { caution: 'tell.burning' }],
      HOLD,
    ],
  },
  hive: { often: [NOTE, SUSPECTED], rare: [DIAGNOSED, HOLD] },
  colony: {
    often: [
      ['colony_described', [['queen_line', 'text']], { known: true }],
      ['colony_moved', [['hive_id', 'one', { needs: true, ask: true, rows: 'hive', called: 'to_hive_id' }]], { caution: 'safety.stings' }],
    ],
    rare: [],
  },
  yard: {
    often: [NOTE, SUSPECTED],
    rare: [DIAGNOSED, ['standstill_ordered', [['order', 'text', { needs: true }], ['authority', 'text'], TEXT], { caution: 'tell.standstill' }], HOLD],
  },
  container: { often: [NOTE], rare: [] },
  customer: { often: [NOTE], rare: [] },
  delivery: { often: [NOTE], rare: [] },
};

// Where the page of a thing is.
const PAGES = { lot: '/office/lots', batch: '/office/stock', delivery: '/office/sales', hive: '/office/set-up/hives', super: '/office/set-up/supers', yard: '/office/set-up/yards', container: '/office/set-up/containers', customer: '/office/set-up/buyers' };
export const pageOf = ({ kind, id }) => `${PAGES[kind] ?? `/office/tell/${kind}`}/${id}`;

// What ends a cause that was told before, or lets something happen in spite of it: `cause` names the entry that told it.
export const ENDS = [
  ['hold_lifted', [WHY], { names: target, cause: 'hold_id', caution: 'tell.lifting' }],
  ['disease_cleared', [WHY, ['reference', 'text']], { names: place, cause: 'cause_id', caution: 'tell.clearing' }],
  ['standstill_licensed', [['licence', 'text', { needs: true }], ['until', 'date', { called: 'licence_until' }]], { cause: 'cause_id', caution: 'tell.standstill' }],
  ['standstill_lifted', [WHY, ['notice', 'text']], { cause: 'cause_id', caution: 'tell.clearing' }],
];
