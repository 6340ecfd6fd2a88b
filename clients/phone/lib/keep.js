// What this phone keeps, in IndexedDB: sets, questions, what waits to be sent, the last answers.

const NAME = 'mendpool';
const FORM = 2;
// store: path of its key
const STORES = {
  sets: 'id', walks: 'id', answers: 'id', queue: 'id', mine: 'id', sheets: 'id', prefs: 'key', vocabulary: 'key',
  photos: 'id',
};

/** The phone has no room left, or lets nothing be kept. */
export class NoRoom extends Error {
  name = 'NoRoom';
}

let opened = null;

function open() {
  opened ??= new Promise((resolve, reject) => {
    const request = indexedDB.open(NAME, FORM);
    request.onupgradeneeded = () => {
      for (const [name, keyPath] of Object.entries(STORES)) {
        if (!request.result.objectStoreNames.contains(name)) request.result.createObjectStore(name, { keyPath });
      }
    };
    request.onsuccess = () => {
      // A newer page in another tab wants the database to itself: let go, open again when needed.
      request.result.onversionchange = () => { request.result.close(); opened = null; };
      request.result.onclose = () => { opened = null; };
      resolve(request.result);
    };
    request.onerror = () => { opened = null; reject(new NoRoom(String(request.error))); };
    request.onblocked = () => { opened = null; reject(new NoRoom('blocked by another tab')); };
  });
  return opened;
}

async function within(store, mode, work) {
  const database = await open();
  return new Promise((resolve, reject) => {
    let result;
    // 'strict': a report is on disk before the page says that it is kept.
    const transaction = database.transaction(store, mode, { durability: 'strict' });
    let asked;
    try { asked = work(transaction.objectStore(store)); } catch (error) { reject(new NoRoom(String(error))); return; }
    asked.onsuccess = () => { result = asked.result; };
    transaction.oncomplete = () => resolve(result);
    transaction.onabort = () => reject(new NoRoom(String(transaction.error ?? asked.error)));
    transaction.onerror = () => reject(new NoRoom(String(transaction.error ?? asked.error)));
  });
}

/** Read one; undefined where there is none. */
export const read = (store, key) => within(store, 'readonly', (s) => s.get(key));
/** Read all, in the order of their keys. */
export const all = (store) => within(store, 'readonly', (s) => s.getAll());
/** Keep one; it is on disk when this comes back. @throws {NoRoom} */
export const keep = (store, value) => within(store, 'readwrite', (s) => s.put(value)).then(() => value);
/** Keep several of a store, all or none. @throws {NoRoom} */
export const keepAll = (store, values) => within(store, 'readwrite', (s) => values.map((value) => s.put(value)).at(-1));
/** Let one go. */
export const drop = (store, key) => within(store, 'readwrite', (s) => s.delete(key));
/** Let all of a store go. */
export const empty = (store) => within(store, 'readwrite', (s) => s.clear());

/** Forget everything this phone keeps. */
export async function forgetAll() {
  try {
    for (const store of Object.keys(STORES)) await empty(store);
  } catch {
    // The service, told that somebody left, has the browser throw all away: it may be half done.
    indexedDB.deleteDatabase(NAME);
  }
}

/** A small setting; `otherwise` where it was never set. */
export const pref = async (key, otherwise = null) => (await read('prefs', key).catch(() => undefined))?.value ?? otherwise;
/** Set a small setting. */
export const setPref = (key, value) => keep('prefs', { key, value });
