// What fails on sets like one of mine, or on a kind of set: counts first.

import { h, refill } from '../lib/dom.js';
import { t, tn } from '../lib/words.js';
import { get } from '../lib/api.js';
import { all } from '../lib/keep.js';
import { machineOf } from '../lib/question.js';
import { machineLabel, vocabulary } from '../lib/vocabulary.js';
import { notice, select, troubleBox, under, way } from '../lib/parts.js';
import { causeName } from '../lib/factors.js';
import { sentence } from '../lib/report_parts.js';
import { rangesFigure } from '../lib/figures.js';
import { yearFigure } from '../lib/figures_time.js';

const KINDS = ['fuel', 'excitation', 'cooling'];
const SHOWN = 10;
const FEW = 5;
const OVER_THE_YEAR = 5;
// A month's bar for each of one or two reports would look like a season.
const A_SEASON = 3;
// No range from fewer: it would be as wide as the picture.
const ENOUGH = 5;

/** Make the view; `set` is one of mine, else the kind stands in the address. */
export async function show(given) {
  const [words, sets] = [await vocabulary(), await all('sets').catch(() => [])];
  const set = sets.find((one) => one.id === given.set) ?? null;
  const asked = Object.fromEntries(KINDS.map((name) => [name, given[name] ?? '']));
  if (set) takePlate(asked, set.machine);
  const found = h('section', { 'aria-live': 'polite' });
  const picks = h('div', null);
  const redraw = () => {
    refill(picks, words && under(t('failing.kind'), KINDS.map((name) => select(t(`failing.${name}`),
      Object.keys(words.machine[name]).filter((code) => code !== 'not-known').map((code) => [code, machineLabel(name, code)]), asked[name],
      (code) => { asked[name] = code; draw(found, asked); }))));
    return draw(found, asked);
  };
  const box = h('div', null, h('h1', null, t('failing.title')),
    sets.length > 0 && select(t('failing.set'), sets.map((one) => [one.id, one.name]), set?.id, (id) => {
      takePlate(asked, sets.find((one) => one.id === id)?.machine ?? {});
      redraw();
    }),
    picks, found, way(t('holding.title'), '/look/holding'), way(t('place.look'), '/look', 'quiet'));
  await redraw();
  return box;
}

function takePlate(asked, machine) {
  const known = machineOf(machine);
  for (const name of KINDS) asked[name] = known[name] && known[name] !== 'not-known' ? String(known[name]) : '';
}

async function draw(found, asked) {
  const kind = Object.entries(asked).filter(([, v]) => v);
  try {
    const told = await get(`/v1/failing${kind.length ? `?${new URLSearchParams(kind)}` : ''}`);
    const items = worthShowing(told.items);
    refill(found, countsPart(told, asked),
      items.length > 0 && rangesFigure(items.map((i) => rangeOf(i, told.known)), t('failing.figure')),
      items.length > 0 && under(t('failing.read'), items.map((i) => way(sentence(causeName(i)), `/look?${new URLSearchParams({ component: i.component, ...(asked.fuel && { fuel: asked.fuel }) })}`, 'quiet'))),
      yearPart(told), catalogueOf(told, items.length === 0));
  } catch (trouble) {
    refill(found, troubleBox(trouble, () => draw(found, asked)), trouble.kind === 'offline' && h('p', null, t('failing.needs-signal')), trouble.kind === 'refused' && notice(t('failing.refused')));
  }
}

function countsPart(told, asked) {
  const kind = KINDS.filter((name) => told.narrowed_by.includes(name)).map((name) => machineLabel(name, asked[name]));
  return h('div', null, h('p', null, h('strong', null, tn('failing.counts', told.reports)), ' ', told.reports > 0 && tn('failing.people', told.people), ' ',
    told.reports > 0 && t('failing.known', { n: told.known })),
  h('p.hint', null, kind.length > 0 ? t('failing.by', { kind: kind.join(', ') }) : t('failing.by-none')));
}

const rangeOf = (item, known) => ({
  name: sentence(causeName(item)), hits: item.reports, of: known, people: item.people,
  ...(known >= ENOUGH && { low: item.low, high: item.high, rate: item.share }),
});

// What was reported more than once; where that is next to nothing, a few of the rest.
function worthShowing(items) {
  const often = items.filter((i) => i.reports > 1).slice(0, SHOWN);
  return often.length > 2 ? often : items.slice(0, FEW);
}

function yearPart(told) {
  const dated = told.items.filter((i) => i.by_month.reduce((sum, n) => sum + n, 0) >= A_SEASON).slice(0, OVER_THE_YEAR);
  if (dated.length) return yearFigure(dated.map((i) => ({ name: sentence(causeName(i)), counts: i.by_month })), t('failing.year'));
  return told.by_month.some((n) => n > 0) && yearFigure(told.by_month, t('failing.year'));
}

// Where few reported, what the trade expects is worth more than what a few saw.
function catalogueOf(told, open) {
  const list = told.catalogue;
  return list.length > 0 && h('details', { open }, h('summary', null, t('failing.catalogue')), h('p.hint', null, t('failing.catalogue-how')),
    h('ol', null, list.slice(0, SHOWN).map((i) => h('li', null, sentence(causeName(i))))));
}
