// The rules of the trade, as the service has them: rules.wasm decides, this file only carries questions to it.
// No limit, factor or rule stands in any script of this app.

import { eachPart } from './store.js';
import * as when from './when.js';

const PART = 400;
const encoder = new TextEncoder();
const decoder = new TextDecoder();
let rules;
let reckoner;
let ready;
let done = false;
let kinds = new Map();

function askOf(wasm, text) {
  const bytes = encoder.encode(text);
  const at = wasm.reserve(bytes.length);
  new Uint8Array(wasm.memory.buffer, at, bytes.length).set(bytes);
  const packed = BigInt.asUintN(64, wasm.call(at, bytes.length));
  const answer = new Uint8Array(wasm.memory.buffer, Number(packed >> 32n), Number(packed & 0xffffffffn));
  return JSON.parse(decoder.decode(answer));
}

const ask = (text) => askOf(rules, text);
const put = (question) => ask(JSON.stringify(question));
const breathe = () => new Promise((resolve) => setTimeout(resolve));

async function fetched(name) {
  const { instance } = await WebAssembly.instantiateStreaming(fetch(new URL(name, import.meta.url)));
  return instance.exports;
}

async function load() {
  rules = await fetched('rules.wasm');
  const about = put({ call: 'about' });
  kinds = new Map((about.kinds ?? []).map((kind) => [kind.kind, kind]));
}

// Loads the module and hands it every row, in parts, so that the page stays alive meanwhile.
async function begin() {
  await load();
  await eachPart(PART, async (part) => {
    holdText(part.map((row) => [row.kind, row.id, row.base ? row.base.text : row.text]));
    await breathe();
  });
}

export function start() {
  ready ??= begin().then(
    () => {
      done = true;
    },
    (fault) => {
      ready = undefined; // The next who asks tries again.
      throw fault;
    },
  );
  return ready;
}
export const isReady = () => done;

// The computations and planners: a file of its own, which no screen waits for that does not reckon.
async function loadReckoner() {
  try {
    return await fetched('reckon.wasm');
  } catch (fault) {
    reckoner = undefined;
    throw fault;
  }
}
export const canReckon = () => (reckoner ??= loadReckoner());
export async function reckon(name, inputs) {
  return askOf(await canReckon(), JSON.stringify({ call: 'reckon', name, inputs }));
}
// What the rows come to is told by the rules; the computation itself is done by the other file.
const carried = async (at_hand) => (at_hand.reckon ? reckon(at_hand.reckon, at_hand.inputs) : at_hand);
const worked = (question) => carried(put(question));

// After another business, or a restored ledger: as if nothing had been pulled.
export async function forget() {
  await start();
  put({ call: 'forget' });
}

function holdText(rows) {
  const texts = rows.filter(([, , text]) => text).map(([kind, id, text]) => `{"kind":"${kind}","id":"${id}","state":${text}}`);
  if (texts.length > 0) ask(`{"call":"hold","rows":[${texts.join(',')}]}`);
}

// Rows as pulled: [kind, id, state as text].
export async function hold(rows) {
  await start();
  for (let at = 0; at < rows.length; at += PART) {
    holdText(rows.slice(at, at + PART));
    await breathe();
  }
}

const sentence = (said) => said.sentence ?? said.detail ?? '';
const told = (said) => ({ code: said.code, rule: said.rule, sentence: sentence(said) });

// What the rules say to a wish: the entry with its warnings, or why not.
export function decide(who, wish) {
  const now = when.now();
  const answer = put({
    call: 'decide',
    now: now.toISOString(),
    utc_offset_min: -now.getTimezoneOffset(),
    member_id: who.member_id,
    device_id: who.device_id,
    wish,
  });
  if (answer.entry) return { entry: answer.entry, warnings: (answer.warnings ?? []).map(told) };
  if (answer.refused) return { refused: told(answer.refused) };
  return { bad: answer.bad_field };
}

// The form of an entry that is recorded although something speaks against it.
export const version = (kind) => kinds.get(kind)?.max ?? 1;
export const asIs = (wish) => ({ kind: wish.kind, v: version(wish.kind), data: wish.data });
export const knows = (kind) => kinds.has(kind);
export const isOffice = (kind) => Boolean(kinds.get(kind)?.office);

// Everything that is not settled yet, folded on top of the rows. Texts are the bytes as they will be sent.
export function foldOn(deviceId, texts) {
  return ask(`{"call":"fold_on","device_id":"${deviceId}","entries":[${texts.join(',')}]}`).rows ?? [];
}

export const next = () => put({ call: 'next', now: new Date().toISOString() }).tasks ?? [];
export const holdsOn = (kind, id) => {
  const holds = put({ call: 'holds_on', now: new Date().toISOString(), subject: { kind, id } });
  return Array.isArray(holds) ? holds : (holds.holds ?? []);
};
// The same of many at once: [id, holds] each.
export function holdsOnEach(rows) {
  const subjects = rows.map(({ kind, id }) => ({ kind, id }));
  const holds = subjects.length === 0 ? [] : put({ call: 'holds_on_each', now: new Date().toISOString(), subjects });
  return rows.map((row, at) => [row.id, holds[at] ?? []]);
}
export const find = (code) => put({ call: 'find', code }).subject;
export const trace = (kind, id) => put({ call: 'trace', now: new Date().toISOString(), subject: { kind, id } });
// Whether a run adds up, or nothing while that cannot be said.
export const balance = (id) => put({ call: 'balance', subject: { kind: 'run', id } });
// The next code of this device for a lot or a batch of jars.
export const nextCode = (device_id, season) => put({ call: 'next_code', device_id, season });
// The best blend of what the house holds.
export const blend = (wish) => worked({ call: 'blend_at_hand', now: new Date().toISOString(), wish });
// What the air of a room does to these supers.
export async function drying(room_id, super_ids) {
  const at_hand = put({ call: 'drying_at_hand', now: new Date().toISOString(), room_id, super_ids });
  const plan = await carried(at_hand);
  return plan.not_reckoned ? plan : { plan, not_weighed: at_hand.not_weighed, not_measured: at_hand.not_measured };
}
// What the weights of the jars of a batch say by the rules of the place.
export const netContent = (batch_id) => worked({ call: 'jars_at_hand', batch_id });
