// One of my sets: its nameplate, its past, its readings over time.

import { h, refill } from '../lib/dom.js';
import { month, t, tn, time } from '../lib/words.js';
import { read } from '../lib/keep.js';
import { vocabulary } from '../lib/vocabulary.js';
import { notice, under, way, withUnit } from '../lib/parts.js';
import { plateLine } from '../lib/plate.js';
import { pastOf, readingsOver } from '../lib/past.js';
import { endWords, readingName, reportTitle, sentence } from '../lib/report_parts.js';
import { minmaxFigure } from '../lib/figures_time.js';
import { keptSheet, renewSheet } from '../lib/sheets.js';

const SHOWN = 4;

/** Make the view; the set's sheet is fetched meanwhile, to be there when no signal is. */
export async function show({ id }) {
  const set = await read('sets', id).catch(() => undefined);
  if (!set) return h('div', null, h('h1', null, t('place.sets')), notice(t('gone'), 'bad'), way(t('place.sets'), '/sets'));
  const words = await vocabulary();
  const [past, sheet] = await Promise.all([pastOf(set), keptSheet(set)]);
  const sheetHint = h('p.hint', null, t(sheet ? 'set.sheet-kept' : 'set.sheet-not-kept'));
  renewSheet(set).then(() => refill(sheetHint, t('set.sheet-kept')), () => {});
  const series = readingsOver(past, set.machine, words?.limits ?? []);
  return h('div', null, h('h1', null, set.name), h('p', null, plateLine(set.machine)),
    way(t('set.ask'), `/ask?set=${id}`, 'main'), way(t('set.report'), `/report?set=${id}`), way(t('sheet.open'), `/sheet/${id}`),
    sheetHint,
    way(t('set.failing'), `/look/failing?set=${id}`), way(t('set.edit'), `/sets/${id}/edit`),
    pastPart(past), seriesPart(series));
}

function pastPart({ walks, reports }) {
  const title = h('h2', null, t('set.past'));
  const openOnes = walks.filter((w) => !w.done);
  if (!openOnes.length && !reports.length) return h('section', null, title, h('p', null, t('set.no-past')));
  return h('section', null, title, h('ul.plain', null,
    openOnes.map((w) => h('li.card', null, h('h3', null, h('a', { href: `#/answer/${w.id}` }, w.complaint || t('home.no-words'))),
      h('p.soft', null, t('set.not-over', { when: time(w.begun) })))),
    reports.map((r) => h('li.card', null, h('h3', null, h('a', { href: r.waits ? '#/waiting' : `#/look/${r.id}` }, reportTitle(r))), h('p', null, endWords(r)),
      r.waits && h('p.soft', null, t('set.waits')),
      r.happened && h('p.soft', null, month(r.happened))))));
}

function seriesPart(series) {
  if (!series.length) return null;
  const drawn = ({ reading, points }) => (points.length > 1 ? h('div.card', null, minmaxFigure(points, readingName(reading), reading.unit))
    : h('p', null, `${readingName(reading)}: ${withUnit(points[0].value, reading.unit)}, ${sentence(t(`verdict.${points[0].verdict ?? 'unjudged'}`))}`));
  return h('section', null, h('h2', null, t('set.readings')), series.slice(0, SHOWN).map(drawn),
    series.length > SHOWN && under(tn('set.more-readings', series.length - SHOWN), series.slice(SHOWN).map(drawn)));
}
