// The fault sheet of a set: read here without a signal, printed on two sides of one paper.

import { h, refill } from '../lib/dom.js';
import { codeWord, inUse, t, time } from '../lib/words.js';
import { read } from '../lib/keep.js';
import { plateLine } from '../lib/plate.js';
import { go } from '../lib/route.js';
import { button, notice, spoken, troubleBox, unitWord, way } from '../lib/parts.js';
import { vocabulary } from '../lib/vocabulary.js';
import { bandWords, fromWords, oftenWords, stepWords } from '../lib/sheet_words.js';
import { keptSheet, renewSheet } from '../lib/sheets.js';

/** Make the view: the sheet as kept is shown at once and made anew where there is a signal. */
export async function show({ id }) {
  const set = await read('sets', id).catch(() => undefined);
  if (!set) return h('div', null, h('h1', null, t('sheet.title')), notice(t('gone'), 'bad'), way(t('place.sets'), '/sets'));
  await vocabulary();
  const box = h('div', null);
  // The styles of paper go with the view: on other views they would be in the way.
  const view = h('div', null, h('link', { rel: 'stylesheet', href: '/page/print.css', media: 'print' }), box);
  const kept = await keptSheet(set);
  if (kept) draw(box, set, kept);
  const renewed = renewSheet(set).then((fresh) => {
    // Somebody may be reading: what is the same stays where it is.
    if (!kept || kept.stale || JSON.stringify(kept.sheet) !== JSON.stringify(fresh.sheet)) draw(box, set, fresh);
  }, (trouble) => { if (!kept) drawTrouble(box, set, trouble); });
  if (!kept) await renewed;
  return view;
}

function drawTrouble(box, set, trouble) {
  refill(box, h('h1', null, t('sheet.of', { name: set.name })), troubleBox(trouble, () => go(`/sheet/${set.id}`)),
    trouble.kind === 'offline' && h('p', null, t('sheet.not-kept')), way(set.name, `/sets/${set.id}`));
}

function draw(box, set, { sheet, at, stale }) {
  refill(box, h('h1', null, t('sheet.of', { name: set.name })),
    h('div.screen', null, button(t('sheet.print'), () => print(), 'main'), h('p.hint', null, t('sheet.print-hint')),
      h('p.hint', null, t('sheet.kept', { when: time(at) })), stale && notice(t('sheet.stale'))),
    h('div.sheet', null, front(sheet, set), back(sheet, set.name)),
    h('div.screen', null, way(set.name, `/sets/${set.id}`)));
}

function front(sheet, set) {
  return [h('p', null, `${inUse() === 'en' ? sheet.plate : plateLine(set.machine)}.`),
    h('h2', null, t('sheet.safe')), h('ul', null, sheet.cautions.map((says) => h('li', null, spoken(says)))),
    h('p', null, h('strong', null, t('sheet.first')), ' ', spoken(sheet.walk_round)),
    h('div.two', null, sheet.complaints.map(complaint)),
    h('p', null, h('strong', null, spoken(sheet.words.call))),
    h('h2', null, t('sheet.good')), h('div.two.slide.good-values', { tabindex: '0', role: 'group', 'aria-label': t('sheet.good') }, h('table', null, h('tbody', null, sheet.good.map((g) => h('tr', null,
      h('th', { scope: 'row' }, g.letter), h('td', null, spoken(g.says)), h('td.band', null, h('strong', null, banded(g)))))))),
    h('p.soft.from', null, fromWords(sheet))];
}

const banded = (good) => `${bandWords(good.band)} ${unitWord(good.unit)}`.trim();

function complaint(one) {
  return h('section', null, h('h3', null, `${one.letters} ${codeWord('symptoms', one.code) ?? one.says}`), one.safe.map((says) => h('p', null, h('strong', null, t('sheet.before')), ' ', spoken(says))),
    h('ol', null, one.steps.map((says) => h('li', null, stepWords(says)))), one.often.length > 0 && h('p', null, h('em', null, t('sheet.often', { what: one.often.map(oftenWords).join('; ') }))));
}

// The form is filled in by pencil where no phone works; on the screen it would be in the way.
function back(sheet, name) {
  const form = sheet.form;
  const half = Math.ceil(sheet.good.length / 2);
  const readings = (some) => blanks(some.map((g) => `${g.letter} ${unitWord(g.unit)}`.trim()));
  const tried = [t('sheet.part'), t('sheet.done'), t('sheet.result'), t('sheet.minutes')];
  return h('div.paper.back', null, h('h1', null, t('sheet.form', { name })), h('p', null, t('sheet.key-in'), ' ', spoken(sheet.words.key_in)),
    h('h2', null, t('sheet.did')), blanks([t('sheet.letters'), t('sheet.letters'), t('sheet.letters'), t('sheet.words')]), lists(form.complaints, 'symptoms'),
    h('h2', null, t('sheet.read')), readings(sheet.good.slice(0, half)), readings(sheet.good.slice(half)),
    h('h2', null, t('sheet.tried')), blanks([...tried, ...tried], sheet.attempt_lines), lists(form.parts, 'components'), lists(form.actions, 'actions'), lists(form.results, 'results'),
    h('h2', null, t('sheet.ended')), blanks([t('sheet.end'), t('sheet.fault'), t('sheet.left-out'), t('sheet.month'), t('sheet.year')]), lists(form.outcomes, 'outcomes'));
}

const blanks = (heads, lines = 1) => h('table', null, h('thead', null, h('tr', null, heads.map((text) => h('th', { scope: 'col' }, text)))),
  h('tbody', null, Array.from({ length: lines }, () => h('tr', null, heads.map(() => h('td.blank', null))))));

const lists = (choices, kind) => h(`div.lists.${kind}`, null, choices.map((c) => h('p', null, h('strong', null, c.letters), ` ${codeWord(kind, c.code) ?? c.says}`)));
