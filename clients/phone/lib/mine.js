// The member's own reports, kept on this phone so that they can be followed up with no signal.

import { get } from './api.js';
import { all, drop, empty, keep, pref, read, setPref } from './keep.js';
import { holder, isOf, waiting } from './queue.js';

const MOST_PAGES = 20;
// What one member wrote on this phone and another has no business with. The queue stays: each
// thing in it knows whose it is, and waits for that member.
const PRIVATE = ['walks', 'answers', 'mine', 'photos', 'sets', 'sheets'];

let settled = Promise.resolve(false);

/**
 * Settle whose phone it is. Where another member held it before, what that one wrote goes.
 * @param {object|null} member the one signed in now
 * @returns {Promise<boolean>} whether the phone has changed hands
 */
export function settle(member) {
  if (member) settled = settled.then((was) => changeHands(member.contributor).then((now) => was || now), () => false);
  return settled;
}

async function changeHands(contributor) {
  const before = await pref('contributor');
  const other = Boolean(before && before !== contributor);
  if (other) for (const store of PRIVATE) await empty(store).catch(() => {});
  await setPref('contributor', contributor).catch(() => {});
  return other;
}

/** Fetch one's own reports and keep them; what was taken back meanwhile goes. @throws {Trouble} */
export async function renewMine() {
  const seen = new Set();
  let cursor = null;
  let page = 0;
  do {
    const told = await get(`/v1/reports?mine=true&limit=100${cursor ? `&cursor=${encodeURIComponent(cursor)}` : ''}`);
    for (const report of told.items) {
      seen.add(report.id);
      await keepMine(report);
    }
    cursor = told.next;
    page += 1;
  } while (cursor && page < MOST_PAGES);
  if (!cursor) for (const old of await all('mine')) if (!seen.has(old.id)) await drop('mine', old.id);
}

/** Keep a report of one's own; which set of this phone it is of stays known. */
export async function keepMine(report, set = null) {
  const before = await read('mine', report.id);
  return keep('mine', { ...report, set: set ?? before?.set ?? null });
}

/**
 * One's own reports as far as this phone knows: those kept, those that still wait to be sent
 * (`waits`), each with the follow-ups that wait as well.
 */
export async function mine() {
  const [kept, waits, who] = await Promise.all([all('mine').catch(() => []), waiting().catch(() => []), holder()]);
  const queue = waits.filter((one) => isOf(one, who));
  const byId = new Map(kept.map((report) => [report.id, report]));
  for (const thing of queue.filter((one) => one.kind === 'report')) {
    byId.set(thing.id, { followups: [], ...JSON.parse(thing.body), id: thing.id, set: thing.set ?? null, waits: true });
  }
  for (const thing of queue.filter((one) => one.kind === 'followup')) {
    const report = byId.get(thing.report);
    const told = { id: thing.id, ...JSON.parse(thing.body), waits: true };
    if (report) byId.set(report.id, { ...report, followups: [...(report.followups ?? []).filter((one) => one.id !== thing.id), told] });
  }
  return [...byId.values()];
}
