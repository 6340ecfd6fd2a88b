// "Do this next": one step, with a button for each result it can have.

import { h } from './dom.js';
import { inUse, said, t } from './words.js';
import { cureOf, isLeftDefeated } from './ending.js';
import { saw } from './question.js';
import { label, partWords, vocabularyNow } from './vocabulary.js';
import { button, minutes, notice, spoken, under, way } from './parts.js';

const key = (step) => [step.do, step.check, step.component, step.action].filter(Boolean).join('/');
const RESULTS = ['fixed', 'improved', 'no-change', 'worse', 'found-good', 'part-no-good', 'could-not-tell'];

/** The first step of the plan that was not put off; `act` does a change, once, and asks again. */
export function nextStep(it, answer, act) {
  const plan = answer.plan ?? [];
  const first = plan.filter((step) => step.do === 'safe');
  const left = plan.filter((step) => step.do !== 'safe');
  const step = left.find((one) => !(it.skipped ?? []).includes(key(one))) ?? left[left.length - 1];
  if (!step) return null;
  const off = () => act(() => { it.skipped = [...(it.skipped ?? []), key(step)]; });
  const fixed = it.tried.some((a) => a.result === 'fixed');
  return [
    first.map((one) => h('section.careful', null, h('h2', null, t('step.first')), h('p', null, spoken(one.says)), one.how && h('p', null, spoken(one.how)))),
    h('section.next', { 'aria-label': t('step.next') },
      h('h2', null, t('step.next')), h('p', null, h('strong', null, heading(step))),
      step.how && h('p.how', null, spoken(step.how)),
      step.expect && h('p', null, h('strong', null, t('step.expect')), ' ', spoken(step.expect)),
      facts(step),
      step.do === 'test' && testResults(it, step, act),
      step.do === 'fix' && fixResults(it, step, act),
      (step.do === 'call' || fixed) && way(t('answer.report'), `/report/${it.id}`),
      step.do !== 'call' && left.length > 1 && button(t('step.not-now'), off, 'quiet'),
      step.or_else && h('p.soft', null, spoken(step.or_else))),
    done(it, act),
  ];
}

function heading(step) {
  if (step.do === 'test') return spoken(vocabularyNow()?.checks?.[step.check]?.label ?? step.says);
  if (step.do === 'fix') return t('step.fix', { part: label('components', step.component), action: label('actions', step.action) });
  return spoken(step.says, partWords(step.component));
}

function facts(step) {
  const told = [];
  if (step.minutes !== null && step.minutes !== undefined) told.push(t('step.takes', { time: minutes(step.minutes) }));
  if (step.saves) told.push(t('step.saves', { time: minutes(step.saves) }));
  if (step.wait) told.push(t('step.wait', { time: minutes(step.wait) }));
  if (step.opens) told.push(t('step.opens', { what: label('openings', step.opens) }));
  if (step.chance >= 0.05) told.push(t('step.chance', { n: Math.max(1, Math.round(step.chance * 10)) }));
  return h('div', null, told.length > 0 && h('p.soft', null, told.join(' ')), step.do === 'fix' && inUse() === 'en' && h('p.soft', null, step.says));
}

function testResults(it, step, act) {
  const check = vocabularyNow()?.checks?.[step.check];
  const reading = check?.reading;
  const measure = reading && way(t('step.measure'), `/ask/${it.id}/reading?${new URLSearchParams({
    quantity: reading.quantity, point: reading.point ?? '', condition: reading.condition ?? '', back: 'answer' })}`, 'main');
  return h('div', null, measure, h('h3', null, t(reading ? 'step.or-tap' : 'step.found')),
    // The short word is enough to tap; what it means is in the plan that comes of it.
    (step.results ?? []).map(([code, says]) => button(spoken(check?.found?.[code] ?? says), () => act(() => saw(it, step.check, code)))));
}

function fixResults(it, step, act) {
  const results = RESULTS.filter((code) => code !== 'part-no-good' || step.action === 'replace');
  return h('div', null, h('h3', null, t('step.came')), results.map((code) => button(label('results', code), () => act(() => {
    it.tried = [...it.tried, { component: step.component, action: step.action, result: code }];
  }))));
}

function done(it, act) {
  const looks = it.observations.map((o, i) => [t('done.saw', {
    check: said(vocabularyNow()?.checks?.[o.check]?.label ?? o.check), found: said(vocabularyNow()?.checks?.[o.check]?.found?.[o.found] ?? o.found),
  }), 'observations', i]);
  const tried = it.tried.map((a, i) => [t('done.tried', {
    part: label('components', a.component), action: label('actions', a.action), result: label('results', a.result),
  }), 'tried', i]);
  const all = [...looks, ...tried];
  if (!all.length) return null;
  return h('section', null, itRuns(it),
    under(t('done.title', { n: all.length }), h('ul.plain', null, all.map(([text, kind, i]) => h('li', null, text, ' ',
      button(t('done.undo'), () => act(() => { it[kind] = it[kind].filter((_, place) => place !== i); }), 'quiet'))))));
}

// What only gets it by, or leaves a protection out, is never told as mended.
function itRuns(it) {
  if (!it.tried.some((a) => a.result === 'fixed')) return null;
  const protections = vocabularyNow()?.protections ?? [];
  const mended = cureOf(it.tried, protections) && !isLeftDefeated(it.tried, protections, null);
  return mended ? notice(t('done.fixed'), 'good') : h('div.careful', { role: 'status' }, h('p', null, t('end.defeated')), h('p', null, t('end.put-back')));
}
