// What fails on sets like one of mine, or on a kind of set: counts first.

import { h, refill } from '../lib/dom.js';
import { t, tn } from '../lib/words.js';
import { get } from '../lib/api.js';
import { all } from '../lib/keep.js';
import { machineOf } from '../lib/question.js';
import { machineLabel, vocabulary } from '../lib/vocabulary.js';
import { notice, select, spoken, troubleBox, under, way } from '../lib/parts.js';
import { causeWords, sentence } from '../lib/report_parts.js';
import { rangesFigure } from '../lib/figures.js';
import { yearFigure } from '../lib/figures_time.js';

const KINDS = ['fuel', 'excitation', 'cooling'];
const SHOWN = 10;

/** Make the view; `set` is one of mine, else the kind stands in the address. */
export async function show(given) {
  const [words, sets] = [await vocabulary(), await all('sets').catch(() => [])];
  const set = sets.find((one) => one.id === given.set) ?? null;
  const asked = Object.fromEntries([...KINDS, 'rated_kva'].map((name) => [name, given[name] ?? '']));
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
  for (const name of [...KINDS, 'rated_kva']) asked[name] = known[name] && known[name] !== 'not-known' ? String(known[name]) : '';
}

async function draw(found, asked) {
  const kind = Object.entries(asked).filter(([, v]) => v);
  try {
    const told = await get(`/v1/failing${kind.length ? `?${new URLSearchParams(kind)}` : ''}`);
    const items = told.items ?? [];
    refill(found,
      h('p', null, h('strong', null, tn('failing.counts', told.reports)), ' ', told.reports > 0 && tn('failing.people', told.people)),
      items.length > 0 && rangesFigure(items.slice(0, SHOWN).map((i) => ({ name: sentence(causeWords(i)), low: i.low, high: i.high, rate: i.share, hits: i.reports, of: told.reports, people: i.people })), t('failing.figure')),
      items.length > 0 && h('ol', null, items.slice(0, SHOWN).map((i) => h('li', null, h('a', { href: `#/look?${new URLSearchParams(kind.filter(([name]) => name === 'fuel').concat([['component', i.component]]))}` }, sentence(causeWords(i))), i.says && h('p.soft', null, spoken(i.says))))),
      told.by_month?.some((n) => n > 0) && yearFigure(told.by_month, t('failing.year')),
      catalogueOf(told, items.length === 0));
  } catch (trouble) {
    refill(found, troubleBox(trouble, () => draw(found, asked)), trouble.kind === 'offline' && h('p', null, t('failing.needs-signal')), trouble.kind === 'refused' && notice(t('failing.refused')));
  }
}

// Where few reported, what the trade expects is worth more than what a few saw.
function catalogueOf(told, open) {
  const list = told.catalogue ?? [];
  return list.length > 0 && h('details', { open }, h('summary', null, t('failing.catalogue')), h('p.hint', null, t('failing.catalogue-how')),
    h('ol', null, list.slice(0, SHOWN).map((i) => h('li', null, sentence(causeWords(i)), i.says && h('p.soft', null, spoken(i.says))))));
}
