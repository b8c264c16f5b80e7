// Scales that send what they show: over Bluetooth by its Weight Scale Service (Bluetooth SIG, 1.0), over USB by page 8Dh
// of the HID usage tables (USB-IF). What is steady goes into the field of whatever weight is asked for; what somebody
// types counts before it.

import { onWeighing } from './keypad.js';
import { note } from './shell.js';
import { GRAMS_PER_LB, t } from './words.js';

const SERVICE = 0x181d;
const MEASURED = 0x2a9d;
// Bit 0 of the first byte: pounds. Steps of the number behind it.
const POUNDS = 1;
const STEP_G = 5;
const STEPS_PER_LB = 100;
const USAGE_PAGE = 0x8d;
// Of a report: status, unit, decimal exponent, weight low and high.
const STEADY = 4;
const KILOGRAM_G = 1000;
const OUNCES_PER_LB = 16;
const GRAMS = { 2: 1, 3: KILOGRAM_G, 11: GRAMS_PER_LB / OUNCES_PER_LB, 12: GRAMS_PER_LB };

// The pad that waits for a weight now, and the scale that is connected.
let asks = null;
let scale = null;

onWeighing((pad) => (asks = pad));

export const can = () => ['bluetooth', 'hid'].filter((way) => way in navigator);
export const connected = () => scale?.name ?? null;

function overBluetooth(view) {
  const pounds = view.getUint8(0) & POUNDS;
  const steps = view.getUint16(1, true);
  return { grams: pounds ? (steps * GRAMS_PER_LB) / STEPS_PER_LB : steps * STEP_G, steady: true };
}

function overUsb(view) {
  const [status, unit] = [view.getUint8(0), view.getUint8(1)];
  const grams = view.getUint16(3, true) * 10 ** view.getInt8(2) * (GRAMS[unit] ?? NaN);
  return { grams, steady: status === STEADY };
}

function heard({ grams, steady }) {
  if (steady && grams > 0) asks?.(grams);
}

function gone() {
  scale = null;
  note(t('scale.gone'));
}

async function bluetooth() {
  const device = await navigator.bluetooth.requestDevice({ filters: [{ services: [SERVICE] }] });
  device.addEventListener('gattserverdisconnected', gone);
  const service = await (await device.gatt.connect()).getPrimaryService(SERVICE);
  const measured = await service.getCharacteristic(MEASURED);
  measured.addEventListener('characteristicvaluechanged', () => heard(overBluetooth(measured.value)));
  await measured.startNotifications();
  return device.name;
}

async function hid() {
  const [device] = await navigator.hid.requestDevice({ filters: [{ usagePage: USAGE_PAGE }] });
  if (!device) return undefined;
  await device.open();
  device.addEventListener('inputreport', ({ data }) => data.byteLength > STEADY && heard(overUsb(data)));
  navigator.hid.addEventListener('disconnect', (event) => event.device === device && gone());
  return device.productName;
}

// Asks the person which scale; answers what to say.
export async function connect(way) {
  try {
    const name = await (way === 'hid' ? hid() : bluetooth());
    if (name === undefined) return t('scale.none_chosen');
    scale = { name: name || t('scale.unnamed') };
    return t('scale.connected', { name: scale.name });
  } catch (error) {
    // Nobody was chosen: the browser says so by this error too.
    if (error?.name === 'NotFoundError') return t('scale.none_chosen');
    return t('scale.failed', { reason: error?.message ?? '' });
  }
}
