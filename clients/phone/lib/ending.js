// How a trouble ended: only what mends a set is a repair. Pure; the same rules as the service's
// and the field command's.

const RAN = new Set(['fixed', 'improved']);

/** Whether doing this to a part can't be a repair: worked round, or a protection left out. */
export const onlyGetsBy = (attempt, protections) =>
  attempt.action === 'bypass' || (attempt.action === 'remove' && protections.includes(attempt.component));

/** The attempt that cured it; undefined where none did, or it only ran for now. */
export const cureOf = (attempts, protections) =>
  attempts.filter((a) => a.result === 'fixed' && !onlyGetsBy(a, protections)).at(-1);

/** Parts that made it better and may be a second fault. */
export function betterOf(attempts, cure) {
  const parts = attempts.filter((a) => a.result === 'improved' && a.component !== cure?.component).map((a) => a.component);
  return [...new Set(parts)];
}

/**
 * Protections the set runs without, as far as the attempts tell. One that was worked on again
 * afterwards, such as replaced, is taken to be back.
 */
export function outOfAction(attempts, protections) {
  const out = new Map();
  for (const a of attempts) {
    if (protections.includes(a.component) && a.action !== 'test') out.set(a.component, onlyGetsBy(a, protections) && RAN.has(a.result));
  }
  return [...out].filter(([, isOut]) => isOut).map(([component]) => component);
}

/** How the attempts say it ended; null where they do not tell. */
export function proposedOutcome(attempts, protections, protection) {
  const last = attempts.at(-1);
  if (last?.result !== 'fixed') return null;
  return outcomeOf('repaired', attempts, protections, protection);
}

/**
 * Whether a protection is left out of action: said so, or by the attempts. That one is back in
 * place overrules them; that none was ever out does not.
 */
export const isLeftDefeated = (attempts, protections, protection) =>
  protection === 'defeated' || ((!protection || protection === 'intact') && outOfAction(attempts, protections).length > 0);

const SAID = {
  intact: { protection: { found: 'intact' } },
  restored: { protection: { found: 'defeated', left: 'proved' } },
  untested: { protection: { found: 'defeated', left: 'untested' } },
  defeated: { protection: { left: 'defeated' }, protection_defeated: true },
};

/** What was said of the protections, as the wire has it. */
export const protectionOf = (said) => SAID[said] ?? {};

/** The outcome as it may be told: what only runs for now, or without a protection, is no repair. */
export function outcomeOf(said, attempts, protections, protection) {
  if (said !== 'repaired') return said;
  const fixed = attempts.filter((a) => a.result === 'fixed').at(-1);
  return (fixed && onlyGetsBy(fixed, protections)) || isLeftDefeated(attempts, protections, protection) ? 'get-by' : said;
}
