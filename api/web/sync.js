// Sending what was written here and fetching what others wrote. One tab sends at a time. An entry leaves the list of
// what is to be sent only when its own id was read in an answer of this service.

import { takePulled } from './book.js';
import { changed, refold } from './entry.js';
import * as photos from './photos.js';
import * as rules from './rules.js';
import * as session from './session.js';
import * as store from './store.js';

const PART = 1000;
const PUSH_MOST = 500;
const PUSH_BYTES = 900000;
const PACK_FROM = 2000;
const BACK_OFF_FROM_MS = 1000;
const BACK_OFF_MOST_MS = 15 * 60 * 1000;
const SOON_MS = 500;
const AGAIN_MS = 60000;
const BACK_WITHIN_MS = 8000;
const KEEP_SENT_MS = 60 * 24 * 3600 * 1000;

let timer;
let failures = 0;
let checked = false;
// 'sent', 'waiting', 'sending', 'not ours', 'ended': what the strip and the outbox say.
let phase = 'waiting';

export const currentPhase = () => phase;
function enter(next) {
  if (phase === next) return;
  phase = next;
  changed('state', false);
}

class Later extends Error {
  constructor(afterMs) {
    super('later');
    this.afterMs = afterMs;
  }
}

// Phones that lost the same signal, or the same service, do not come back in step.
const anyTimeWithin = (most) => Math.random() * most;

function later(answer) {
  const ms = Number(answer?.headers?.get('retry-after')) * 1000;
  return new Later(ms > 0 ? ms + anyTimeWithin(ms) : undefined);
}

async function packed(text) {
  if (text.length < PACK_FROM || typeof CompressionStream === 'undefined') return { body: text, headers: {} };
  const stream = new Blob([text]).stream().pipeThrough(new CompressionStream('gzip'));
  return { body: await new Response(stream).blob(), headers: { 'content-encoding': 'gzip' } };
}

function within(batch) {
  let bytes = 0;
  const end = batch.findIndex((entry) => (bytes += entry.text.length * 2) > PUSH_BYTES);
  return end <= 0 ? batch.slice(0, end === 0 ? 1 : undefined) : batch.slice(0, end);
}

const BECAME = { stored: 'sent', duplicate: 'sent', quarantined: 'kept', refused: 'not_taken' };

async function takeResults(batch, results) {
  const byId = new Map(results.map((result) => [result.id, result]));
  const named = batch.filter((entry) => BECAME[byId.get(entry.id)?.result]);
  if (named.length === 0) throw new session.NotOurs('results');
  const at = new Date().toISOString();
  await store.write(['outbox', 'meta'], (outbox, meta) => {
    for (const entry of named) {
      const { result, seq, reason, detail } = byId.get(entry.id);
      outbox.put({ ...entry, state: BECAME[result], seq, why: reason && { reason, detail }, sent_at: at });
    }
    meta.put(at, 'sent_at');
  });
}

// What the service cannot read at all is set aside by itself, so that it stops nothing else.
const setAside = (entry, body) =>
  store.write(['outbox'], (outbox) => {
    outbox.put({ ...entry, state: 'not_taken', why: { reason: body?.type, detail: body?.detail } });
  });

async function pushAll() {
  let most = PUSH_MOST;
  let pushed = false;
  for (;;) {
    const batch = within(await store.outboxOf('to_send', most));
    if (batch.length === 0) return pushed;
    enter('sending');
    const { operation_id } = session.who();
    const sent_at = new Date().toISOString();
    const text = `{"operation_id":"${operation_id}","sent_at":"${sent_at}","entries":[${batch.map((entry) => entry.text).join(',')}]}`;
    const { body, headers } = await packed(text);
    const answer = await session.call('POST', '/v1/sync/push', body, { headers, slow: true });
    if (answer.status === 200 && Array.isArray(answer.body.results)) {
      await takeResults(batch, answer.body.results);
      pushed = true;
      changed('state');
    } else if (answer.status === 400 || answer.status === 413) {
      if (batch.length === 1) await setAside(batch[0], answer.body);
      most = Math.max(1, Math.floor(batch.length / 2));
    } else if (answer.status === 200) {
      throw new session.NotOurs('push');
    } else {
      throw later(answer);
    }
  }
}

// The service was restored from an older backup: push again what it may have forgotten, and fetch everything anew.
async function diverged(at = 0) {
  await store.write(['outbox', 'meta'], async (outbox, meta) => {
    for (const entry of await store.rawAll(outbox)) {
      if ((entry.state === 'sent' || entry.state === 'kept') && entry.seq > at) outbox.put({ ...entry, state: 'to_send', seq: undefined });
    }
    meta.delete('cursor');
    meta.delete('head');
    meta.put(Date.now(), 'round');
  });
  await rules.forget();
}

async function takePart(body, round) {
  const rows = body.rows.map((row) => [row, JSON.stringify(row.state)]);
  await store.write(['row', 'meta', 'outbox'], async (kept, meta, outbox) => {
    for (const [row, text] of rows) await takePulled(kept, row, text, round);
    meta.put(body.cursor, 'cursor');
    if (!body.more) meta.put(body.head, 'head');
    for (const { id, reason } of body.quarantined) {
      const entry = await store.rawByIndex(outbox, 'id', id);
      if (entry && entry.state !== 'kept') outbox.put({ ...entry, state: 'kept', why: { reason } });
    }
  });
  await rules.hold(rows.map(([row, text]) => [row.kind, row.id, text]));
}

async function pullAll(pushed) {
  let any = pushed;
  for (;;) {
    const cursor = await store.meta('cursor');
    let round = (await store.meta('round')) ?? 0;
    const query = cursor ? `&cursor=${encodeURIComponent(cursor)}` : '';
    const answer = await session.call('GET', `/v1/sync/pull?limit=${PART}${query}`);
    if (answer.status === 409) {
      await diverged(answer.body.at);
      throw new Later(0);
    }
    if (answer.status !== 200) throw later(answer);
    if (!Array.isArray(answer.body.rows) || !answer.body.cursor) throw new session.NotOurs('pull');
    if (answer.body.whole && cursor && !round) {
      // Everything comes anew: what does not come with it is no longer.
      round = Date.now();
      await store.setMeta('round', round);
      await rules.forget();
    }
    if (answer.body.rows.length > 0 || answer.body.quarantined.length > 0 || answer.body.cursor !== cursor) {
      await takePart(answer.body, round);
      any = true;
      if (answer.body.more) changed('rows');
    }
    if (!answer.body.more) {
      if (!cursor || round) await dropOlder(round);
      break;
    }
  }
  if (any) {
    await refold();
    changed('rows');
  }
}

// Rows that a restored ledger does not know.
async function dropOlder(round) {
  if (!round) return;
  const gone = [];
  await store.eachPart(PART, (part) => void gone.push(...part.filter((row) => row.round !== round && !row.base)));
  await store.write(['row', 'meta'], (rows, meta) => {
    for (const row of gone) rows.delete(row.key);
    meta.delete('round');
  });
}

async function forgetLongSent() {
  const before = new Date(Date.now() - KEEP_SENT_MS).toISOString();
  const old = (await store.outboxOf('sent')).filter((entry) => entry.at < before);
  if (old.length > 0) await store.write(['outbox'], (outbox) => old.forEach((entry) => outbox.delete(entry.n)));
}

async function round() {
  if (!session.who()) return;
  const done = await navigator.locks.request('yardjar-sender', { ifAvailable: true }, async (lock) => {
    if (!lock) return false;
    if (!checked) {
      const { server_id } = await session.isOurs();
      await store.setMeta('server_id', server_id);
      await forgetLongSent();
      checked = true;
    }
    await pullAll(await pushAll());
    if (!session.who().names) await session.askNames();
    await photos.sendAll();
    return true;
  });
  failures = 0;
  enter('sent');
  soon(done ? AGAIN_MS : BACK_OFF_FROM_MS * 3, false);
  if (done) listen();
}

function failed(error) {
  if (error instanceof session.Ended) return enter('ended');
  enter(error instanceof session.NotOurs ? 'not ours' : 'waiting');
  if (error instanceof session.NotOurs || error instanceof session.NoSignal) checked = false;
  else if (!(error instanceof Later)) console.error(error);
  const most = Math.min(BACK_OFF_MOST_MS, BACK_OFF_FROM_MS * 2 ** failures);
  failures = Math.min(failures + 1, 20);
  return soon(error.afterMs ?? anyTimeWithin(most), false);
}

// While somebody looks at the screen the service says at once when others wrote something.
let listening = false;
async function listen() {
  if (listening || phase !== 'sent' || document.visibilityState !== 'visible') return;
  listening = true;
  let answer;
  try {
    const cursor = await store.meta('cursor');
    answer = await session.call('GET', `/v1/sync/wait?cursor=${encodeURIComponent(cursor ?? '')}`, undefined, { slow: true });
  } catch {
    // No signal: the round that comes finds out, and says so.
  } finally {
    listening = false;
  }
  if (answer?.status !== 200 || answer.body.closing) soon(anyTimeWithin(BACK_WITHIN_MS), false);
  else if (answer.body.moved) soon(0);
  else await listen();
}

let busy = false;
// Something was asked for while a round was on its way: it may have come too late for that one.
let asked = false;

// Tries soon; `now` says that a person or a signal asked, so waiting so far does not count.
export function soon(ms = SOON_MS, now = true) {
  if (now) failures = 0;
  if (busy && now) {
    asked = true;
    return;
  }
  clearTimeout(timer);
  timer = setTimeout(async () => {
    busy = true;
    try {
      await round();
    } catch (error) {
      failed(error);
    } finally {
      busy = false;
    }
    if (asked) soon(0);
    asked = false;
  }, ms);
}

export function start() {
  addEventListener('online', () => soon(0));
  document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && soon(0));
  soon(0);
}
