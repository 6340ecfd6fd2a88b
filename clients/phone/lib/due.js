// When a repair is to be looked at again. Pure: the month it is now is an argument.

/** Months after a repair at which its owner is asked whether it held. Common practice. */
export const MARKS = [3, 12];
/** Only what runs can be seen to hold. */
const HOLDS = new Set(['repaired', 'get-by', 'cleared-itself']);
/** After one of these there is nothing left that could hold. */
const ENDED = new Set(['returned', 'superseded']);

/** A month as a number, to count with; NaN for anything else. */
export function monthNumber(text) {
  const found = /^(\d{4})-(0[1-9]|1[0-2])$/.exec(text ?? '');
  return found ? Number(found[1]) * 12 + Number(found[2]) - 1 : NaN;
}

/** The month so many before (or after, if negative) another. */
export function monthBefore(text, months) {
  const n = monthNumber(text) - months;
  return `${Math.floor(n / 12)}-${String((n % 12) + 1).padStart(2, '0')}`;
}

/**
 * At which mark a report is due; null where it is not.
 * @param {{outcome: string, happened?: string, followups?: {happened: string, state: string}[]}} report
 * @param {string} now the month it is, such as 2026-11
 * @returns {3|12|null} the last mark that has passed with no follow-up since
 */
export function markDue(report, now) {
  const repaired = monthNumber(report.happened);
  if (!HOLDS.has(report.outcome) || Number.isNaN(repaired)) return null;
  const seen = report.followups ?? [];
  if (seen.some((one) => ENDED.has(one.state))) return null;
  const passed = MARKS.filter((mark) => monthNumber(now) >= repaired + mark).at(-1);
  if (passed === undefined) return null;
  return seen.some((one) => monthNumber(one.happened) >= repaired + passed) ? null : passed;
}

/**
 * Reports to follow up: those that are due, the longest overdue first; then the others that
 * may still be told of, the newest repair first.
 */
export function sorted(reports, now) {
  const told = reports.map((report) => ({ report, mark: markDue(report, now), since: monthNumber(report.happened) }));
  const overdue = (one) => monthNumber(now) - one.since - one.mark;
  const byId = (a, b) => (a.report.id < b.report.id ? 1 : -1);
  return {
    due: told.filter((one) => one.mark !== null).sort((a, b) => overdue(b) - overdue(a) || byId(a, b)),
    others: told.filter((one) => one.mark === null && HOLDS.has(one.report.outcome))
      .sort((a, b) => (b.since || 0) - (a.since || 0) || byId(a, b)),
  };
}
