// Look around: reports by words and by kind, the newest first.

import { h, refill } from '../lib/dom.js';
import { t } from '../lib/words.js';
import { get } from '../lib/api.js';
import { all } from '../lib/keep.js';
import { label, machineLabel, vocabulary } from '../lib/vocabulary.js';
import { button, field, notice, select, troubleBox, way, whileBusy } from '../lib/parts.js';
import { reportCard } from '../lib/report_parts.js';

const FILTERS = ['fuel', 'symptom', 'component', 'outcome'];
const A_PAGE = 15;

/** Make the view; what is looked for stands in the address, so that going back finds it again. */
export async function show(given) {
  const words = await vocabulary();
  const asked = { q: given.q ?? '' };
  for (const name of FILTERS) asked[name] = given[name] ?? '';
  const found = h('section', { 'aria-live': 'polite' });
  const q = field(t('look.words'), { type: 'search', value: asked.q, maxlength: 300, enterkeyhint: 'search' }, t('look.words-hint'));
  const narrowed = FILTERS.filter((name) => asked[name]).length;
  const look = async () => {
    asked.q = q.input.value.trim();
    history.replaceState(null, '', `#/look${query(asked, {})}`);
    await draw(found, asked);
    const title = found.querySelector('h2');
    title?.setAttribute('tabindex', '-1');
    title?.focus();
  };
  const search = button(t('look.search'), whileBusy(look), 'main');
  const box = h('div', null, h('h1', null, t('place.look')),
    way(t('failing.title'), '/look/failing'), way(t('holding.title'), '/look/holding'),
    h('form', { role: 'search', onsubmit: (e) => { e.preventDefault(); search.click(); } }, q,
      words && h('details', { open: narrowed > 0 }, h('summary', null, t('look.narrow')), FILTERS.map((name) =>
        select(t(`look.${name}`), options(words, name), asked[name], (code) => { asked[name] = code; }))),
      search),
    found);
  await draw(found, asked);
  return box;
}

const byText = (a, b) => a[1].localeCompare(b[1]);

function options(words, name) {
  if (name === 'fuel') return Object.keys(words.machine.fuel).map((code) => [code, machineLabel('fuel', code)]);
  if (name === 'outcome') return Object.keys(words.outcomes).map((code) => [code, label('outcomes', code)]);
  const kind = `${name}s`;
  return Object.keys(words[kind]).map((code) => [code, label(kind, code)]).sort(byText);
}

function query(asked, more) {
  const parts = Object.entries({ ...asked, ...more }).filter(([, v]) => v);
  return parts.length ? `?${new URLSearchParams(parts)}` : '';
}

async function draw(found, asked) {
  try {
    const page = await get(`/v1/reports${query(asked, { limit: A_PAGE })}`);
    if (!page.items.length) {
      refill(found, notice(t('look.nothing')));
      return;
    }
    const list = h('ul.plain', null, page.items.map(reportCard));
    refill(found, h('h2', null, t(asked.q ? 'look.likest' : 'look.newest')), list, more(list, asked, page.next));
  } catch (trouble) {
    const own = trouble.kind === 'offline' ? await all('mine').catch(() => []) : [];
    refill(found, troubleBox(trouble, () => draw(found, asked)), trouble.kind === 'offline' && h('p', null, t('look.needs-signal')),
      own.length > 0 && [h('h2', null, t('look.own')), h('ul.plain', null, own.sort((a, b) => (a.received < b.received ? 1 : -1)).map(reportCard))]);
  }
}

function more(list, asked, next) {
  if (!next) return null;
  const place = h('div', null);
  place.append(button(t('look.more'), whileBusy(async () => {
    try {
      const page = await get(`/v1/reports${query(asked, { limit: A_PAGE, cursor: next })}`);
      const fresh = page.items.map(reportCard);
      list.append(...fresh);
      refill(place, more(list, asked, page.next));
      fresh[0]?.querySelector('a')?.focus();
    } catch (trouble) {
      place.append(troubleBox(trouble));
    }
  })));
  return place;
}
