// How it ended: outcome, cause, protections. What the steps tell already is proposed.

import { h, refill } from './dom.js';
import { t } from './words.js';
import { betterOf, cureOf, isLeftDefeated, outOfAction, outcomeOf, proposedOutcome } from './ending.js';
import { failuresFor } from './report_body.js';
import { label } from './vocabulary.js';
import { partFinder } from './attempts.js';
import { button, choice, notice, select, tick } from './parts.js';

// A healthy set's readings are no end of a trouble.
const NO_END = new Set(['well']);
const LEFT = ['intact', 'restored', 'untested', 'defeated'];
const MOST_LIKELY = 4;

/** Take what is proposed as said, where nothing else was; only what mends a set is a repair. */
export function settle(it, words) {
  const told = it.report;
  told.outcome ??= proposedOutcome(it.tried, words.protections, told.protection);
  if (told.cause === undefined) told.cause = proposedCause(it, words);
  told.outcome = outcomeOf(told.outcome, it.tried, words.protections, told.protection);
}

const proposedCause = (it, words) => {
  const cure = cureOf(it.tried, words.protections);
  return cure ? { component: cure.component, failure: cure.failure } : null;
};

/** The part of the form; `redraw` after what was tried has changed. */
export function endPart(it, answer, words, save) {
  const told = it.report;
  const box = h('div');
  const warned = h('div', { 'aria-live': 'polite' });
  const cause = h('div');
  draw();
  return Object.assign(box, { redraw: draw });

  function draw() {
    drawCause();
    refill(box, h('h2', null, t('end.title')), outcome(), protections(), warned, cause);
    warn();
  }

  function outcome() {
    const proposed = told.outcome ?? proposedOutcome(it.tried, words.protections, told.protection);
    const options = Object.keys(words.outcomes).filter((code) => !NO_END.has(code)).map((code) => [code, label('outcomes', code)]);
    return choice(t('end.how'), options, proposed, (code) => { told.outcome = code; warn(); save(); });
  }

  function protections() {
    return choice(t('end.protection'), LEFT.map((code) => [code, t(`end.protection-${code}`)]), told.protection, (code) => {
      told.protection = code;
      if (isLeftDefeated(it.tried, words.protections, code) && (told.outcome ?? 'repaired') === 'repaired') {
        told.outcome = 'get-by';
        draw();
        box.querySelector(`input[value="${code}"]`)?.focus();
      }
      warn();
      save();
    });
  }

  /** With a protection out of action it runs for now; nobody may call that a repair. */
  function warn() {
    const out = outOfAction(it.tried, words.protections);
    const defeated = isLeftDefeated(it.tried, words.protections, told.protection);
    refill(warned, !defeated && told.protection === 'untested' && h('p.careful', { role: 'alert' }, t('end.prove')), defeated && h('div.careful', { role: 'alert' }, h('p', null, h('strong', null, t('end.defeated')), ' ',
      told.protection === 'defeated' ? null : t('end.defeated-by', { parts: out.map((code) => label('components', code)).join(', ') })),
    h('p', null, t('end.put-back'))));
  }

  function drawCause(searching = false) {
    const now = told.cause === undefined ? proposedCause(it, words) : told.cause;
    const component = now?.component;
    const pick = (code) => { told.cause = code ? { component: code } : null; drawCause(); cause.querySelector('input, select, button')?.focus(); save(); };
    refill(cause, h('h2', null, t('cause.title')),
      component && !searching ? [failure(component, now), button(t('cause.another'), () => { drawCause(true); cause.querySelector('input')?.focus(); }, 'quiet')]
        : partFinder(t('cause.part'), it.machine, component ?? null, pick),
      seconds(component));
  }

  function failure(component, now) {
    const set = (code) => { told.cause = { component, failure: code || undefined }; save(); };
    const likely = failuresFor(component, answer, words);
    const name = t('cause.failed', { part: label('components', component) });
    const all = Object.keys(words.failures);
    const ordered = [...likely, ...all.filter((code) => !likely.includes(code))].map((code) => [code, label('failures', code)]);
    if (!likely.length || (now.failure && !likely.slice(0, MOST_LIKELY).includes(now.failure))) return select(name, ordered, now.failure, set);
    const rest = select(t('cause.other-way'), ordered.slice(Math.min(likely.length, MOST_LIKELY)), null, set);
    return h('div', null, choice(name, [...likely.slice(0, MOST_LIKELY).map((code) => [code, label('failures', code)]), ['', t('cause.not-seen')]], now.failure ?? '', set), rest);
  }

  function seconds(component) {
    const better = betterOf(it.tried, { component }).filter((code) => code !== component);
    return component && better.map((code) => tick(t('cause.second', { part: label('components', code) }), told.seconds?.[code] ?? false,
      (on) => { told.seconds = { ...told.seconds, [code]: on }; save(); }));
  }
}
