// Pictures a person would rather look at than read: a reading on its band, ranges of what was
// tried. Each is a figure with the same told in words and in a table, and needs no colour.

import { h, s, unique } from './dom.js';
import { number, t, tn } from './words.js';
import { sourceWords, unitWord } from './parts.js';

/** Width of every picture, in its own units; text of 14 of them is what the page's text is. */
export const WIDE = 320;
const EDGE = 10;
// A letter is about so wide, by the kind of text; nothing here needs to know it better.
const LETTER = { '': 7.8, strong: 8.6, soft: 6.7 };

/** A figure of a picture: as many digits as tell something. */
export const fine = (value, digits = 4) =>
  (Math.abs(value) >= 10 ** digits ? number(value, 0) : number(Number(value.toPrecision(digits)), 6));

/** A figure with its unit. */
export const fineUnit = (value, unit) => `${fine(value, 6)} ${unitWord(unit)}`.trim();

/**
 * A figure: caption, the picture with title and description, and the same as a table.
 * @param {{caption: string, says: string, high: number, drawn: Node[], heads: string[],
 *   rows: Array<Array<string|number>>, foot?: any, open?: boolean}} what `says` is the
 *   description; `open` shows the table at once
 */
export function picture({ caption, says, high, drawn, heads, rows, foot, open = false }) {
  const title = unique('title');
  const describe = unique('says');
  // Figures stand under each other by their last digit, words by their first letter.
  const figures = heads.map((_, i) => i > 0 && rows.every((row) => /^[\d\s.,%–-]*$/.test(String(row[i]))));
  const head = (text, i) => h(figures[i] ? 'th.n' : 'th', { scope: 'col' }, text);
  const cell = (text, i) => (i ? h(figures[i] ? 'td.n' : 'td', null, text) : h('th', { scope: 'row' }, text));
  // With large text on a small phone a table may be wider than the page: then it alone slides.
  const table = h('div.slide', { tabindex: '0', role: 'group', 'aria-label': `${t('fig.table')}: ${caption}` }, h('table', null, h('thead', null, h('tr', null, heads.map(head))),
    h('tbody', null, rows.map((row) => h('tr', null, row.map(cell))))));
  return h('figure', null, h('figcaption', null, caption),
    s('svg', { viewBox: `0 0 ${WIDE} ${high}`, role: 'img', 'aria-labelledby': `${title} ${describe}` },
      s('title', { id: title }, caption), s('desc', { id: describe }, says), drawn),
    foot && h('p.hint', null, foot),
    rows.length > 0 && (open ? table : h('details.table', null, h('summary', null, t('fig.table')), table)));
}

/** A text of a picture that never runs out at its sides; what is too wide begins at the left. */
export function words(text, x, y, kind = '', anchor = 'middle') {
  const wide = String(text).length * LETTER[kind];
  const left = { start: x, middle: x - wide / 2, end: x - wide }[anchor];
  const shift = Math.max(-left, Math.min(0, WIDE - left - wide));
  return s(`text${kind && `.${kind}`}`, { x: round(x + shift), y, 'text-anchor': anchor }, text);
}

/** Lines of a text that is too long for one. */
export function folded(text, wide = WIDE, most = 3) {
  const fit = Math.floor(wide / LETTER.strong);
  const lines = [''];
  for (const word of String(text).split(/\s+/)) {
    const last = lines[lines.length - 1];
    if (last && last.length + word.length + 1 > fit) lines.push(word);
    else lines[lines.length - 1] = last ? `${last} ${word}` : word;
  }
  return lines.length > most ? [...lines.slice(0, most - 1), `${lines[most - 1].slice(0, fit - 1)}…`] : lines;
}

/** A place in a picture: a tenth is fine enough. */
export const round = (x) => Math.round(x * 10) / 10;

/** Where a value stands between two others, from `left` to `right`; outside stays outside. */
export const scale = (from, to, left, right) => (value) => left + ((value - from) / (to - from || 1)) * (right - left);

const known = (value) => typeof value === 'number' && Number.isFinite(value);

/**
 * A reading on the band it should lie in.
 * @param {{value: number, unit: string, low?: number, high?: number, min?: number,
 *   max?: number, verdict?: string, source?: string, sign?: string}} reading
 * @param {string} name what was measured, in words
 * @returns {HTMLElement} a figure; without a band just the figure in words
 */
export function bandFigure(reading, name) {
  const { value, unit, low, high, min, max, verdict = 'unjudged', source } = reading;
  const over = reading.sign === 'over';
  const figure = over ? t('fig.over') : fineUnit(value, unit);
  if (!known(low) && !known(high)) {
    return h('figure', null, h('figcaption', null, name), h('p.figure', null, h('strong', null, figure)));
  }
  const [from, to] = span({ low, high, values: over ? [] : [value, min, max].filter(known) });
  const place = scale(from, to, EDGE + 14, WIDE - EDGE - 14);
  const inside = (x) => Math.min(Math.max(place(x), EDGE), WIDE - EDGE);
  const at = over ? WIDE - EDGE : inside(value);
  const outside = over || value > to ? 1 : value < from ? -1 : 0;
  const left = known(low) ? place(low) : EDGE;
  const right = known(high) ? place(high) : WIDE - EDGE;
  const drawn = [
    s('line.grid', { x1: EDGE, x2: WIDE - EDGE, y1: 46, y2: 46 }),
    s('rect.bar', { x: round(left), y: 36, width: round(Math.max(right - left, 2)), height: 20 }),
    // An open end has no edge: the band goes on as an arrow.
    !known(low) && arrow(EDGE, 46, -1), !known(high) && arrow(WIDE - EDGE, 46, 1),
    known(min) && known(max) && whisker(inside(min), inside(max), 46),
    outside ? arrow(at, 26, outside) : s('path.dot', { d: `M${round(at)} 36l-7 -12h14z` }),
    words(`${figure} ${t(`verdict.${verdict}`)}`, at, 16, 'strong', outside ? (outside > 0 ? 'end' : 'start') : 'middle'),
    edges(low, high, left, right),
  ];
  return picture({
    caption: name, high: 78, drawn,
    says: `${figure}. ${good(low, high, unit)} ${t(`verdict.${verdict}`)}`,
    foot: source && sourceWords(source),
    heads: [t('fig.what'), unitWord(unit) || t('fig.figure')],
    rows: [[t('fig.read'), over ? figure : fine(value, 6)], ...(known(min) && known(max) ? [[t('reading.min'), fine(min, 6)], [t('reading.max'), fine(max, 6)]] : []),
      ...(known(low) ? [[t('fig.good-from'), fine(low)]] : []), ...(known(high) ? [[t('fig.good-to'), fine(high)]] : [])],
  });
}

/** What is good, in words. */
function good(low, high, unit) {
  const least = known(low) ? fine(low) : '';
  const most = known(high) ? `${fine(high)} ${unitWord(unit)}`.trim() : '';
  if (known(low) && known(high)) return t('fig.good-between', { low: least, high: most });
  return known(low) ? t('fig.good-least', { low: `${least} ${unitWord(unit)}`.trim() }) : t('fig.good-most', { high: most });
}

// What the picture spans: the band and about as much beside it, no more for a value far outside.
function span({ low, high, values }) {
  const both = known(low) && known(high);
  const one = known(low) ? low : high;
  const wide = both ? high - low || Math.abs(low) / 10 || 1 : Math.abs(one) || 1;
  const down = known(low) ? low : high - wide;
  const up = known(high) ? high : low + wide;
  const near = values.filter((v) => v > down - 2 * wide && v < up + 2 * wide);
  let from = Math.min(down - wide / 3, ...near);
  const to = Math.max(up + wide / 3, ...near);
  // What can't be less than nothing needs no room there.
  if (from < 0 && down >= 0 && Math.min(...near, 0) >= 0) from = 0;
  return [from, to];
}

function edges(low, high, left, right) {
  const texts = [];
  const wide = (x) => (fine(x).length * LETTER['']) / 2;
  const tight = known(low) && known(high) && right - left < wide(low) + wide(high) + 8;
  if (known(low)) texts.push(s('line.ink', { x1: round(left), x2: round(left), y1: 34, y2: 60 }), words(fine(low), tight ? left + 2 : left, 74, '', tight ? 'end' : 'middle'));
  if (known(high)) texts.push(s('line.ink', { x1: round(right), x2: round(right), y1: 34, y2: 60 }), words(fine(high), tight ? right - 2 : right, 74, '', tight ? 'start' : 'middle'));
  return texts;
}

const arrow = (x, y, side) => s('path.dot', { d: `M${round(x)} ${y}l${-10 * side} -6v12z` });

/** A line from the lowest to the highest, with its ends. */
export const whisker = (x1, x2, y) => s('path.ink.thick', { d: `M${round(x1)} ${y - 5}v10m0 -5H${round(x2)}m0 -5v10` });

// Where the axis of shares may end: small ones would be specks beside a whole.
const ENDS = [0.1, 0.2, 0.5, 1];

/**
 * What was tried, each as a bar from the low to the high end of its range, with the counts.
 * @param {Array<{name: string, low: number, high: number, rate?: number, of: number,
 *   hits: number, people: number}>} rows shares from 0 to 1
 * @param {string} caption
 */
export function rangesFigure(rows, caption) {
  const all = rows.flatMap((row) => [row.high, row.rate]).filter(known);
  const most = ENDS.find((end) => all.every((share) => share <= end)) ?? 1;
  const place = scale(0, most, EDGE, WIDE - EDGE);
  let y = 0;
  const bars = rows.map((row) => {
    const lines = folded(row.name, WIDE - 2 * EDGE);
    const texts = lines.map((line, i) => words(line, EDGE, y + 16 + 17 * i, 'strong', 'start'));
    y += 17 * lines.length + 8;
    const top = y;
    y += 46;
    const ranged = known(row.low) && known(row.high);
    return [texts, s('line.grid', { x1: EDGE, x2: WIDE - EDGE, y1: top + 8, y2: top + 8 }),
      ranged && s('rect.bar', { x: round(place(row.low)), y: top, width: round(Math.max(place(row.high) - place(row.low), 2)), height: 16 }),
      known(row.rate) && s('path.dot', { d: `M${round(place(row.rate))} ${top - 2}l6 10l-6 10l-6 -10z` }),
      words(counts(row), EDGE, top + 32, '', 'start')];
  });
  const ticks = [0, most / 2, most].map((share) => [s('line.grid', { x1: place(share), x2: place(share), y1: 0, y2: y }),
    words(`${fine(share * 100)} %`, place(share), y + 14, 'soft', { 0: 'start', [most]: 'end' }[share] ?? 'middle')]);
  return picture({
    caption, high: y + 20, drawn: [ticks, bars],
    says: rows.map((row) => `${row.name}: ${counts(row)}${ranges(row) && `, ${ranges(row)}`}.`).join(' '),
    foot: t('fig.ranges-how'),
    heads: [t('fig.what'), t('fig.counts'), t('fig.range')],
    rows: rows.map((row) => [row.name, counts(row), ranges(row)]),
  });
}

const counts = (row) => [t('fig.of', { hits: row.hits, of: row.of }), row.people ? tn('fig.people', row.people) : ''].filter(Boolean).join(', ');

const ranges = (row) => (known(row.low) && known(row.high) ? t('fig.from-to', { low: percent(row.low), high: percent(row.high) }) : '');

/** A share as whole per cent, without the sign. */
export const percent = (share) => Math.round(share * 100);
