// What stands below the next step: readings on their bands, causes, fixes, reports like it.

import { h } from './dom.js';
import { has, number, t, tn } from './words.js';
import { label, partWords } from './vocabulary.js';
import { bandFigure, rangesFigure } from './figures.js';
import { meansPart } from './means.js';
import { around, cautions, minutes, notice, spoken, under, way } from './parts.js';
import { causeName, causeWords, factorWords } from './factors.js';

const SHOWN = 5;

/** A part of ten in words: never a bare percentage. */
const ofTen = (share) => (share < 0.05 ? t('share.little') : t('share.of-ten', { n: Math.round(share * 10) }));

/** Each reading on its band, then what they say together. */
export function readingsPart(answer, machine) {
  if (!answer.readings?.length) return null;
  return h('section', null, h('h2', null, t('answer.readings')),
    answer.readings.map((r) => h('div.card', null, bandFigure(r, [label('readings', r.quantity), label('points', r.point)].filter(Boolean).join(', ')),
      h('p', null, h('span.verdict', null, t(`verdict.${r.verdict}`)), ' ', meansPart(r, machine)),
      (r.compared ?? []).map((c) => h('p.soft', null, spoken(c.says))))),
    (answer.together ?? []).map((p) => notice(spoken(p.says))));
}

/** Causes, the likeliest first, with what speaks for and against each. */
export function causesPart(answer) {
  const causes = (answer.causes ?? []).filter((c) => c.component !== null);
  const other = (answer.causes ?? []).find((c) => c.component === null);
  if (!causes.length) return null;
  const one = (c) => h('li', null, h('strong', null, causeName(c)), `: ${ofTen(c.probability)}. `,
    c.catalogue_share > 0.5 && h('small', null, t('cause.guess'), ' '),
    c.factors?.length > 0 && under(t('cause.why'), h('ul', null, c.factors.map((f) => h('li', null,
      around(f.times >= 1 ? 'cause.for' : 'cause.against', 'of', factorWords(f.of), { times: number(f.times >= 1 ? f.times : 1 / f.times, 1) }))))));
  return h('section', null, h('h2', null, t('answer.causes')), h('ol', null, causes.slice(0, SHOWN).map(one)),
    causes.length > SHOWN && under(tn('answer.more-causes', causes.length - SHOWN), h('ol', { start: SHOWN + 1 }, causes.slice(SHOWN).map(one))),
    other && h('p', null, t('cause.other', { share: ofTen(other.probability) })));
}

/** Fixes with plain counts, people and range. */
export function fixesPart(answer) {
  const fixes = answer.fixes ?? [];
  if (!fixes.length) return null;
  const name = (f) => t('step.fix', { part: label('components', f.component), action: label('actions', f.action) });
  const tried = fixes.filter((f) => f.tried > 0);
  return h('section', null, h('h2', null, t('answer.fixes')),
    tried.length > 0 && rangesFigure(tried.map((f) => ({ name: name(f), low: f.low, high: f.high, rate: f.rate, of: f.tried, hits: f.fixed, people: f.people })), t('answer.fixes')),
    h('ol', null, fixes.slice(0, SHOWN).map((f) => h('li', null, h('strong', null, name(f)), '. ', fixWords(f), ' ',
      h('small', null, [f.minutes && t('step.takes', { time: minutes(f.minutes) }), f.cost && t('fix.cost', { n: f.cost })].filter(Boolean).join(' ')),
      f.holding_12_months && h('p.soft', null, heldWords(f.holding_12_months)),
      f.reports?.length > 0 && under(tn('fix.reports', f.reports.length), f.reports.map((id, i) => way(t('fix.report', { n: i + 1 }), `/look/${id}`, 'quiet')))))));
}

/** A fix in words of this language: counts first, then the range. */
function fixWords(f) {
  if (!has('fix.worked.other') || f.tried === 0 || f.low === null) return spoken(f.says);
  return `${tn('fix.worked', f.tried, { fixed: f.fixed })} ${tn('fix.people', f.people)} ${t('fix.range', { low: Math.round(f.low * 100), high: Math.round(f.high * 100) })}`;
}

function heldWords(held) {
  if (!held.followed) return t('holding.nobody');
  if (held.share === null) return spoken(held.says);
  const [share, low, high] = [held.share, held.low, held.high].map((part) => Math.round(part * 100));
  return t('holding.year', { share, low, high });
}

const listed = (parts) => parts.flatMap((part, i) => (i ? [', ', part] : [part]));

/** Past reports like this one, with why. */
export function similarPart(answer) {
  const similar = answer.similar ?? [];
  if (!similar.length) return null;
  return h('section', null, h('h2', null, t('answer.similar')), h('ul.plain', null, similar.map((r) => h('li.card', null,
    h('p', null, h('strong', null, label('outcomes', r.outcome)), r.cause && `: ${causeWords(r.cause)}`),
    h('p.soft', null, around('similar.because', 'why', listed(r.because.map(factorWords)))),
    cautions(r.cautions, t('cautions.of-report')),
    way(t('similar.open'), `/look/${r.report}`, 'quiet')))));
}

/** The steps behind the next one. */
export function stepsPart(answer) {
  const plan = (answer.plan ?? []).filter((s) => s.do !== 'safe').slice(1);
  return plan.length > 0 && under(tn('answer.steps', plan.length), h('ol', { start: 2 }, plan.map((step) => h('li', null, spoken(step.says)))));
}

/** Get-bys, behind a plain warning. */
export function getBysPart(answer) {
  const list = answer.get_bys ?? [];
  if (!list.length) return null;
  return h('details.careful', null, h('summary', null, t('get-by.title')), h('p', null, t('get-by.warn')),
    list.map((g) => h('div', null, h('h3', null, t('step.fix', { part: label('components', g.component), action: label('actions', g.action) })),
      h('p', null, tn('get-by.worked', g.tried, { worked: g.worked })),
      h('p', null, h('strong', null, t('get-by.risk')), ' ', spoken(g.risk)),
      h('p', null, h('strong', null, t('get-by.limit')), ' ', spoken(g.time_limit)),
      h('p', null, h('strong', null, t('get-by.restore')), ' ', spoken(g.restore, partWords(g.component))))));
}

