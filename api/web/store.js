// What this device keeps: entries that were written here, the rows that were pulled, and who it belongs to.
// A touch is one transaction with strict durability; nothing is shown as kept before that transaction is complete.

const NAME = 'yardjar';
const VERSION = 2;
const ROWS_MOST = 2000;
let base;
let behind = false;

// The stores are those of an older version, since this one could not make its own: what is there works on.
export const isBehind = () => behind;

// Upgrades only add: an older page still open in another tab goes on working with what it knows.
function upgrade(db, from) {
  if (from < 1) {
    const outbox = db.createObjectStore('outbox', { keyPath: 'n' });
    outbox.createIndex('id', 'id', { unique: true });
    outbox.createIndex('state', 'state');
    const row = db.createObjectStore('row', { keyPath: 'key' });
    row.createIndex('at', 'at');
    row.createIndex('mine', 'mine');
    db.createObjectStore('meta');
  }
  if (from < 2) {
    const photo = db.createObjectStore('photo', { keyPath: 'sha256' });
    photo.createIndex('waits', 'waits');
  }
}

const asked = (request) =>
  new Promise((resolve, reject) => {
    request.onsuccess = () => resolve(request.result);
    request.onerror = () => reject(request.error);
  });

function opening(version) {
  return new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, version);
    let trouble;
    request.onupgradeneeded = (event) => {
      try {
        upgrade(request.result, event.oldVersion);
      } catch (error) {
        trouble = error;
        request.transaction.abort();
      }
    };
    request.onerror = () => reject(trouble ?? request.error);
    request.onsuccess = () => resolve(request.result);
  });
}

export async function open() {
  try {
    base = await opening(VERSION);
  } catch (error) {
    // A failed upgrade leaves the stores as they were, and a newer page's stores hold what an older one knows: either
    // way this page works on with them. Only where there are none is there nothing to work with.
    base = await opening().catch(() => null);
    if (!base?.objectStoreNames.contains('outbox')) throw error;
    behind = base.version < VERSION;
  }
  // A newer page wants to change the stores: let it, and work on after a reload.
  base.onversionchange = () => base.close();
}

export const has = (name) => base.objectStoreNames.contains(name);

// Runs `work` with the stores and resolves once everything is on the disk. Nothing is kept if any of it fails.
export function write(names, work) {
  return new Promise((resolve, reject) => {
    let result;
    const transaction = base.transaction(names, 'readwrite', { durability: 'strict' });
    transaction.oncomplete = () => resolve(result);
    transaction.onabort = () => reject(transaction.error ?? new Error('the store gave up'));
    Promise.resolve(work(...names.map((name) => transaction.objectStore(name)))).then(
      (done) => {
        result = done;
      },
      (error) => {
        reject(error);
        try {
          transaction.abort();
        } catch {
          // It ended by itself already.
        }
      },
    );
  });
}

const reading = (name) => base.transaction(name).objectStore(name);

export const meta = (key) => asked(reading('meta').get(key));
export const setMeta = (key, value) => write(['meta'], (store) => void store.put(value, key));

// Rows ------------------------------------------------------------------------------------------------------------

export const rowKey = (kind, id) => `${kind}/${id}`;
const see = (row) => row && { ...row, state: JSON.parse(row.text) };

export const row = async (kind, id) => see(await asked(reading('row').get(rowKey(kind, id))));
// Many at once in one transaction: each of its own would cost more than the reading.
export async function rowsById(kind, ids) {
  const store = reading('row');
  return (await Promise.all(ids.map((id) => asked(store.get(rowKey(kind, id)))))).filter(Boolean).map(see);
}
export function countsAt(places) {
  const index = reading('row').index('at');
  return Promise.all(places.map((at) => asked(index.count(at))));
}
export const rowsAt = async (at) => (await asked(reading('row').index('at').getAll(at))).map(see);
const ofKind = (kind) => IDBKeyRange.bound(`${kind}/`, `${kind}0`, false, true);
export const rowsOf = async (kind, most = ROWS_MOST) => (await asked(reading('row').getAll(ofKind(kind), most))).map(see);
export const rawRow = (store, key) => asked(store.get(key));
export const rowsMine = () => asked(reading('row').index('mine').getAll(1));

// All rows, a part at a time: nothing ever holds the whole operation at once.
export async function eachPart(size, use) {
  let after;
  for (;;) {
    const range = after === undefined ? undefined : IDBKeyRange.lowerBound(after, true);
    const part = await asked(reading('row').getAll(range, size));
    if (part.length === 0) return;
    await use(part);
    after = part[part.length - 1].key;
  }
}

// Outbox ----------------------------------------------------------------------------------------------------------

export const outboxOf = (state, most) => asked(reading('outbox').index('state').getAll(state, most));
export const outboxCount = (state) => asked(reading('outbox').index('state').count(state));
export const outboxEntry = (id) => asked(reading('outbox').index('id').get(id));

// The newest first, for as long as `go` says so.
export function newestOutbox(go) {
  return new Promise((resolve, reject) => {
    const found = [];
    const request = reading('outbox').openCursor(null, 'prev');
    request.onerror = () => reject(request.error);
    request.onsuccess = () => {
      const cursor = request.result;
      if (!cursor || !go(cursor.value, found.length)) return resolve(found);
      found.push(cursor.value);
      return cursor.continue();
    };
  });
}

export const allOutbox = () => asked(reading('outbox').getAll());

export const waitingPhotos = () => asked(reading('photo').index('waits').getAllKeys(1));
export const photo = (sha256) => asked(reading('photo').get(sha256));

// Another business, or a fresh start after everything was sent.
export const clear = () =>
  write(['outbox', 'row', 'meta'], (outbox, rows, kept) => {
    outbox.clear();
    rows.clear();
    kept.clear();
  });
export const rawAll = (store) => asked(store.getAll());
export const rawByIndex = (store, index, key) => asked(store.index(index).get(key));
