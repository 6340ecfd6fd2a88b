// What waits to be sent: reports, follow-ups, photographs. Each is on disk before the page says
// "kept", has the name it was given when it was written, and is sent with the very same bytes
// until the service says that it has it; so sending twice is harmless.

import { onMember, send, Trouble, whoIs } from './api.js';
import { all, drop, keep, keepAll, read } from './keep.js';

const AGAIN_MS = 60000;
const SOON_MS = 3000;
const MOST_MS = 3600000;
// Sending the same again would end the same.
const FOR_GOOD = ['refused', 'conflict', 'withdrawn', 'not-found'];
const watchers = new Set();
let trouble = null;
let timer = 0;

/** Hear when what waits has changed. */
export const onChange = (fn) => { watchers.add(fn); return () => watchers.delete(fn); };

/** Draw something anew at each change for as long as it is on the page. */
export function whileShown(element, draw) {
  let shown = false;
  const off = onChange(async () => {
    shown ||= element.isConnected;
    if (shown && !element.isConnected) off();
    else await draw();
  });
}

async function changed() {
  for (const fn of watchers) await fn();
}

/**
 * Keep something to be sent, and try at once.
 * @param {{id: string, kind: 'report'|'followup'|'photo', path: string, body: object|Blob,
 *   title: string, of?: string}} thing `of`: the report it belongs to
 * @throws {NoRoom} nothing was kept
 */
export const add = (thing) => addAll([thing]);

/** Keep several things that belong together, all or none, and try at once. @throws {NoRoom} */
export async function addAll(things) {
  const now = Date.now();
  const who = whoIs()?.contributor ?? (await read('prefs', 'contributor').catch(() => undefined))?.value ?? null;
  await keepAll('queue', things.map((thing, i) => ({
    ...thing, body: thing.body instanceof Blob ? thing.body : JSON.stringify(thing.body), made: now + i, state: 'waiting', why: null, who,
  })));
  await changed();
  // What is kept is kept: whoever wrote it need not stand and wait for a poor signal.
  flush().catch(() => {});
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

/** Let it not be sent while it is being mended. */
export async function setAside(id) {
  const thing = await read('queue', id);
  if (thing?.state === 'waiting') await keep('queue', { ...thing, state: 'set-aside', why: { kind: 'mending' } });
  await changed();
}

/** Send what waits; one tab does it at a time. Returns how many were sent. */
export async function flush() {
  if (!navigator.locks) return drain();
  return navigator.locks.request('mendpool-queue', { ifAvailable: true }, (lock) => {
    if (lock) return drain();
    // The one who sends now may have looked at the queue before this came into it.
    clearTimeout(timer);
    timer = setTimeout(flush, SOON_MS);
    return 0;
  });
}

async function drain() {
  let sent = 0;
  trouble = null;
  let wait = AGAIN_MS;
  const held = new Set();
  const tried = new Set();
  const next = async () => (await waiting()).find((thing) => !tried.has(thing.id));
  // Looked at anew each time: something may have come in, or been taken back, meanwhile.
  for (let thing = await next(); thing; thing = await next()) {
    tried.add(thing.id);
    if (thing.state !== 'waiting' || (thing.of && held.has(thing.of)) || !isMine(thing)) {
      held.add(thing.id); // what belongs to it has to wait too
      continue;
    }
    try {
      const stored = await send('PUT', thing.path, thing.body);
      await remember(thing, stored);
      // Mended meanwhile, it stays: the service then says that it has another form of it.
      if ((await read('queue', thing.id))?.made === thing.made) await drop('queue', thing.id);
      sent += 1;
      await changed();
    } catch (error) {
      if (!(error instanceof Trouble)) throw error;
      held.add(thing.id);
      if (FOR_GOOD.includes(error.kind) || (error.kind === 'not-allowed' && thing.kind !== 'report')) {
        await keep('queue', { ...thing, state: 'set-aside', why: { kind: error.kind, ...error.problem } });
        continue;
      }
      trouble = error.kind;
      wait = Math.min(MOST_MS, Math.max(AGAIN_MS, error.retryIn * 1000));
      // Photographs have a day's number of their own: what comes after them may go.
      if (error.kind === 'slow-down' && thing.kind === 'photo') continue;
      break;
    }
  }
  clearTimeout(timer);
  if (trouble && trouble !== 'signed-out') timer = setTimeout(flush, wait);
  await changed();
  return sent;
}

/** Whether it is this member's to send: telephones are lent. */
export const isMine = (thing) => !whoIs() || !thing.who || thing.who === whoIs().contributor;

async function remember(thing, stored) {
  // No room to remember is no reason to send it twice.
  if (thing.kind === 'report') await keep('mine', { ...stored, set: thing.set ?? null }).catch(() => {});
  if (thing.kind !== 'followup') return;
  const report = await read('mine', thing.report).catch(() => undefined);
  const followups = [...(report?.followups ?? []).filter((one) => one.id !== stored.id), stored];
  if (report) await keep('mine', { ...report, followups }).catch(() => {});
}

/** Send on load, when a signal comes back, and when the page is looked at again. */
export function watch() {
  const note = () => whoIs() && keep('prefs', { key: 'contributor', value: whoIs().contributor }).catch(() => {});
  onMember(note);
  note();
  addEventListener('online', () => flush());
  document.addEventListener('visibilitychange', () => { if (!document.hidden) flush(); });
  return flush();
}
