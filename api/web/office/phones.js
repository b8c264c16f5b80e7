// People and phones: who works here, a code for a new phone, how phones reach the service, and which devices there are.

import { button, h } from '../dom.js';
import * as session from '../session.js';
import { ask, note } from '../shell.js';
import { newId } from '../entry.js';
import { clock, day, moment, t } from '../words.js';
import * as forms from './forms.js';
import { qr } from './qr.js';

const ROLES = ['viewer', 'field', 'office', 'owner'];

let kept = null;
let code = null;

async function read() {
  const [members, devices, access] = await Promise.all(['/v1/members', '/v1/devices', '/v1/access'].map(forms.askService));
  return members && devices && access && { members: members.items, devices: devices.items, access };
}

// Codes and roles want the password of the last five minutes; it is asked for in the same form.
async function confirmed(password) {
  return !password || (await forms.tellService('/v1/auth/confirmations', { password })) !== null;
}

const withPassword = () => ['password', 'text', { secret: true, label: t('phones.password') }];

// Where a phone opens the app: the service's own address in the network, else the one this page came from.
function base(access) {
  return (access.addresses[0] ?? `${location.origin}/`).replace(/\/$/, '');
}

async function make({ member, device_name, password: typed }, view) {
  if (!(await confirmed(typed))) return;
  const made = await forms.tellService('/v1/devices/codes', { member_id: member, device_name });
  if (!made) return;
  const address = `${base(kept.access)}/join#${made.qr}`;
  try {
    code = { ...made, address, picture: await qr(address, t('phones.scan')) };
  } catch {
    code = made;
  }
  view.redraw();
}

function shownCode(view) {
  const local = kept.access.transport === 'local';
  return h(
    'div',
    { class: 'told' },
    code.picture && [h('p', {}, t('phones.scan')), code.picture],
    local && h('p', { class: 'caution' }, t('phones.here_only')),
    h('p', {}, t('phones.read_out')),
    h('p', { class: 'code' }, code.code),
    h('p', {}, t('phones.until', { time: clock(code.expires_at) })),
    button('code-gone', () => view.redraw((code = null)), {}, t('phones.code_done')),
  );
}

function codeForm(view) {
  const spec = [
    ['member', 'one', { needs: true, label: t('phones.for'), list: kept.members.map((member) => [member.id, member.name]) }],
    ['device_name', 'text', { needs: true, label: t('phones.name') }],
    withPassword(),
  ];
  return forms.quick('code-form', t('phones.new'), spec, { save: (said) => make(said, view), act: t('phones.make') });
}

function personForm(view) {
  const spec = [
    ['name', 'text', { needs: true }],
    ['role', 'one', { needs: true, value: 'field', list: ROLES.map((role) => [role, t(`role.${role}`)]) }],
    ['login', 'text', { label: t('phones.login') }],
    ['first', 'text', { secret: true, label: t('phones.first_password') }],
    withPassword(),
  ];
  const save = async ({ password: typed, first, ...said }) => {
    if (!(await confirmed(typed))) return;
    const added = await forms.tellService('/v1/members', { id: newId(), ...said, password: first });
    if (!added) return;
    note(t('phones.person_added', { name: said.name }));
    kept = await read();
    view.redraw();
  };
  return forms.quick('person-form', t('phones.new_person'), spec, { save, act: t('phones.add_person') });
}

function accessPart() {
  const { access } = kept;
  return [
    h('h2', {}, t('phones.reach')),
    h('p', {}, t(`phones.transport.${access.transport}`)),
    access.addresses.length > 0 && h('ul', {}, access.addresses.map((address) => h('li', {}, address))),
    access.first_visit && h('p', {}, t('phones.first_visit', { address: access.first_visit })),
    access.picture,
    access.fingerprint && [h('p', {}, t('phones.fingerprint')), h('p', { class: 'fingerprint' }, access.fingerprint)],
  ];
}

async function revoke(device, view) {
  const how = await ask([t('phones.revoke_what', { name: device.name })], { title: t('phones.revoke'), yes: t('phones.lost'), no: t('ask.back') });
  if (!how) return;
  if (!(await forms.tellService(`/v1/devices/${device.id}/revocations`, { kind: 'lost' }))) return;
  note(t('phones.revoked', { name: device.name }));
  kept = await read();
  view.redraw();
}

function deviceRow(device, names, view) {
  const said = t('phones.device', { name: device.name, person: names.get(device.member_id) ?? '', kind: t(`device.${device.kind}`), state: t(`device.${device.state}`), at: day(device.enrolled_at), heard: device.heard_at ? moment(device.heard_at) : t('unit.none') });
  const other = device.id !== session.who().device_id && device.state === 'active';
  return h('li', { class: 'entry' }, h('span', { class: 'entry-say' }, said), other && button(`revoke-${device.id}`, () => revoke(device, view), { 'aria-label': t('phones.revoke_what', { name: device.name }) }, t('phones.lost')));
}

export async function show(params, view) {
  if (view.fresh) code = null;
  if (view.fresh || !kept) {
    kept = await read();
    if (kept?.access.first_visit) kept.access.picture = await qr(kept.access.first_visit, t('phones.first_visit', { address: kept.access.first_visit }));
  }
  if (!kept) return forms.page(t('phones.title'), h('p', {}, t('office.needs_signal')));
  const names = new Map(kept.members.map((member) => [member.id, member.name]));
  return forms.page(
    t('phones.title'),
    code ? shownCode(view) : codeForm(view),
    accessPart(),
    h('h2', {}, t('phones.people')),
    h('ul', { class: 'plain' }, kept.members.map((member) => h('li', {}, t('phones.person', { name: member.name, role: t(`role.${member.role}`), login: member.login ?? t('unit.none') })))),
    session.role() === 'owner' && personForm(view),
    h('h2', {}, t('phones.devices')),
    h('ul', { class: 'plain' }, kept.devices.map((device) => deviceRow(device, names, view))),
  );
}
