// People and phones: a code for a new phone, and which devices there are.

import { button, h, link } from '../dom.js';
import * as session from '../session.js';
import { note } from '../shell.js';
import { clock, day, t, moment } from '../words.js';
import * as forms from './forms.js';

let kept = null;
let code = null;

async function read() {
  const [members, devices] = [await session.call('GET', '/v1/members'), await session.call('GET', '/v1/devices')];
  if (members.status !== 200 || devices.status !== 200) throw new Error(members.body?.detail ?? devices.body?.detail);
  return { members: members.body.items, devices: devices.body.items };
}

// Codes want the password of the last five minutes; it is asked for in the same form.
async function make(said, view) {
  try {
    if (said.password !== '') {
      const confirmed = await session.call('POST', '/v1/auth/confirmations', { password: said.password });
      if (confirmed.status >= 300) return note(t('phones.password_wrong'));
    }
    const answer = await session.call('POST', '/v1/devices/codes', { member_id: said.member, device_name: said.name });
    if (answer.status !== 201) return note(answer.body.type === 'confirmation-needed' ? t('phones.password_needed') : (answer.body.detail ?? answer.body.title));
    code = answer.body;
    return view.redraw();
  } catch (error) {
    return note(error instanceof session.NoSignal ? t('office.needs_signal') : t('say.not_ours'));
  }
}

function codeForm(members, view) {
  const fields = [
    forms.select('code-member', t('phones.for'), members.map((member) => [member.id, member.name])),
    forms.text('code-name', t('phones.name')),
    forms.text('code-password', t('phones.password'), { type: 'password', autocomplete: 'current-password' }),
  ];
  const check = () => {
    const [member, name, password] = fields.map((field) => field.read());
    return { wrong: { 'code-name': name === '' && t('form.missing', { name: t('phones.name') }) }, member, name, password };
  };
  return forms.form('code-form', t('phones.new'), fields, { check, save: (said) => make(said, view), act: t('phones.make') });
}

export async function show(params, view) {
  if (view.fresh) code = null;
  try {
    if (view.fresh || !kept) kept = await read();
  } catch {
    kept = null;
  }
  const names = new Map((kept?.members ?? []).map((member) => [member.id, member.name]));
  return h(
    'div',
    { class: 'page office' },
    h('h1', { tabindex: '-1' }, t('phones.title')),
    !kept && h('p', {}, t('office.needs_signal')),
    code && h('div', { class: 'told' }, h('p', {}, t('phones.read_out')), h('p', { class: 'code' }, code.code), h('p', {}, t('phones.until', { time: clock(code.expires_at) })), button('code-gone', () => view.redraw((code = null)), {}, t('phones.code_done'))),
    kept && codeForm(kept.members, view),
    kept && h('h2', {}, t('phones.devices')),
    kept && h('ul', { class: 'plain' }, kept.devices.map((device) => h('li', {}, t('phones.device', { name: device.name, person: names.get(device.member_id) ?? '', kind: t(`device.${device.kind}`), state: t(`device.${device.state}`), at: day(device.enrolled_at), heard: device.heard_at ? moment(device.heard_at) : t('unit.none') })))),
    link('/office', { class: 'line' }, t('office.title')),
  );
}
