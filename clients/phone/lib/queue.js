// What waits to be sent: reports, follow-ups, photographs. Each is on disk before the page says
// "kept", has the name it was given when it was written, and is sent with the very same bytes
// until the service says that it has it; so sending twice is harmless.

import { send, Trouble, whoIs } from './api.js';
import { all, drop, keep } from './keep.js';

const AGAIN_MS = 60000;
const watchers = new Set();
let trouble = null;
let timer = 0;

/** Hear when what waits has changed. */
export const onChange = (fn) => { watchers.add(fn); return () => watchers.delete(fn); };

async function changed() {
  for (const fn of watchers) await fn();
}

/**
 * Keep something to be sent, and try at once.
 * @param {{id: string, kind: 'report'|'followup'|'photo', path: string, body: object|Blob,
 *   title: string, of?: string}} thing `of`: the report it belongs to
 * @throws {NoRoom} nothing was kept
 */
export async function add(thing) {
  const body = thing.body instanceof Blob ? thing.body : JSON.stringify(thing.body);
  await keep('queue', { ...thing, body, made: Date.now(), state: 'waiting', who: whoIs()?.contributor ?? null });
  await changed();
  return flush();
}

/** What waits, the oldest first, with `state` waiting or set-aside. */
export async function waiting() {
  return (await all('queue')).sort((a, b) => a.made - b.made);
}

/** Why the last try did not send all: a Trouble's kind, or null. */
export const lastTrouble = () => trouble;

/** Take back what waits, before it is sent. */
export async function takeBack(id) {
  for (const thing of await waiting()) if (thing.id === id || thing.of === id) await drop('queue', thing.id);
  await changed();
}

/** Let what was set aside wait again. */
export async function again(id) {
  for (const thing of await waiting()) {
    if (thing.id === id) await keep('queue', { ...thing, state: 'waiting', why: null });
  }
  return flush();
}

/** Send what waits; one tab does it at a time. Returns how many were sent. */
export async function flush() {
  if (!navigator.locks) return drain();
  return navigator.locks.request('mendpool-queue', { ifAvailable: true }, (lock) => (lock ? drain() : 0));
}

async function drain() {
  let sent = 0;
  trouble = null;
  const held = new Set();
  for (const thing of await waiting()) {
    if (thing.state !== 'waiting') { held.add(thing.id); continue; }
    if (thing.of && held.has(thing.of)) continue; // its report has to be there first
    const me = whoIs();
    if (me && thing.who && thing.who !== me.contributor) { held.add(thing.id); continue; } // not his to send
    try {
      const stored = await send('PUT', thing.path, thing.body);
      await drop('queue', thing.id);
      await remember(thing, stored);
      sent += 1;
      await changed();
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      held.add(thing.id);
      if (['refused', 'conflict', 'withdrawn', 'not-found'].includes(error.kind)) {
        await keep('queue', { ...thing, state: 'set-aside', why: error.problem });
        continue;
      }
      trouble = error.kind;
      break;
    }
  }
  clearTimeout(timer);
  if (trouble && trouble !== 'signed-out') timer = setTimeout(flush, AGAIN_MS);
  await changed();
  return sent;
}

async function remember(thing, stored) {
  if (thing.kind === 'report') await keep('mine', stored);
}

/** Send on load, when a signal comes back, and when the page is looked at again. */
export function watch() {
  addEventListener('online', () => flush());
  document.addEventListener('visibilitychange', () => { if (!document.hidden) flush(); });
  return flush();
}
