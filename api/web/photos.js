// Photos: kept on this device beside the entries, sent in pieces whenever there is signal. A photo is called by the
// SHA-256 of its bytes. When the disk is full photos go first: an entry counts without its photo.

import * as session from './session.js';
import * as store from './store.js';

const WIDE_MOST = 1600;
const QUALITY = 0.8;
const PIECE = 512 * 1024;

const hex = (bytes) => Array.from(new Uint8Array(bytes), (byte) => byte.toString(16).padStart(2, '0')).join('');

// Opens the camera, or the pictures of a computer. Resolves to nothing where somebody thought better of it.
function pick() {
  return new Promise((resolve) => {
    const field = document.createElement('input');
    Object.assign(field, { type: 'file', accept: 'image/*', hidden: true });
    field.setAttribute('capture', 'environment');
    field.setAttribute('aria-hidden', 'true');
    field.addEventListener('change', () => resolve(field.files[0]));
    field.addEventListener('cancel', () => resolve(undefined));
    document.body.append(field);
    field.click();
    field.remove();
  });
}

// Smaller, and without what a camera writes beside the picture: the place above all.
async function shrink(file) {
  const picture = await createImageBitmap(file);
  const scale = Math.min(1, WIDE_MOST / Math.max(picture.width, picture.height));
  const canvas = new OffscreenCanvas(Math.round(picture.width * scale), Math.round(picture.height * scale));
  canvas.getContext('2d').drawImage(picture, 0, 0, canvas.width, canvas.height);
  return canvas.convertToBlob({ type: 'image/jpeg', quality: QUALITY });
}

// Keeps one; answers { sha256 }, or { trouble } with what to say.
export async function take() {
  if (!store.has('photo')) return { trouble: 'photo.no_store' };
  const file = await pick();
  if (!file) return {};
  let bytes;
  try {
    bytes = await (await shrink(file)).arrayBuffer();
  } catch {
    return { trouble: 'photo.not_read' };
  }
  const sha256 = hex(await crypto.subtle.digest('SHA-256', bytes));
  try {
    await store.write(['photo'], (photos) => void photos.put({ sha256, bytes, at: Date.now(), waits: 1 }));
  } catch {
    return { trouble: 'photo.full' };
  }
  return { sha256 };
}

async function sendOne(photo) {
  const begun = await session.call('POST', '/v1/photos', { sha256: photo.sha256 });
  if (begun.status >= 300) return false;
  let { offset, complete } = begun.body;
  const of = photo.bytes.byteLength;
  while (!complete) {
    const piece = new Blob([photo.bytes.slice(offset, offset + PIECE)]);
    const headers = { 'content-type': 'application/octet-stream' };
    const answer = await session.call('PATCH', `/v1/photos/${photo.sha256}?offset=${offset}&of=${of}`, piece, { headers, slow: true });
    if (answer.status >= 300 || !(answer.body.complete || answer.body.offset > offset)) return false;
    ({ offset, complete } = answer.body);
  }
  return true;
}

// After the entries: they are worth more. A photo that does not go now goes the next time.
export async function sendAll() {
  if (!store.has('photo')) return;
  for (const sha256 of await store.waitingPhotos()) {
    const photo = await store.photo(sha256);
    if (photo && (await sendOne(photo))) await store.write(['photo'], (photos) => void photos.delete(sha256));
  }
}

export const count = async () => (store.has('photo') ? (await store.waitingPhotos()).length : 0);

// Makes room: what has no room for an entry has none for photos. Answers how many went.
export async function drop() {
  const waiting = store.has('photo') ? await store.waitingPhotos() : [];
  if (waiting.length > 0) await store.write(['photo'], (photos) => waiting.forEach((sha256) => photos.delete(sha256)));
  return waiting.length;
}
