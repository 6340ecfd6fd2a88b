// What a reading means, in this language.

import { judge } from './judge.js';
import { inUse, said } from './words.js';
import { spoken } from './parts.js';
import { vocabularyNow } from './vocabulary.js';

/** Judge a reading here, and say in this language what it means. */
export const judgeHere = (reading, machine, limits) => judge(reading, machine, limits, said);

/**
 * What the service says a reading means. In another language it is told by the phone's own rule,
 * but only where that rule comes to the service's very words.
 */
export function meansPart(reading, machine) {
  const limits = vocabularyNow()?.limits;
  if (inUse() === 'en' || !limits || judge(reading, machine, limits).means !== reading.means) return spoken(reading.means);
  return judgeHere(reading, machine, limits).means;
}
