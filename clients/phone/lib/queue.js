// What waits to be sent: reports, follow-ups, photographs. Each is on disk before the page says
// "kept", has the name it was given when it was written, and is sent with the very same bytes
// until the service says that it has it; so sending twice is harmless.

import { send, session, Trouble, whoIs } from './api.js';
import { all, drop, keep, keepAll, pref, read } from './keep.js';

const AGAIN_MS = 60000;
const SOON_MS = 3000;
const MOST_MS = 3600000;
// Sending the same again would end the same.
const FOR_GOOD = ['refused', 'conflict', 'withdrawn', 'not-found'];
const ERASED = ['not-found', 'withdrawn', 'not-allowed'];
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
    if (shown && !element.isConnected) { off(); return; }
    const had = element.contains(document.activeElement) ? document.activeElement : null;
    await draw();
    if (had && !had.isConnected) standAgain(element, had);
  });
}

// Whoever stood on a button still stands there after the drawing, or at the top of it.
function standAgain(element, had) {
  const alike = (one) => one.textContent === had.textContent && one.dataset.of === had.dataset.of;
  const place = [...element.querySelectorAll('button, a, summary')].find(alike) ?? element.querySelector('h1');
  if (place?.tagName === 'H1') place.setAttribute('tabindex', '-1');
  place?.focus();
}

async function changed() {
  for (const fn of watchers) await fn();
}

/**
 * Keep something to be sent, and try at once.
 * @param {{id: string, kind: 'report'|'followup'|'photo', path: string, body: object|Blob,
 *   title: string, of?: string, walk?: string}} thing `of`: the report it belongs to
 * @throws {NoRoom} nothing was kept
 */
export const add = (thing) => addAll([thing]);

/** Keep several things that belong together, all or none, and try at once. @throws {NoRoom} */
export async function addAll(things) {
  const now = Date.now();
  const who = await holder();
  const before = await waiting();
  const made = things.map((thing, i) => {
    const old = before.find((one) => one.id === thing.id);
    return {
      ...thing, body: thing.body instanceof Blob ? thing.body : JSON.stringify(thing.body), made: now + i, state: 'waiting', why: null,
      who: old?.who ?? thing.who ?? who, attempted: old?.attempted ?? false,
    };
  });
  // Told anew under another name: what the first name may have brought to the pool is erased.
  const left = before.filter((one) => one.kind === 'report' && one.attempted && one.walk && things.some((thing) => thing.walk === one.walk && thing.id !== one.id));
  await keepAll('queue', [...made, ...left.map(erasing)]);
  await changed();
  // What is kept is kept: whoever wrote it need not stand and wait for a poor signal.
  flush().catch(() => {});
}

/**
 * What waits, the oldest first, with `state` waiting or set-aside. What belongs to a report comes
 * behind all reports: a mended one is younger than its photographs, and must not be overtaken.
 */
export async function waiting() {
  return (await all('queue')).sort((a, b) => Boolean(a.of) - Boolean(b.of) || a.made - b.made);
}

/** The contributor who holds this phone: the one signed in, else the last one known; or null. */
export const holder = async () => whoIs()?.contributor ?? pref('contributor');

/** Whether something that waits is that contributor's: telephones are lent. */
export const isOf = (thing, contributor) => !thing.who || thing.who === contributor;

// Erases a report that may have reached the pool although its answer never came.
const erasing = (report) => ({
  id: `erase-${report.id}`, kind: 'erase', path: report.path, report: report.id, title: report.title, made: Date.now(), state: 'waiting', why: null, who: report.who,
});

/** Why the last try did not send all: a Trouble's kind, or null. */
export const lastTrouble = () => trouble;

/** Take back what waits. A report that may have reached the pool already is erased there too. */
export async function takeBack(id) {
  const list = await waiting();
  const gone = list.find((one) => one.id === id && one.kind === 'report' && one.attempted);
  if (gone) await keep('queue', erasing(gone));
  for (const thing of list) if (thing.id === id || thing.of === id) await drop('queue', thing.id);
  await changed();
  if (gone) soon();
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
    timer = setTimeout(soon, SOON_MS);
    return 0;
  });
}

const soon = () => { flush().catch(() => {}); };

// Nothing goes before it is known who would be sending it.
async function nobodyKnown() {
  if (whoIs() || !(await waiting()).some((one) => one.state === 'waiting')) return null;
  try { return (await session()) ? null : 'signed-out'; } catch (error) { return error.kind ?? 'ours'; }
}

async function drain() {
  let sent = 0;
  let wait = AGAIN_MS;
  trouble = await nobodyKnown();
  const held = new Set();
  const tried = new Set();
  const next = async () => (trouble && trouble !== 'slow-down' ? undefined : (await waiting()).find((thing) => !tried.has(thing.id)));
  // Looked at anew each time: something may have come in, or been taken back, meanwhile.
  for (let thing = await next(); thing; thing = await next()) {
    tried.add(thing.id);
    if (thing.state !== 'waiting' || (thing.of && held.has(thing.of)) || !isMine(thing)) {
      held.add(thing.id); // what belongs to it has to wait too
      continue;
    }
    try {
      await deliver(thing);
      // Mended meanwhile, it stays: the service then says that it has another form of it.
      if ((await read('queue', thing.id))?.made === thing.made) await drop('queue', thing.id);
      sent += 1;
      await changed();
    } catch (error) {
      held.add(thing.id);
      if (!(error instanceof Trouble)) { trouble = 'ours'; break; }
      // Another member signed in meanwhile, perhaps in another tab.
      if (whoIs() && !isMine(thing)) continue;
      if (FOR_GOOD.includes(error.kind) || (error.kind === 'not-allowed' && thing.kind !== 'report')) {
        // Mended or taken back meanwhile, it is not this answer's any more.
        const now = await read('queue', thing.id).catch(() => undefined);
        const why = { kind: error.kind, ...error.problem };
        if (now?.made === thing.made && now.state === 'waiting') await keep('queue', { ...now, state: 'set-aside', why }).catch(() => { trouble = 'ours'; });
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
  if (trouble && trouble !== 'signed-out') timer = setTimeout(soon, wait);
  await changed();
  return sent;
}

const isMine = (thing) => isOf(thing, whoIs()?.contributor);

async function deliver(thing) {
  if (thing.kind === 'erase') {
    await send('DELETE', thing.path).catch((error) => {
      // It never arrived, is gone already, or was never this member's.
      if (!ERASED.includes(error.kind) || !isMine(thing)) throw error;
    });
    await drop('mine', thing.report).catch(() => {});
    return;
  }
  // Noted before it goes: where the answer is lost, nobody here knows whether it arrived.
  if (!thing.attempted && navigator.onLine) {
    const now = await read('queue', thing.id);
    if (now?.made === thing.made) await keep('queue', { ...now, attempted: true });
  }
  await remember(thing, await send('PUT', thing.path, thing.body));
}

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
  addEventListener('online', soon);
  document.addEventListener('visibilitychange', () => { if (!document.hidden) soon(); });
  return flush();
}
