// A report in words, in the order of the trade: what it did, what was measured, what was tried,
// what it was, how it ended, whether it held.

import { h } from './dom.js';
import { codeWord, has, inUse, month, number, t, tn } from './words.js';
import { label, machineLabel, vocabularyNow } from './vocabulary.js';
import { bandFigure } from './figures.js';
import { meansPart } from './means.js';
import { around, minutes, spoken, way } from './parts.js';
import { whoIs } from './api.js';
import { causeName } from './factors.js';

const EXCERPT = 160;

/** A part and what was done to it. */
export const doneWords = (attempt) => t('step.fix', { part: label('components', attempt.component), action: label('actions', attempt.action) });

// The pool is kept in English, so what others wrote is read aloud as English; one's own words are
// in whatever language this phone speaks.
const others = (text, report) =>
  (inUse() === 'en' || (report.contributor && report.contributor === whoIs()?.contributor) ? text : h('span', { lang: 'en' }, text));

/** What somebody wrote, in quotation marks. */
const quoted = (text, report) => around('quote', 'text', others(text, report));

const causesOf = (report) => (report.cause ? [report.cause] : report.causes ?? []);

/** The first letter large, as a sentence begins. */
export const sentence = (text) => text.slice(0, 1).toLocaleUpperCase(inUse()) + text.slice(1);

/** What a report is about, in a few words: its cause, else its first sign, else how it ended. */
export const reportTitle = (report) => sentence(causesOf(report).map(causeName)[0]
  ?? (report.symptoms ?? []).map((code) => label('symptoms', code))[0] ?? label('outcomes', report.outcome));

const SHAPES = { repaired: '✓', 'get-by': '⚠', 'not-repaired': '✗', retired: '✗' };

/** How it ended, with a shape before the words. */
export const endWords = (report) => `${SHAPES[report.outcome] ?? '·'} ${sentence(label('outcomes', report.outcome))}.`;

// A list has room for what tells one set from another, no more.
const shortPlate = ({ make, model, rated_kva: size, fuel }) =>
  [[make, model].filter(Boolean).join(' '), size && `${number(size)} kVA`, fuel && machineLabel('fuel', fuel)].filter(Boolean).join(', ');

/** A report in a list: what it was, what it did, on which set, when. */
export function reportCard(report) {
  const said = report.complaint ?? '';
  const short = said.length > EXCERPT ? `${said.slice(0, said.lastIndexOf(' ', EXCERPT))} …` : said;
  return h('li.card', null, h('h3', null, h('a', { href: `#/look/${report.id}` }, reportTitle(report))),
    h('p', null, endWords(report)),
    short && h('p', null, quoted(short, report)),
    h('p.soft', null, [shortPlate(report.machine), report.happened && month(report.happened)].filter(Boolean).join('; ')));
}

/** What it did, in the member's words and in the trade's, and what came before. */
export function didPart(report) {
  return h('section', null, h('h2', null, t('shown.did')),
    report.complaint && h('p', null, quoted(report.complaint, report)),
    report.symptoms?.length > 0 && h('ul', null, report.symptoms.map((code) => h('li', null, sentence(label('symptoms', code))))),
    report.before?.length > 0 && h('p', null, t('shown.before', { what: report.before.map((code) => label('before', code)).join(', ') })));
}

/** Where and how a reading was taken, in words. */
export function readingName(r) {
  const both = codeWord('reading_names', `${r.quantity}@${r.point}`) ?? (inUse() === 'en' ? vocabularyNow()?.readings?.[r.quantity]?.names?.[r.point] : null);
  const where = both ? [both] : [label('readings', r.quantity), r.point && label('points', r.point)];
  return sentence([...where, r.which && String(r.which), r.condition && label('conditions', r.condition)].filter(Boolean).join(', '));
}

/** Readings on their bands, as found and as left. */
export function measuredPart(report) {
  const looks = report.observations ?? [];
  if (!report.readings?.length && !looks.length) return null;
  const checks = vocabularyNow()?.checks;
  return h('section', null, h('h2', null, t('shown.measured')),
    (report.readings ?? []).map((r) => h('div.card', null,
      bandFigure(r, [readingName(r), r.stage === 'left' && t('shown.as-left')].filter(Boolean).join(', ')),
      h('p', null, h('span.verdict', null, t(`verdict.${r.verdict ?? 'unjudged'}`)), ' ', meansPart(r, report.machine)))),
    looks.length > 0 && h('ul', null, looks.map((o) => h('li', null, h('strong', null, spoken(checks?.[o.check]?.label ?? label('checks', o.check))), ': ',
      spoken(checks?.[o.check]?.found?.[o.found] ?? label('found', o.found)), o.which && ` (${o.which})`))));
}

/** What was tried, in order, each with what came of it. */
export function triedPart(report) {
  if (!report.attempts?.length) return null;
  const facts = (a) => [a.failure && t('shown.found-failure', { what: label('failures', a.failure) }), a.part && around('shown.part', 'what', others(a.part, report)),
    a.fits && t('shown.fits', { what: a.fits }), a.part_from && t(`shown.part-${a.part_from}`),
    a.minutes !== undefined && minutes(a.minutes), a.cost !== undefined && t('shown.cost', { n: number(a.cost) }),
    a.wait_days > 0 && tn('shown.waited', a.wait_days), a.done_by === 'workshop' && t('shown.workshop'), a.with_next && t('shown.with-next')].filter(Boolean);
  return h('section', null, h('h2', null, t('shown.tried')), h('ol', null, report.attempts.map((a) => h('li', null,
    h('strong', null, sentence(doneWords(a))), ': ', label('results', a.result), '.', facts(a).length > 0 && h('p.soft', null, facts(a).flatMap((fact, i) => (i ? ['; ', fact] : [fact])), '.')))));
}

/** What it was, how it ended, and how its protections were found and left. */
export function endPart(report) {
  const causes = causesOf(report);
  const guard = report.protection;
  const left = guard?.left ?? (report.protection_defeated ? 'defeated' : null);
  const rows = [
    ...causes.map((c) => [t(c.role && has(`shown.role-${c.role}`) ? `shown.role-${c.role}` : 'shown.cause'), causeName(c)]),
    [t('shown.outcome'), label('outcomes', report.outcome)],
    guard?.found && [t('shown.guard-found'), t(`shown.guard-${guard.found}`)],
    left && [t('shown.guard-left'), t(`shown.guard-${left}`)],
    report.happened && [t('shown.when'), month(report.happened)],
    report.region && [t('shown.region'), report.region],
  ].filter(Boolean);
  return h('section', null, h('h2', null, t('shown.ended')), h('dl', null, rows.map(([name, says]) => [h('dt', null, name), h('dd', null, sentence(says))])),
    report.note && h('p', null, quoted(report.note, report)),
    report.continues && way(t('shown.continues'), `/look/${report.continues}`, 'quiet'));
}

/** What was seen of it later. */
export function sincePart(report) {
  const looks = report.followups ?? [];
  if (!looks.length) return null;
  const when = (f) => (f.happened ? month(f.happened) : f.months_after !== undefined && f.months_after !== null ? tn('shown.months-after', f.months_after) : '');
  return h('section', null, h('h2', null, t('shown.since')), h('ul', null, looks.map((f) => h('li', null, h('strong', null, sentence(label('states', f.state))),
    when(f) && `, ${when(f)}`, f.hours_run !== undefined && f.hours_run !== null && `, ${tn('shown.hours-run', f.hours_run)}`, '.', f.note && h('p', null, quoted(f.note, report))))));
}

/** The cautions of a report and of what was seen later, each once. */
export function cautionsOf(report) {
  const all = [report, ...(report.followups ?? [])].flatMap((one) => one.cautions ?? []);
  return all.filter((c, i) => all.findIndex((other) => other.says === c.says) === i);
}
