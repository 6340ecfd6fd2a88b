// What was tried, one thing after the other: to look through, to add to, to put right.

import { h, refill } from './dom.js';
import { notTaken, t, typed } from './words.js';
import { findComponents, label } from './vocabulary.js';
import { button, choice, field, figure, notice, select, under } from './parts.js';

const FIGURES = [['minutes', 'min', 100000], ['cost', '', 10000000]];

/**
 * A field that finds parts by the words one has for them.
 * @param {string} text its label
 * @param {object} machine what a set like it can't have is not offered
 * @param {string|null} chosen a code
 * @param {(code: string|null) => void} onpick
 */
export function partFinder(text, machine, chosen, onpick) {
  const chips = h('ul.chips', { 'aria-label': t('part.which') });
  let picked = chosen;
  const box = field(text, { maxlength: 60, oninput: () => draw() }, t('part.hint'));
  function draw() {
    const found = findComponents(box.input.value, machine, 8).filter((code) => code !== picked);
    refill(chips, (picked ? [picked, ...found] : found).map((code) => h('li', null,
      h('button', { type: 'button', 'aria-pressed': String(code === picked), onclick: () => pick(code) }, label('components', code)))));
  }
  function pick(code) {
    picked = picked === code ? null : code;
    if (picked) box.input.value = '';
    draw();
    chips.querySelector('button')?.focus();
    onpick(picked);
  }
  draw();
  return Object.assign(h('div', null, box, chips), { input: box.input });
}

/** An attempt in a line. */
export const attemptLine = (a) => [t('done.tried', { part: label('components', a.component), action: label('actions', a.action), result: label('results', a.result) }),
  a.part, a.minutes !== undefined && t('minutes', { n: a.minutes })].filter(Boolean).join(' ');

/**
 * The list of what was tried.
 * @param {object} it a walk; its `tried` is changed
 * @param {object} words the vocabulary
 * @param {() => void} changed called after each change
 */
export function attemptsPart(it, words, changed) {
  const box = h('div');
  draw();
  return box;

  function draw(editing = null) {
    refill(box, h('h2', null, t('report.tried')), h('p.hint', null, t('report.tried-hint')),
      h('ol', null, it.tried.map((one, i) => h('li', null, editing === i ? editor(one, i) : [h('span', null, attemptLine(one)), ' ',
        h('span.beside', null, button(t('report.more-of-it'), () => draw(i), 'quiet'), button(t('remove'), () => { it.tried = it.tried.filter((_, k) => k !== i); done(); }, 'quiet'))]))),
      editing === 'new' ? editor(null, it.tried.length) : button(t('report.add-attempt'), () => draw('new')));
    if (editing !== null) box.querySelector('.attempt input, .attempt select')?.focus();
  }
  function done() {
    draw();
    changed();
    [...box.querySelectorAll('button')].at(-1).focus();
  }
  function editor(one, place) {
    const made = { ...one };
    const said = h('div');
    const options = (kind) => Object.keys(words[kind]).map((code) => [code, label(kind, code)]);
    const figures = FIGURES.map(([name, unit]) => [name, figure(t(`attempt.${name}`), unit, { value: made[name] ?? '' })]);
    const part = field(t('attempt.part'), { value: made.part ?? '', maxlength: 120 }, t('attempt.part-hint'));
    const keepIt = () => {
      const wrong = figures.find(([name, f]) => f.input.value.trim() !== '' && !(typed(f.input.value) >= 0 && typed(f.input.value) <= FIGURES.find(([n]) => n === name)[2]));
      if (!made.component || !made.action || !made.result || wrong) {
        refill(said, notice(wrong ? notTaken(wrong[1].input.value, t(`attempt.${wrong[0]}`)) : t('attempt.needs'), 'bad'));
        wrong?.[1].input.focus();
        return;
      }
      for (const [name, f] of figures) made[name] = f.input.value.trim() === '' ? undefined : typed(f.input.value);
      made.part = part.input.value.trim() || undefined;
      const clean = Object.fromEntries(Object.entries(made).filter(([, v]) => v !== undefined && v !== ''));
      it.tried = [...it.tried.slice(0, place), clean, ...it.tried.slice(place + 1)];
      done();
    };
    return h('fieldset.attempt.card', null, h('legend', null, t(one ? 'attempt.change' : 'attempt.new')),
      partFinder(t('attempt.component'), it.machine, made.component ?? null, (code) => { made.component = code ?? undefined; }),
      select(t('attempt.action'), options('actions'), made.action, (code) => { made.action = code; }),
      choice(t('attempt.result'), options('results'), made.result, (code) => { made.result = code; }),
      under(t('attempt.more'), select(t('attempt.failure'), options('failures'), made.failure, (code) => { made.failure = code || undefined; }), part, figures.map(([, f]) => f), h('p.hint', null, t('attempt.cost-hint'))),
      said, button(t('attempt.keep'), keepIt, 'main'), button(t('cancel'), () => { draw(); [...box.querySelectorAll('button')].at(-1).focus(); }, 'quiet'));
  }
}

