// The nameplate: its fields, and a line of it in words.

import { number, t } from './words.js';
import { machineLabel } from './vocabulary.js';

/** Fields that are a choice, in the order they are asked for. */
export const KINDS = ['fuel', 'excitation', 'phases', 'cooling', 'starting', 'duty'];
/** Choices that are asked for only by who wants to tell more. */
export const MORE_KINDS = ['drive', 'control', 'governor'];
/** Figures with their unit. */
export const FIGURES = [['rated_kva', 'kVA'], ['rated_kw', 'kW'], ['rated_volts', 'V'], ['rated_hz', 'Hz'], ['rated_rpm', 'rpm']];
/** Figures that are not always on the plate. */
export const MORE_FIGURES = [['start_volts', 'V'], ['hours', 'h'], ['altitude_m', 'm']];
const WHOLE = new Set(['phases']);

/** A choice as the wire has it: phases are a number. */
export const wireValue = (name, code) => (code === '' ? null : WHOLE.has(name) ? Number(code) : code);

/** The nameplate in a line. */
export function plateLine(machine) {
  const parts = [machine.make, machine.model].filter(Boolean);
  for (const [name, unit] of FIGURES) if (machine[name]) parts.push(`${number(machine[name])} ${unit}`);
  if (machine.phases) parts.push(t('plate.phases', { n: machine.phases }));
  for (const name of ['fuel', 'excitation', 'cooling', 'starting', 'duty']) {
    if (machine[name] && machine[name] !== 'not-known') parts.push(machineLabel(name, machine[name]));
  }
  return parts.join(', ') || t('plate.nothing');
}
