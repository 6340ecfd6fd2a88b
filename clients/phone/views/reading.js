// Take a reading: which one is offered for this kind of set, the figure by number pad, and what
// it says at once, signal or not.

import { h, refill } from '../lib/dom.js';
import { notTaken, t, typed } from '../lib/words.js';
import { go } from '../lib/route.js';
import { keepWalk, walk } from '../lib/question.js';
import { admits, cautionsOf, label, vocabulary } from '../lib/vocabulary.js';
import { judgeHere } from '../lib/means.js';
import { bandFigure } from '../lib/figures.js';
import { button, cautions, choice, figure, notice, select, spoken, tick, under, way, whileBusy } from '../lib/parts.js';

/** Make the view. `quantity`, `point`, `condition` come along where a step asks for them. */
export async function show({ id, quantity, point, condition, back, stage }) {
  const it = await walk(id);
  const words = await vocabulary();
  if (!it || !words) return h('div', null, h('h1', null, t('reading.title')), notice(t(it ? 'needs-vocabulary' : 'gone'), 'bad'));
  const to = { answer: `/answer/${id}?fresh=1`, report: `/report/${id}` }[back] ?? `/ask/${id}`;
  if (!quantity) return offers(it, words, back, stage);
  return taking(it, words, { quantity, point, condition, stage }, to, back);
}

const FIRST = 10; // those every fault sheet asks for

function offers(it, words, back, stage) {
  const to = (r) => `/ask/${it.id}/reading?${new URLSearchParams({ ...Object.fromEntries(Object.entries(r).filter(([k, v]) => v && k !== 'says' && k !== 'only')), ...(back ? { back } : {}), ...(stage ? { stage } : {}) })}`;
  const fitting = words.offer.filter((one) => admits(one.only, it.machine));
  const link = (one) => way(one.says ? spoken(one.says) : [label('readings', one.quantity), label('points', one.point)].join(', '),
    to({ quantity: one.quantity, point: one.point, condition: one.condition }));
  return h('div', null, h('h1', null, t('reading.which')), h('p.careful', null, t('reading.safe')),
    fitting.slice(0, FIRST).map(link), under(t('reading.more'), fitting.slice(FIRST).map(link)),
    under(t('reading.other'), Object.keys(words.readings).map((quantity) => way(label('readings', quantity), to({ quantity }), 'quiet'))));
}

function taking(it, words, given, to, back) {
  const about = words.readings[given.quantity] ?? { unit: '', points: [], conditions: [] };
  const points = about.points ?? [];
  const reading = {
    quantity: given.quantity, point: given.point ?? points[0], condition: given.condition || undefined, stage: given.stage || undefined,
  };
  const unit = about.unit === '1' ? '' : about.unit;
  const said = h('div', { 'aria-live': 'polite' });
  const value = figure(t('reading.value'), unit, { enterkeyhint: 'done', oninput: () => tell() });
  const least = figure(t('reading.min'), unit, { oninput: () => tell() });
  const most = figure(t('reading.max'), unit, { oninput: () => tell() });
  let over = false;

  function collected() {
    const made = { ...reading, value: typed(value.input.value), unit: about.unit };
    if (over) made.sign = 'over';
    for (const [name, box] of [['min', least], ['max', most]]) {
      if (box.input.value.trim() !== '') made[name] = typed(box.input.value);
    }
    return Object.fromEntries(Object.entries(made).filter(([, v]) => v !== undefined && v !== ''));
  }
  function tell() {
    const made = collected();
    // A least or most that is half typed says nothing yet, and hides nothing.
    for (const name of ['min', 'max']) if (Number.isNaN(made[name])) delete made[name];
    if (Number.isNaN(made.value)) { refill(said); return; }
    const judged = judgeHere(made, it.machine, words.limits);
    refill(said, judged && h('div', null, cautions(cautionsOf(judged.danger, it.machine)), bandFigure({ ...made, ...judged }, label('readings', made.quantity)),
      h('p', null, h('span.verdict', null, t(`verdict.${judged.verdict}`)), ' ', judged.means)));
  }
  const keepIt = whileBusy(async () => {
    const made = collected();
    const wrong = [['value', value], ['min', least], ['max', most]].find(([name]) => Number.isNaN(made[name]));
    if (wrong) {
      const [name, box] = wrong;
      const empty = over && name === 'value' && box.input.value.trim() === '';
      refill(said, notice(empty ? t('reading.range-needed') : notTaken(box.input.value, t(`reading.${name}`)), 'bad'));
      box.input.focus();
      return;
    }
    it.readings = [...it.readings, made];
    await keepWalk(it).catch(() => {}); // without room it is in mind, and the answer says so
    go(to);
  });
  const conditions = (about.conditions?.length ? about.conditions : Object.keys(words.conditions ?? {})).map((c) => [c, label('conditions', c)]);
  return h('form', { onsubmit: (e) => { e.preventDefault(); keepIt({ currentTarget: e.target.querySelector('button.main') }); } },
    h('h1', null, label('readings', given.quantity)),
    points.length > 1 && !given.point
      ? choice(t('reading.where'), points.map((p) => [p, label('points', p)]), reading.point, (p) => { reading.point = p; tell(); })
      : h('p', null, [label('points', reading.point), reading.condition && label('conditions', reading.condition)].filter(Boolean).join(', ')),
    value, about.open_line && tick(t('reading.over'), false, (on) => {
      over = on;
      value.querySelector('label').textContent = t(on ? 'reading.range' : 'reading.value');
      tell();
    }),
    said,
    !given.condition && conditions.length > 0 && select(t('reading.condition'), conditions, reading.condition, (c) => { reading.condition = c || undefined; tell(); }),
    under(t('reading.moved'), least, most),
    h('button.main', { type: 'submit' }, t(back === 'answer' ? 'reading.keep-ask' : 'reading.keep')),
    button(t('cancel'), () => go(to.replace('?fresh=1', '')), 'quiet'));
}

