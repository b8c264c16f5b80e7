// Scanning: a tag by NFC where the phone reads them, a code by the browser's own reader, else by scan.wasm. The number
// can always be typed instead; what a code means the rules say.

import { button, h } from './dom.js';
import { t } from './words.js';

// Wide enough for a small code at arm's length, small enough to read several times a second.
const WIDE_MOST = 640;
const EACH_MS = 120;
// Weights in brightness, of 256 (ITU-R BT.601).
const RED = 77;
const GREEN = 150;
const BLUE = 29;

let wasm;

async function loadReader() {
  wasm ??= WebAssembly.instantiateStreaming(fetch(new URL('scan.wasm', import.meta.url))).then(({ instance }) => instance.exports);
  try {
    return await wasm;
  } catch (error) {
    wasm = undefined;
    throw error;
  }
}

async function ownReader() {
  const reader = await loadReader();
  const canvas = document.createElement('canvas');
  const paper = canvas.getContext('2d', { willReadFrequently: true });
  return (video) => {
    const scale = Math.min(1, WIDE_MOST / video.videoWidth);
    canvas.width = Math.round(video.videoWidth * scale);
    canvas.height = Math.round(video.videoHeight * scale);
    paper.drawImage(video, 0, 0, canvas.width, canvas.height);
    const { data } = paper.getImageData(0, 0, canvas.width, canvas.height);
    const at = reader.reserve(data.length / 4);
    const grey = new Uint8Array(reader.memory.buffer, at, data.length / 4);
    for (let pixel = 0; pixel < grey.length; pixel += 1) grey[pixel] = (data[pixel * 4] * RED + data[pixel * 4 + 1] * GREEN + data[pixel * 4 + 2] * BLUE) >> 8;
    const packed = BigInt.asUintN(64, reader.read(canvas.width));
    if (packed === 0n) return null;
    return new TextDecoder().decode(new Uint8Array(reader.memory.buffer, Number(packed >> 32n), Number(packed & 0xffffffffn)));
  };
}

async function reader() {
  const knows = (await globalThis.BarcodeDetector?.getSupportedFormats?.())?.includes('qr_code');
  if (!knows) return ownReader();
  const detector = new BarcodeDetector({ formats: ['qr_code'] });
  return async (video) => (await detector.detect(video))[0]?.rawValue ?? null;
}

async function listenForTags(found, ended) {
  if (!('NDEFReader' in globalThis)) return;
  try {
    const tags = new NDEFReader();
    tags.onreading = ({ message }) => {
      const record = message.records.find((one) => one.recordType === 'text' || one.recordType === 'url');
      if (record) found(new TextDecoder(record.encoding ?? 'utf-8').decode(record.data));
    };
    await tags.scan({ signal: ended });
  } catch {
    // No chip, or not allowed: the camera is there still.
  }
}

function trouble(error) {
  if (error?.name === 'NotAllowedError') return 'scan.denied';
  if (error?.name === 'NotFoundError') return 'scan.no_camera';
  console.error(error);
  return 'scan.failed';
}

// Asks the camera and the tag reader. Resolves to { text }, to { trouble } with what to say, or to {} if it was left.
export function scan() {
  return new Promise((resolve) => {
    const over = new AbortController();
    const video = h('video', { playsinline: true, muted: true, 'aria-label': t('scan.picture') });
    const dialog = h('dialog', { 'aria-labelledby': 'scan-title', class: 'scan' }, h('h2', { id: 'scan-title' }, t('scan.title')), video, h('p', {}, t('scan.hint')), button('scan-leave', () => end({}), { class: 'main wide' }, t('scan.leave')));
    let stream;
    const end = (answer) => {
      if (over.signal.aborted) return;
      over.abort();
      stream?.getTracks().forEach((track) => track.stop());
      dialog.close();
      dialog.remove();
      if (answer.text) navigator.vibrate?.(60);
      resolve(answer);
    };
    dialog.addEventListener('cancel', () => end({}));
    document.body.append(dialog);
    dialog.showModal();
    const watch = async () => {
      stream = await navigator.mediaDevices.getUserMedia({ video: { facingMode: 'environment' } });
      if (over.signal.aborted) return stream.getTracks().forEach((track) => track.stop());
      video.muted = true;
      video.srcObject = stream;
      await video.play();
      const read = await reader();
      while (!over.signal.aborted) {
        const text = video.videoWidth > 0 ? await read(video) : null;
        if (text) return end({ text });
        await new Promise((next) => setTimeout(next, EACH_MS));
      }
      return undefined;
    };
    listenForTags((text) => end({ text }), over.signal);
    if (navigator.mediaDevices) watch().catch((error) => end({ trouble: trouble(error) }));
  });
}
