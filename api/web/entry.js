// A touch becomes an entry: the rules are asked, and entry, counter and rows are kept in one transaction.
// Only then does the screen say that it happened. Nothing here calls the network.

import { showBase, showMine } from './book.js';
import * as rules from './rules.js';
import * as session from './session.js';
import { meta, outboxEntry, outboxOf, rowKey, rowsMine, write } from './store.js';
import * as when from './when.js';

const LOCK = 'yardjar-book';
const UUID = /[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}/g;
// Read, not answered: the box is on the scale already, and every blend is but a forecast.
const CAUTIONS = ['heavy_lift', 'forecast'];
const BYTE = 256;
const tabs = new BroadcastChannel('yardjar');
const listeners = new Set();

// What the service has not folded yet, by the device's count: { text, seq }.
let unsettled = new Map();
let counter = 0;

// Which rows were touched here since the last time everything may have changed.
export const touched = { round: 0, ids: [] };

export const onChange = (listener) => void listeners.add(listener);
// `what`: 'touch' for what was written here, 'rows' for what came from elsewhere, 'state' for the outbox alone.
export function changed(what, tell = true) {
  if (what === 'rows') {
    touched.round += 1;
    touched.ids = [];
  }
  for (const listener of listeners) listener(what);
  if (tell && what !== 'state') tabs.postMessage('changed');
}

const hex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
const random = (size) => crypto.getRandomValues(new Uint8Array(size));

// RFC 9562, version 7: the time first, so that ids sort as they were made.
export function newId() {
  const bytes = random(16);
  const now = Date.now();
  for (let at = 0; at < 6; at += 1) bytes[at] = Math.floor(now / BYTE ** (5 - at)) % BYTE;
  bytes[6] = (bytes[6] & 0x0f) | 0x70;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  return hex(bytes).replace(/^(.{8})(.{4})(.{4})(.{4})/, '$1-$2-$3-$4-');
}

const ids = (texts) => new Set(texts.flatMap((text) => text.match(UUID) ?? []));
const texts = () => [...unsettled.values()].map((entry) => entry.text);

// What the newest amendment says of an entry, for as long as the service has not folded it in.
export function amended(entryId) {
  const made = texts().map((text) => text.includes(entryId) && JSON.parse(text)).filter((entry) => entry?.kind === 'amended');
  return made.filter((entry) => entry.data.entry_id === entryId).at(-1)?.data.data;
}

async function readUnsettled() {
  const head = (await meta('head')) ?? 0;
  const waiting = await outboxOf('to_send');
  const sent = (await outboxOf('sent')).filter((entry) => entry.seq > head);
  const both = [...waiting, ...sent].sort((a, b) => a.n - b.n);
  unsettled = new Map(both.map((entry) => [entry.n, { text: entry.text, seq: entry.seq }]));
  counter = (await meta('counter')) ?? 0;
}

// Folds what is not settled on the rows again, after a pull or at the start.
export async function refold() {
  await rules.start();
  await navigator.locks.request(LOCK, async () => {
    await readUnsettled();
    const who = session.who();
    if (!who) return;
    const shown = rules.foldOn(who.device_id, texts());
    const named = ids(texts());
    const mine = await rowsMine();
    const still = new Set(shown.filter((row) => named.has(row.id)).map((row) => rowKey(row.kind, row.id)));
    await write(['row'], async (rows) => {
      for (const row of shown) if (named.has(row.id)) await showMine(rows, row, JSON.stringify(row.state));
      for (const row of mine) if (!still.has(row.key)) await showBase(rows, row.key);
    });
  });
  document.body.dataset.rules = 'ready';
}

// Another tab wrote: its entries count here too.
tabs.onmessage = async () => {
  if (session.who()) {
    await readUnsettled();
    await rules.start();
    rules.foldOn(session.who().device_id, texts());
  }
  changed('rows', false);
};

function envelope(made, n, now, saw) {
  const { entry, warnings, photos } = made;
  // A correction is made now, whenever that happened which it corrects.
  const earlier = entry.data.entry_id ? null : when.earlier();
  const at = earlier ?? now;
  return {
    id: newId(),
    kind: entry.kind,
    v: entry.v,
    data: entry.data,
    happened_at: at.toISOString(),
    utc_offset_min: -at.getTimezoneOffset(),
    happened_src: earlier ? 'entered' : 'clock',
    device_counter: n,
    saw,
    salt: hex(random(16)),
    warnings: warnings.length > 0 ? warnings : undefined,
    photos: photos?.length > 0 ? photos : undefined,
  };
}

// Keeps entries that were decided on. `say` is what the undo bar and today's list call them.
async function keep(decided, say) {
  return navigator.locks.request(LOCK, async () => {
    const [kept, head] = await Promise.all([meta('counter'), meta('head')]);
    if ((kept ?? 0) !== counter) await readUnsettled();
    const who = session.who();
    const saw = head ?? 0;
    const at = new Date();
    const made = decided.map((entry, index) => envelope(entry, counter + 1 + index, at, saw));
    const records = made.map((entry, index) => ({
      n: entry.device_counter,
      id: entry.id,
      op: who.operation_id,
      state: 'to_send',
      kind: entry.kind,
      at: at.toISOString(),
      happened: entry.happened_src === 'entered' ? entry.happened_at : undefined,
      say: decided[index].say ?? say,
      warned: decided[index].warnings.map(({ code, rule, sentence }) => ({ code, rule, sentence })),
      about: decided[index].about,
      text: JSON.stringify(entry),
    }));
    const before = new Map(unsettled);
    for (const record of records) unsettled.set(record.n, { text: record.text });
    const corrected = await Promise.all(made.map((entry) => entry.data.entry_id && outboxEntry(entry.data.entry_id)));
    const named = ids([...records, ...corrected.filter(Boolean)].map((record) => record.text));
    const shown = rules.foldOn(who.device_id, texts()).filter((row) => named.has(row.id));
    const shownIds = shown.map((row) => row.id);
    try {
      await write(['outbox', 'row', 'meta'], (outbox, rows, notes) => {
        for (const record of records) outbox.add(record);
        notes.put(records[records.length - 1].n, 'counter');
        notes.put({ say, ids: made.map((entry) => entry.id) }, 'undo');
        return Promise.all(shown.map((row) => showMine(rows, row, JSON.stringify(row.state))));
      });
    } catch (error) {
      // Not kept, so it must not show: take it off the rules' rows again.
      unsettled = before;
      rules.foldOn(who.device_id, texts());
      throw error;
    }
    counter = records[records.length - 1].n;
    touched.ids.push(...shownIds);
    return made;
  });
}

// Tells what happened. `house`: doubts are asked about first; in a yard they only go with the entry.
// `ask(doubts, refused)` resolves to whether to go on. Answers the entries, or null if nothing was written.
export async function tell(wishes, { say, house = false, ask, complain }) {
  await rules.start();
  const decided = [];
  const doubts = [];
  let refused = false;
  for (const wish of wishes) {
    const said = rules.decide(session.who(), { kind: wish.kind, data: wish.data });
    if (said.bad) {
      complain(said.bad);
      return null;
    }
    const entry = said.entry ?? rules.asIs(wish);
    const warnings = said.refused ? [said.refused] : said.warnings;
    refused ||= Boolean(said.refused);
    doubts.push(...warnings);
    decided.push({ entry, warnings, say: wish.say, about: wish.about, photos: wish.photos });
  }
  const asking = refused || (house && doubts.some((doubt) => !CAUTIONS.includes(doubt.code)));
  if (asking && !(await ask(doubts, refused))) return null;
  for (const one of decided) {
    one.warnings = one.warnings.map((warning) => ({ ...warning, answered: asking }));
  }
  const entries = await keep(decided, say);
  // The screen is drawn anew after what was told has been said on it.
  setTimeout(() => changed('touch'));
  return { entries, doubts: asking ? [] : doubts };
}
