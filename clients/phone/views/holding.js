// How long fixes hold: the best followed ones, and the curve of one.

import { h, refill } from '../lib/dom.js';
import { t, tn } from '../lib/words.js';
import { get } from '../lib/api.js';
import { vocabulary } from '../lib/vocabulary.js';
import { notice, spoken, troubleBox, way } from '../lib/parts.js';
import { percent } from '../lib/figures.js';
import { holdingFigure } from '../lib/figures_time.js';
import { doneWords, sentence } from '../lib/report_parts.js';

/** Make the view: of one fix where `component` and `action` are given, else the list. */
export async function show({ component, action }) {
  await vocabulary();
  const box = h('div');
  await draw(box, component && action ? { component, action } : null);
  return box;
}

async function draw(box, fix) {
  const title = h('h1', null, fix ? sentence(doneWords(fix)) : t('holding.title'));
  const back = fix ? way(t('holding.title'), '/look/holding', 'quiet') : way(t('place.look'), '/look', 'quiet');
  try {
    const told = await get(`/v1/durability${fix ? `?${new URLSearchParams(fix)}` : ''}`);
    refill(box, title, fix ? one(told) : list(told.items), back);
  } catch (trouble) {
    refill(box, title, troubleBox(trouble, () => draw(box, fix)), trouble.kind === 'offline' && h('p', null, t('look.needs-signal')), back);
  }
}

function one(told) {
  if (!told.followed) return [notice(told.says ? spoken(told.says) : t('holding.nobody')), h('p', null, t('holding.help')), way(t('place.follow'), '/follow')];
  return [h('p', null, h('strong', null, followed(told))), told.silent > 0 && h('p', null, tn('holding.silent', told.silent)),
    // Of very few repairs no share is told, so there is no curve to draw.
    told.at.some((p) => typeof p.share === 'number') && [holdingFigure(told, t('holding.figure')), h('p.hint', null, t('holding.how'))]];
}

function list(items) {
  if (!items.length) return [notice(t('holding.nobody')), h('p', null, t('holding.help')), way(t('place.follow'), '/follow')];
  return [h('h2', null, t('holding.best')), h('p.hint', null, t('holding.what')), h('ul.plain', null, items.map((i) => h('li.card', null,
    h('h3', null, h('a', { href: `#/look/holding?${new URLSearchParams({ component: i.component, action: i.action })}` }, sentence(doneWords(i)))),
    h('p', null, yearOn(i)))))];
}

const followed = (one) => tn('holding.followed', one.followed, { failed: tn('holding.failed', one.failed) });

// Counts first; a share only where enough were looked at so late.
const yearOn = (one) => [followed(one),
  typeof one.share === 'number' && t('holding.year', { share: percent(one.share), low: percent(one.low), high: percent(one.high) })].filter(Boolean).join(' ');
