// What is known of one of my sets: its troubles and reports, and its readings over time.

import { all } from './keep.js';
import { machineOf } from './question.js';
import { mine } from './mine.js';
import { judge } from './judge.js';
import { typed } from './words.js';

const SAME = ['make', 'model', 'rated_kva', 'fuel'];

// A report written elsewhere, or before the set was written down, is known by its nameplate.
const samePlate = (one, other) => Boolean(one.make || one.model) && SAME.every((name) => (one[name] ?? null) === (other[name] ?? null));

/**
 * The past of a set.
 * @returns {Promise<{walks: object[], reports: object[]}>} troubles not reported, the newest
 *   first; one's own reports of it, the newest repair first, those that still wait (`waits`) too
 */
export async function pastOf(set) {
  const [walks, own, sets] = await Promise.all([all('walks').catch(() => []), mine(), all('sets').catch(() => [])]);
  const plate = machineOf(set.machine);
  const alone = sets.filter((one) => samePlate(one.machine, plate)).length < 2;
  const told = new Set(own.map((r) => r.id));
  return {
    walks: walks.filter((w) => w.set === set.id && !told.has(w.report?.id)).sort((a, b) => (a.id < b.id ? 1 : -1)),
    reports: own.filter((r) => (r.set ? r.set === set.id : alone && samePlate(r.machine, plate)))
      .sort((a, b) => ((a.happened ?? '') < (b.happened ?? '') ? 1 : -1)),
  };
}

/**
 * A set's readings over time, each quantity and place by itself, the most often read first.
 * @returns {Array<{reading: object, points: object[]}>} points as `minmaxFigure` takes them
 */
export function readingsOver(past, machine, limits) {
  const groups = new Map();
  const add = (reading, when) => {
    const value = typeof reading.value === 'number' ? reading.value : typed(String(reading.value ?? ''));
    if (!reading.quantity || Number.isNaN(value) || reading.sign === 'over') return;
    const key = [reading.quantity, reading.point, reading.which, reading.condition].join('|');
    const judged = reading.verdict ? reading : { ...reading, ...judge({ ...reading, value }, machine, limits) };
    if (!groups.has(key)) groups.set(key, { reading, points: [] });
    groups.get(key).points.push({ ...judged, value, when });
  };
  for (const report of past.reports) for (const r of report.readings ?? []) add(r, report.happened ?? report.received);
  for (const walk of past.walks) for (const r of walk.readings ?? []) add(r, walk.begun);
  return [...groups.values()].filter((g) => g.points.every((p) => p.when)).sort((a, b) => b.points.length - a.points.length);
}
