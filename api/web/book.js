// The rows of this device: what the service said, and on top of it what was written here and is not settled yet.
// A row that shows something of its own keeps the service's form beside it, as `base`.

import { rawRow, rowKey } from './store.js';

const last = (list) => (list && list.length > 0 ? list[list.length - 1] : undefined);

// Where a thing is to be looked for; this is an index and says nothing about the trade.
function whereOf(kind, status, state) {
  switch (kind) {
    case 'hive':
      return `hive@${last(state.stays)?.yard_id ?? ''}`;
    case 'super':
      if (status === 'on_hive') return `super@${last(state.filling?.stands)?.hive_id ?? ''}`;
      if (status === 'in_yard') return `super@${state.yard_id ?? ''}`;
      return `super@${status}`;
    case 'colony':
      return status === 'alive' ? `colony@${last(state.homes)?.hive_id ?? ''}` : `colony@${status}`;
    default:
      return `${kind}@${status}`;
  }
}

function shown(record, row, text) {
  return { ...record, label: row.label ?? null, status: row.status, at: whereOf(row.kind, row.status, row.state), text };
}

// Takes in a row as pulled. What was written here on top of it stays on top until it is folded anew.
export async function takePulled(store, row, text, round) {
  const key = rowKey(row.kind, row.id);
  const old = await rawRow(store, key);
  const record = { key, kind: row.kind, id: row.id, seq: row.changed_seq, round };
  const fresh = shown(record, row, text);
  if (old?.base) {
    const base = { label: fresh.label, status: fresh.status, at: fresh.at, text };
    store.put({ ...old, ...record, base });
  } else {
    store.put(fresh);
  }
}

// Shows a row with what was written here.
export async function showMine(store, row, text) {
  const key = rowKey(row.kind, row.id);
  const old = await rawRow(store, key);
  const base = old ? (old.base ?? { label: old.label, status: old.status, at: old.at, text: old.text }) : {};
  const record = { key, kind: row.kind, id: row.id, seq: old?.seq ?? 0, round: old?.round, mine: 1, base };
  store.put(shown(record, row, text));
}

// Nothing of this device is on top any longer: the service's form shows again, or the thing was never told.
export async function showBase(store, key) {
  const old = await rawRow(store, key);
  if (!old?.base) return;
  const { base, mine, ...record } = old;
  if (base.text) store.put({ ...record, ...base });
  else store.delete(key);
}
