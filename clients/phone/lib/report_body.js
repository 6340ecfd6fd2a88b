// The body of a report out of a walk and what only its end tells. Pure.

import { machineOf, reportOf } from './question.js';
import { outcomeOf, protectionOf } from './ending.js';

/** What is asked at the end, before anything was said. */
export const newReport = (id, month) => ({
  id, outcome: null, cause: undefined, seconds: {}, protection: null, happened: month, note: '', region: '',
  share: { cost: false, hours: false, region: false }, keep: [],
});

/**
 * The body of `PUT /v1/reports/{id}`.
 * @param {object} it a walk with its `report`
 * @param {object|undefined} answer the last answer to it
 * @param {object} words the vocabulary
 */
export function bodyOf(it, answer, words) {
  const told = it.report;
  const { machine, attempts, ...body } = reportOf(it, answer, words);
  const { hours, ...plate } = machine;
  body.machine = told.share.hours && hours !== undefined ? machine : plate;
  if (attempts) body.attempts = attempts.map(({ cost, ...one }) => machineOf(told.share.cost && cost !== undefined ? { ...one, cost } : one));
  Object.assign(body, protectionOf(told.protection), causesOf(told));
  body.outcome = outcomeOf(told.outcome, it.tried, words?.protections ?? [], told.protection);
  if (told.happened) body.happened = told.happened;
  if (told.note.trim()) body.note = told.note.trim();
  if (told.share.region && told.region.trim()) body.region = told.region.trim();
  return body;
}

function causesOf(told) {
  if (!told.cause?.component) return {};
  const root = machineOf({ component: told.cause.component, failure: told.cause.failure });
  const others = Object.keys(told.seconds ?? {}).filter((component) => told.seconds[component] && component !== root.component);
  if (!others.length) return { cause: root };
  return { causes: [{ ...root, role: 'root' }, ...others.map((component) => ({ component, role: 'separate' }))] };
}

/** How a part fails, the likeliest by the answer first. */
export function failuresFor(component, answer, words) {
  const likely = (answer?.causes ?? []).filter((c) => c.component === component && c.failure).map((c) => c.failure);
  const known = words?.components?.[component]?.failures ?? [];
  return [...new Set([...likely, ...known])];
}
