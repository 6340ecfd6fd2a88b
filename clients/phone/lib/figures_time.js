// Pictures with time along the bottom: how long a fix holds, which months, a reading's past.

import { s } from './dom.js';
import { fine, fineUnit, folded, percent, picture, round, scale, WIDE, words } from './figures.js';
import { inUse, t, tn } from './words.js';
import { unitWord } from './parts.js';

const LEFT = 44;
const RIGHT = WIDE - 12;
const MONTHS_AT_LEAST = 24;
const A_FEW = 3; // the service tells no share of fewer

const known = (value) => typeof value === 'number';

const monthWord = (place, kind) => new Intl.DateTimeFormat(inUse(), { month: kind, timeZone: 'UTC' }).format(Date.UTC(2026, place, 15));

/** A month and year in few letters. */
export function shortMonth(when) {
  const day = new Date(`${String(when).slice(0, 7)}-15T00:00:00Z`);
  return new Intl.DateTimeFormat(inUse(), { month: 'short', year: '2-digit', timeZone: 'UTC' }).format(day).replaceAll(' ', '\u00a0');
}

/**
 * How many of the followed repairs still held, by months: the Kaplan-Meier steps with their 90 %
 * range, and how many had been seen that long under them.
 * @param {object} durability as `GET /v1/durability?component=&action=` gives it
 * @param {string} caption
 */
export function holdingFigure(durability, caption) {
  const at = durability.at ?? [];
  const points = [...(durability.steps ?? []), ...at].sort((a, b) => a.months - b.months);
  // Past where a few were looked at, one alone would throw the line about: there it ends.
  const end = Math.max(0, ...points.filter((p) => p.at_risk >= A_FEW).map((p) => p.months));
  const x = scale(0, Math.max(MONTHS_AT_LEAST, end), LEFT, RIGHT);
  const y = scale(0, 1, 142, 12);
  const seen = points.filter((p) => p.months <= end && known(p.share));
  let line = `M${round(x(0))} ${y(1)}`;
  for (const p of seen) line += `H${round(x(p.months))}V${round(y(p.share))}`;
  const band = seen.filter((p) => known(p.low) && known(p.high));
  const told = at.filter((p) => known(p.share));
  return picture({
    caption, high: 216, open: true,
    says: [durability.says, ...told.map((p) => `${tn('fig.months', p.months)}: ${share(p)}.`)].filter(Boolean).join(' '),
    drawn: [
      [0, 0.5, 1].map((v) => [s('line.grid', { x1: LEFT, x2: RIGHT, y1: y(v), y2: y(v) }), words(`${percent(v)} %`, LEFT - 4, y(v) + 5, 'soft', 'end')]),
      band.length > 0 && s('path.bar', { d: hull(band, x, y, end) }),
      s('path.ink.thick', { d: `${line}H${round(x(end))}` }),
      at.map((p) => [s('line.grid', { x1: x(p.months), x2: x(p.months), y1: 142, y2: 148 }),
        words(fine(p.months), x(p.months), 164), words(fine(p.at_risk), x(p.months), 208, 'strong')]),
      words(t('fig.after'), 0, 164, 'soft', 'start'), words(t('fig.seen'), 0, 188, 'soft', 'start'),
    ],
    heads: [t('fig.after-months'), t('fig.held'), t('fig.range'), t('fig.seen-short')],
    rows: at.map((p) => [tn('fig.months', p.months), known(p.share) ? `${percent(p.share)}\u00a0%` : '–',
      known(p.share) ? t('fig.from-to', { low: percent(p.low), high: percent(p.high) }) : t('fig.too-few'), fine(p.at_risk)]),
  });
}

const share = (p) => t('fig.share-range', { share: percent(p.share), low: percent(p.low), high: percent(p.high) });

function hull(band, x, y, end) {
  const go = (name, points) => points.map((p, i) => {
    const until = points[i + 1]?.months ?? end;
    return [`${round(x(p.months))} ${round(y(p[name]))}`, `${round(x(until))} ${round(y(p[name]))}`];
  }).flat();
  return `M${[...go('high', band), ...go('low', band).reverse()].join('L')}z`;
}

/**
 * How often in each month of the year, over all years.
 * @param {number[]|Array<{name: string, counts: number[]}>} given twelve counts, or some for each
 *   of several causes, drawn one under the other to the same scale
 * @param {string} caption
 */
export function yearFigure(given, caption) {
  const rows = typeof given[0] === 'number' ? [{ name: '', counts: given }] : given;
  const most = Math.max(1, ...rows.flatMap((row) => row.counts));
  const step = (WIDE - 20) / 12;
  let top = 0;
  const drawn = rows.map((row) => {
    const lines = row.name ? folded(row.name, WIDE - 20) : [];
    const texts = lines.map((line, i) => words(line, 10, top + 16 + 17 * i, 'strong', 'start'));
    const foot = top + 17 * lines.length + 70;
    top = foot + 30;
    return [texts, s('line.ink', { x1: 10, x2: WIDE - 10, y1: foot, y2: foot }), row.counts.map((n, i) => {
      const x = 10 + step * i;
      const high = (n / most) * 48;
      return [n > 0 && s('rect.bar', { x: round(x + 4), y: round(foot - high), width: round(step - 8), height: round(high) }),
        n > 0 && words(fine(n), x + step / 2, foot - high - 3), words(monthWord(i, 'narrow'), x + step / 2, foot + 15, 'soft')];
    })];
  });
  const told = (row) => row.counts.map((n, i) => n > 0 && `${monthWord(i, 'short')} ${fine(n)}`).filter(Boolean).join(', ') || t('fig.none');
  return picture({
    caption, high: top - 6, drawn,
    says: rows.map((row) => `${row.name && `${row.name}: `}${told(row)}.`).join(' '),
    heads: [rows.length > 1 ? t('fig.what') : t('fig.month'), t('fig.reports')],
    rows: rows.length > 1 ? rows.map((row) => [row.name, told(row)])
      : rows[0].counts.map((n, i) => [monthWord(i, 'long'), n]).filter(([, n]) => n > 0),
  });
}

/**
 * A reading over time: each figure with its lowest and highest, and what is good behind.
 * @param {Array<{when: string, value: number, min?: number, max?: number, low?: number,
 *   high?: number, verdict?: string}>} given `when` is a month or a day; any order
 * @param {string} caption
 * @param {string} unit
 */
export function minmaxFigure(given, caption, unit) {
  const points = [...given].sort((a, b) => (a.when < b.when ? -1 : 1));
  const edge = (name) => points.map((p) => p[name]).filter(known);
  const all = ['value', 'min', 'max', 'low', 'high'].flatMap(edge);
  const [least, most] = [Math.min(...all), Math.max(...all)];
  const spare = (most - least) / 10 || Math.abs(most) / 10 || 1;
  const y = scale(least >= 0 ? Math.max(0, least - spare) : least - spare, most + spare, 142, 8);
  const places = spread(points);
  const bands = points.map((p, i) => {
    if (!known(p.low) && !known(p.high)) return null;
    const [up, down] = [known(p.high) ? y(p.high) : 8, known(p.low) ? y(p.low) : 142];
    const [from, to] = [i ? (places[i - 1] + places[i]) / 2 : LEFT, i < points.length - 1 ? (places[i] + places[i + 1]) / 2 : RIGHT];
    return s('rect.area', { x: round(from), y: round(up), width: round(to - from), height: round(down - up) });
  });
  const limits = [...new Set([...edge('low'), ...edge('high')])];
  const marks = points.map((p, i) => [
    known(p.min) && known(p.max)
      && s('path.ink.thick', { d: `M${round(places[i] - 5)} ${round(y(p.max))}h10m-5 0V${round(y(p.min))}m-5 0h10` }),
    s('circle.dot', { cx: round(places[i]), cy: round(y(p.value)), r: 5 })]);
  const moved = (p) => known(p.min) && known(p.max) && t('fig.between', { min: fine(p.min, 6), max: fine(p.max, 6) });
  const said = (p) => [fineUnit(p.value, unit), moved(p)].filter(Boolean).join(', ');
  const first = points[0];
  const last = points[points.length - 1];
  return picture({
    caption, high: 172, open: points.length < 4,
    says: points.map((p) => `${shortMonth(p.when)}: ${said(p)}.`).join(' '),
    drawn: [bands, limits.length < 3 && limits.map((v) => s('line.edge', { x1: LEFT, x2: RIGHT, y1: round(y(v)), y2: round(y(v)) })),
      scaleTexts(limits.length && limits.length < 3 ? limits : [least, most], y),
      s('line.ink', { x1: LEFT, x2: RIGHT, y1: 142, y2: 142 }),
      points.length > 1 && s('path.ink', { d: `M${points.map((p, i) => `${round(places[i])} ${round(y(p.value))}`).join('L')}` }), marks,
      words(shortMonth(first.when), places[0], 162), points.length > 1 && places[points.length - 1] - places[0] > 90 && words(shortMonth(last.when), places[points.length - 1], 162)],
    heads: [t('fig.when'), unitWord(unit) || t('fig.figure'), t('fig.verdict')],
    rows: points.map((p) => [shortMonth(p.when), [fine(p.value, 6), moved(p)].filter(Boolean).join(', '), p.verdict ? t(`verdict.${p.verdict}`) : '']),
  });
}

function scaleTexts(values, y) {
  const sorted = [...values].sort((a, b) => a - b);
  if (sorted.length > 1 && y(sorted[0]) - y(sorted[1]) < 14) sorted.pop();
  return sorted.map((v) => words(fine(v), LEFT - 4, y(v) + 5, 'soft', 'end'));
}

// By time, but never so near that one mark hides the other.
function spread(points) {
  const times = points.map((p) => Date.parse(String(p.when).length === 7 ? `${p.when}-15` : p.when));
  const x = scale(times[0], times[times.length - 1], LEFT + 10, RIGHT - 10);
  if (points.length === 1) return [(LEFT + RIGHT) / 2];
  const near = Math.min(14, (RIGHT - LEFT - 20) / (points.length - 1));
  const places = times.map(x);
  for (let i = 1; i < places.length; i += 1) places[i] = Math.max(places[i], places[i - 1] + near);
  const over = Math.max(0, places[places.length - 1] - (RIGHT - 10));
  if (over) for (let i = places.length - 1, limit = RIGHT - 10; i >= 0; i -= 1, limit -= near) places[i] = Math.min(places[i], limit);
  return places;
}
