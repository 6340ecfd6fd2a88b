// A walk is one trouble with one set, from the complaint to the report. Everything tapped or
// typed is kept at once, so that a phone that dies in mid-walk loses nothing.

import { keep, read, all } from './keep.js';
import { uuid7 } from './ids.js';

/** Begin a walk at a set (null for one not written down). */
export const begin = (set = null) => ({
  id: uuid7(), set: set?.id ?? null, machine: set?.machine ?? {}, complaint: '', symptoms: [], readings: [],
  observations: [], tried: [], skipped: [], begun: new Date().toISOString(), done: false,
});

// As it stands on this page: a phone without room can still be asked with.
const inMind = new Map();

/** Whether a walk found no room on disk, so that it ends with the page. */
export const isInMindOnly = (id) => inMind.has(id);

/** Read a walk; undefined where there is none. */
export const walk = async (id) => inMind.get(id) ?? read('walks', id).catch(() => undefined);

/** Keep a walk; it is on disk when this comes back. @throws {NoRoom} it is in mind only */
export function keepWalk(it) {
  inMind.set(it.id, it);
  return keep('walks', it).then((kept) => { inMind.delete(it.id); return kept; });
}

/** Walks not ended, the newest first. */
export async function open() {
  return (await all('walks')).filter((w) => !w.done).sort((a, b) => (a.id < b.id ? 1 : -1));
}

/** Whether there is enough to ask. */
export const isAskable = (w) => Boolean(w.complaint.trim() || w.symptoms.length || w.readings.length || w.observations.length);

/** The nameplate as the wire has it: what is empty is left out. */
export function machineOf(machine) {
  return Object.fromEntries(Object.entries(machine ?? {}).filter(([, v]) => v !== '' && v !== null && v !== undefined));
}

/** The body of `POST /v1/ask` for a walk as it stands. */
export function questionOf(w) {
  const { hours, ...machine } = machineOf(w.machine);
  const body = { machine };
  if (w.complaint.trim()) body.complaint = w.complaint.trim();
  // What was read after the mend says nothing of the fault, and what it cost nothing at all.
  const found = w.readings.filter((r) => r.stage !== 'left');
  const tried = w.tried.map(({ cost, ...attempt }) => attempt);
  for (const [name, list] of Object.entries({ symptoms: w.symptoms, readings: found, observations: w.observations, tried })) if (list.length) body[name] = list;
  if (w.before?.length) body.before = w.before;
  if (w.get_by) body.get_by = true;
  if (w.must_run) body.must_run = w.must_run;
  return body;
}

/** Note what a check showed; looked at again, the newer look counts. */
export function saw(w, check, found) {
  w.observations = [...w.observations.filter((o) => o.check !== check), { check, found }];
}

/** Take back the last thing done of a kind. */
export function undo(w, kind, place) {
  w[kind] = w[kind].filter((_, i) => i !== place);
}

/**
 * What a look told of the kind of set belongs to its nameplate.
 * @param {object} w a walk
 * @param {object} checks the vocabulary's, each with `tells`
 */
export function settled(w, checks, machineWords) {
  const told = {};
  for (const look of w.observations) {
    const tells = checks?.[look.check]?.tells;
    if (tells && look.found in (machineWords?.[tells] ?? {})) told[tells] = look.found;
  }
  return told;
}

const SURE = 0.8;

/** The report of a walk so far; what only its end tells (outcome, cause, note) is added then. */
export function reportOf(w, answer, vocabulary) {
  const { tried, get_by, must_run, ...body } = questionOf(w);
  body.machine = { ...machineOf(w.machine), ...settled(w, vocabulary?.checks, vocabulary?.machine) };
  const understood = (answer?.symptoms ?? [])
    .filter((s) => ['said', 'complaint'].includes(s.from) && s.confidence >= SURE).map((s) => s.code);
  const symptoms = [...new Set([...w.symptoms, ...understood])];
  if (symptoms.length) body.symptoms = symptoms;
  if (w.readings.length) body.readings = w.readings.map((r) => ({ stage: 'found', ...r }));
  if (w.tried.length) body.attempts = w.tried;
  return body;
}
