// What is known of one of my sets: its troubles and reports, and its readings over time.

import { all } from './keep.js';
import { machineOf } from './question.js';
import { waiting } from './queue.js';
import { judge } from './judge.js';
import { typed } from './words.js';

const SAME = ['make', 'model', 'rated_kva', 'fuel'];

// A report written elsewhere, or before the set was written down, is known by its nameplate.
const samePlate = (one, other) => Boolean(one.make || one.model) && SAME.every((name) => (one[name] ?? null) === (other[name] ?? null));

/**
 * The past of a set.
 * @returns {Promise<{walks: object[], reports: object[], waits: object[]}>} troubles that are not
 *   over, reports kept on this phone (the newest repair first), what waits to be sent
 */
export async function pastOf(set) {
  const [walks, mine, queue, sets] = await Promise.all([all('walks').catch(() => []), all('mine').catch(() => []), waiting().catch(() => []), all('sets').catch(() => [])]);
  const plate = machineOf(set.machine);
  const alone = sets.filter((one) => samePlate(one.machine, plate)).length < 2;
  const reports = mine.filter((r) => (r.set ? r.set === set.id : alone && samePlate(r.machine, plate)));
  const told = new Set(mine.map((r) => r.id));
  return {
    walks: walks.filter((w) => w.set === set.id && !told.has(w.report?.id)).sort((a, b) => (a.id < b.id ? 1 : -1)),
    reports: reports.sort((a, b) => ((a.happened ?? '') < (b.happened ?? '') ? 1 : -1)),
    waits: queue.filter((one) => one.kind === 'report' && one.set === set.id),
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
  for (const report of past.reports) for (const r of report.readings ?? []) add(r, report.happened ?? report.received?.slice(0, 10));
  for (const walk of past.walks) for (const r of walk.readings ?? []) add(r, walk.begun.slice(0, 10));
  return [...groups.values()].filter((g) => g.points.every((p) => p.when)).sort((a, b) => b.points.length - a.points.length);
}
