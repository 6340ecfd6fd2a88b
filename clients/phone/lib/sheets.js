// Fault sheets kept on the phone, one for each set: fetched while there is a signal, for when
// there is none.

import { send } from './api.js';
import { keep, read } from './keep.js';
import { machineOf } from './question.js';

const plateOf = (set) => JSON.stringify(machineOf(set.machine));

/** The sheet kept of a set; undefined where there is none. `stale`: its nameplate was changed. */
export async function keptSheet(set) {
  const kept = await read('sheets', set.id).catch(() => undefined);
  return kept && { ...kept, stale: kept.plate !== plateOf(set) };
}

/**
 * Fetch a set's sheet anew and keep it.
 * @throws {Trouble} no signal, or the service does not make one
 */
export async function renewSheet(set) {
  const { hours, ...machine } = machineOf(set.machine);
  // What the set is called stays on this phone; the page heads the sheet with it.
  const sheet = await send('POST', '/v1/sheet', { machine });
  const kept = { id: set.id, plate: plateOf(set), sheet, at: new Date().toISOString() };
  // A sheet that finds no room can still be read and printed now.
  await keep('sheets', kept).catch(() => {});
  return { ...kept, stale: false };
}
