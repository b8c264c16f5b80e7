// Who this device belongs to, and calls to the service. The access token lives in memory only; the refresh token and
// the device secret are kept, since without them a phone could not come back from a winter in a drawer.

import { meta, setMeta } from './store.js';

const TIMEOUT_MS = 20000;
// For what takes long: much to send, or the service waiting for news.
const SLOW_TIMEOUT_MS = 90000;
// Asked for anew a little before it ends.
const EARLY_MS = 30000;

let device = null;
let access = null;
let dead = false;

// No answer came: no signal, or a service that is not there.
export class NoSignal extends Error {}
// Something answered that is not this service: a sign-in page of a café, a proxy.
export class NotOurs extends Error {}
// This device may not come in any longer; what it holds is kept.
export class Ended extends Error {}

export const who = () => device;
export const ended = () => dead;
// Whether all of it is made up: the page of a demo says so before anybody has signed in.
export const isInvented = () => device?.names?.invented ?? document.querySelector('meta[name="invented"]').content === 'yes';
export const role = () => device?.role;
export const mayOffice = () => ['office', 'owner'].includes(device?.role);

export async function load() {
  device = (await meta('device')) ?? null;
}

async function fetchJson(method, path, { body, headers = {}, timeout = TIMEOUT_MS } = {}) {
  let response;
  let text;
  try {
    response = await fetch(path, {
      method,
      body,
      headers: body === undefined ? headers : { 'content-type': 'application/json', ...headers },
      cache: 'no-store',
      redirect: 'error',
      signal: AbortSignal.timeout(timeout),
    });
    text = await response.text();
  } catch (error) {
    throw new NoSignal(String(error));
  }
  if (response.status === 204) return { status: 204, body: null, headers: response.headers };
  const type = response.headers.get('content-type') ?? '';
  if (!/^application\/(problem\+)?json/.test(type)) throw new NotOurs(`${response.status} ${type}`);
  try {
    return { status: response.status, body: JSON.parse(text), headers: response.headers };
  } catch {
    throw new NotOurs('the answer is not whole');
  }
}

function keepAccess(tokens) {
  access = { token: tokens.access_token, until: Date.now() + tokens.expires_in_s * 1000 - EARLY_MS };
}

async function join(tokens) {
  const { operation_id, member_id, device_id, role: given, refresh_token, device_secret } = tokens;
  const old = await meta('device');
  device = { operation_id, member_id, device_id, role: given, refresh_token, device_secret };
  // The name of the business and of the person come with the next call to /v1/me.
  if (old?.operation_id === operation_id) device.names = old.names;
  await setMeta('device', device);
  keepAccess(tokens);
  dead = false;
}

const enter = (path) => async (said) => {
  const answer = await fetchJson('POST', path, { body: JSON.stringify(said) });
  if (answer.status !== 200) return answer;
  await join(answer.body);
  return answer;
};

export const signIn = enter('/v1/auth/sign-in');
export const enrol = enter('/v1/auth/enrolments');

// One tab at a time: the token is good once, and the next tab must read the newest.
async function refresh() {
  await navigator.locks.request('yardjar-session', async () => {
    device = await meta('device');
    if (!device) throw new Ended('nobody is signed in');
    const { refresh_token, device_secret } = device;
    const answer = await fetchJson('POST', '/v1/auth/refresh', { body: JSON.stringify({ refresh_token, device_secret }) });
    if (answer.status === 401 || answer.status === 403) {
      dead = true;
      throw new Ended(answer.body.type);
    }
    if (answer.status !== 200 || !answer.body.refresh_token) throw new NotOurs(String(answer.status));
    device = { ...device, role: answer.body.role, refresh_token: answer.body.refresh_token };
    await setMeta('device', device);
    keepAccess(answer.body);
    dead = false;
  });
}

// A call with the access token; a stale one is replaced and the call made once more.
export async function call(method, path, said, options = {}) {
  const body = said === undefined || typeof said === 'string' || said instanceof Blob ? said : JSON.stringify(said);
  for (let tries = 0; ; tries += 1) {
    if (!access || Date.now() > access.until) await refresh();
    const headers = { ...options.headers, authorization: `Bearer ${access.token}` };
    const timeout = options.slow ? SLOW_TIMEOUT_MS : TIMEOUT_MS;
    const answer = await fetchJson(method, path, { body, headers, timeout });
    if (answer.status === 401 && tries === 0) {
      access = null;
      continue;
    }
    if (answer.status === 401 || answer.body?.type === 'device-revoked') {
      dead = true;
      throw new Ended(answer.body?.type);
    }
    return answer;
  }
}

// A call whose answer is a file; what went wrong comes as a problem document as ever.
export async function file(method, path, said) {
  if (!access || Date.now() > access.until) await refresh();
  const headers = { 'content-type': 'application/json', authorization: `Bearer ${access.token}` };
  let response;
  try {
    response = await fetch(path, { method, headers, body: JSON.stringify(said), cache: 'no-store', redirect: 'error', signal: AbortSignal.timeout(SLOW_TIMEOUT_MS) });
  } catch (error) {
    throw new NoSignal(String(error));
  }
  return response.ok ? { blob: await response.blob() } : { body: await response.json() };
}

export async function askNames() {
  const { status, body } = await call('GET', '/v1/me');
  if (status !== 200) return;
  device = { ...device, names: { operation: body.operation_name, person: body.name, invented: body.invented } };
  await setMeta('device', device);
}

// Whether what answers is this service and this business: a café's page answers 200 to anything.
export async function isOurs() {
  const { status, body } = await call('GET', '/v1/sync/limits');
  if (status !== 200 || body.operation_id !== device.operation_id) throw new NotOurs('limits');
  return body;
}

export const leave = () => call('POST', '/v1/auth/leave');
export function forgetDevice() {
  device = null;
  access = null;
}
