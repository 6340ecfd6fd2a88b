// A choice of months in words: no telephone writes a month like another.

import { monthBefore } from './due.js';
import { month, t, thisMonth } from './words.js';
import { select } from './parts.js';

/**
 * A choice of the month something happened, this one first.
 * @param {string} label
 * @param {string} chosen such as 2026-11; '' for none
 * @param {(month: string) => void} onpick
 * @param {number} back how many months there are to choose from
 */
export function monthField(label, chosen, onpick, back = 60) {
  const months = Array.from({ length: back }, (_, i) => monthBefore(thisMonth(), i));
  if (chosen && !months.includes(chosen)) months.push(chosen);
  return select(label, months.map((one) => [one, one === thisMonth() ? t('month.this', { month: month(one) }) : month(one)]), chosen, onpick);
}
