// Judge a reading with no signal: the service's own rule over the limits the phone keeps, to the
// letter. What several readings say together is not judged here: that stays the service's.

import { corrected, known, scale, sizeOf } from './judge_basis.js';
import { edgeText, figureText, rounded, withUnit } from './judge_numbers.js';

const FIGURES = {
  duty: 'whether it is portable or standby', excitation: 'how it is excited', class: 'its performance class',
  size: 'its rated kVA', rated_volts: 'its rated volts', rated_hz: 'its rated hertz', rated_rpm: 'its rated speed',
  phases: 'its phases', mark: 'what is printed on the part',
};
const BASIS_NEEDS = {
  'percent of rated volts': ['rated_volts'],
  'percent of leg volts': ['rated_volts'],
  'scaled to rated volts': ['rated_volts'],
  'percent of rated hertz': ['rated_hz'],
  'percent of rated speed': ['rated_rpm'],
  'percent of rated current': ['rated_volts', 'size'],
  'percent of rated power': ['size'],
  'percent of mark': ['mark'],
};

/**
 * Judge one reading by the first limit that fits.
 * @param {object} reading as the wire has it, in its canonical unit
 * @param {object} machine the nameplate
 * @param {object[]} limits the vocabulary's, in their order
 * @param {(text: string) => string} [told] tells a sentence, its {names} not yet filled in, in
 *   another language
 * @returns {{verdict: string, low: ?number, high: ?number, source: string, means: string,
 *   danger?: string}} `danger` is a caution topic the figure calls for at once
 */
export function judge(reading, machine, limits, told = (text) => text) {
  const missing = [];
  for (const limit of limits ?? []) {
    if (limit.quantity !== reading.quantity || !limit.points.includes(reading.point)) continue;
    const unknown = fits(limit, reading, machine);
    if (unknown === null) continue;
    const size = scale(limit, reading, machine);
    if (size === null) missing.push(...BASIS_NEEDS[limit.basis]);
    else return judged(reading, { limit, scale: size, factor: corrected(limit.correct, reading, machine), unknown, told });
  }
  const names = named(missing);
  const means = names.length ? filled(told('No band without {part}.'), { part: listed(names, told) }) : told('No band for this reading.');
  return { verdict: 'unjudged', low: null, high: null, source: '', means };
}

const named = (fields) => [...new Set(fields)].map((name) => FIGURES[name] ?? name);
const filled = (text, words) => text.replace(/\{(\w+)\}/g, (_, name) => words[name]);

function listed(names, told) {
  const all = names.map(told);
  return all.length === 1 ? all[0] : `${all.slice(0, -1).join(', ')}${told(' and ')}${all.at(-1)}`;
}

const given = (edge) => edge !== undefined && edge !== null;

// --- which limit

/** The figures not known that would have mattered; null if the limit does not fit. */
function fits(limit, reading, machine) {
  if ((limit.conditions?.length && !limit.conditions.includes(reading.condition))
    || (limit.which?.length && !limit.which.includes(reading.which))
    || (limit.value_in && !inside(reading.value, limit.value_in))) return null;
  if (!plateFits(limit, reading.value, machine) || !surely(limit.surely, machine)) return null;
  const unknown = [];
  for (const open of [among(limit.only, machine), classOpen(limit, machine), sizeOpen(limit, machine)]) {
    if (open === null) return null;
    unknown.push(...open);
  }
  return unknown;
}

const inside = (value, [from, to]) => from <= value && value < to;

/** Whether the figures that must be known are known and lie where they should. */
function plateFits(limit, value, machine) {
  const volts = known(machine, 'rated_volts');
  const percent = volts === null ? null : (100 * value) / volts;
  return [[limit.percent_in, percent], [limit.rated_volts, volts], [limit.rated_hz, known(machine, 'rated_hz')]]
    .every(([span, figure]) => !span || (figure !== null && inside(figure, span)));
}

const lists = (kind) => Object.entries(kind ?? {}).filter(([, codes]) => codes?.length);
const surely = (kind, machine) => lists(kind).every(([name, codes]) => codes.includes(known(machine, name)));

/** The fields of a kind that the set leaves open; null if one rules it out. */
function among(kind, machine) {
  const unknown = [];
  for (const [name, codes] of lists(kind)) {
    const own = known(machine, name);
    if (own === null) unknown.push(name);
    else if (!codes.includes(own)) return null;
  }
  return unknown;
}

function classOpen(limit, machine) {
  if (!limit.classes?.length) return [];
  const own = known(machine, 'class');
  if (own !== null) return limit.classes.includes(own) ? [] : null;
  const open = among(limit.unclassed, machine);
  return open === null ? null : open.length ? ['class', ...open] : [];
}

function sizeOpen(limit, machine) {
  if (!limit.size) return [];
  const own = sizeOf(machine);
  if (own === null) return ['size'];
  return limit.size[0] < own && own <= limit.size[1] ? [] : null;
}

// --- the verdict

/** An edge in the reading's unit, moved to where it was taken. */
const edgeOf = (fit, edge) => (given(edge) ? rounded(edge * fit.scale * (fit.factor || 1)) : null);

function judged(reading, fit) {
  const { limit } = fit;
  const edges = [edgeOf(fit, limit.low), edgeOf(fit, limit.high)];
  const [low, high] = edges;
  const value = nudged(reading);
  let verdict = 'within';
  if (!given(limit.low) && !given(limit.high)) verdict = 'unjudged';
  else if (low !== null && value < low) verdict = 'low';
  else if (high !== null && value > high) verdict = 'high';
  const dead = verdict === 'low' && Boolean(limit.dead) && value < (edgeOf(fit, limit.dead.below) || 0);
  const known = limit.confidence === 'published' || limit.source.includes(limit.confidence);
  const source = known ? limit.source : `${limit.source} (${limit.confidence})`;
  const danger = dangerOf(value, fit);
  const told = { verdict, low, high, source, means: meansOf(reading, fit, verdict, edges, dead) };
  return danger === null ? told : { ...told, danger };
}

/** A bound lies just past its figure, so that "under 1" is under 1. */
function nudged(reading) {
  const step = Math.max(Math.abs(reading.value) * 1e-9, 1e-12);
  return reading.value + ({ over: step, under: -step }[reading.sign] ?? 0);
}

function dangerOf(value, fit) {
  const { danger } = fit.limit;
  if (!danger) return null;
  const [above, below] = [edgeOf(fit, danger.above), edgeOf(fit, danger.below)];
  return (above !== null && value > above) || (below !== null && value < below) ? danger.topic : null;
}

function swung(reading, limit) {
  if (!limit.swing || !given(reading.min) || !given(reading.max)) return false;
  const middle = (reading.min + reading.max) / 2;
  return middle > 0 && (100 * (reading.max - reading.min)) / middle > limit.swing.percent;
}

function meansOf(reading, fit, verdict, edges, dead) {
  const { limit } = fit;
  const [low, high] = edges;
  const words = {
    value: figureText(reading.value), unit: reading.unit === '1' ? '' : reading.unit,
    low: low === null ? '' : edgeText(low), high: high === null ? '' : edgeText(high), rated: edgeText(100 * fit.scale),
  };
  const parts = [dead ? limit.dead.means : limit.means[verdict]];
  const value = nudged(reading);
  for (const shade of limit.shades ?? []) {
    const [over, under] = [edgeOf(fit, shade.over), edgeOf(fit, shade.under)];
    if ((over === null || value >= over) && (under === null || value < under)) parts.push(shade.says);
  }
  const said = parts.map((part) => filled(fit.told(part), words));
  if (swung(reading, limit)) said.push(fit.told(limit.swing.says));
  return [...said, ...footnotes(reading, fit, verdict, edges)].join(' ');
}

function footnotes(reading, fit, verdict, [low, high]) {
  if (verdict === 'unjudged') return [];
  const { told } = fit;
  const notes = [];
  const lacking = [...named(fit.unknown), ...(fit.limit.lacks ?? [])];
  if (lacking.length) notes.push(filled(told('The widest band is used: not given is {part}.'), { part: listed(lacking, told) }));
  if (fit.factor !== null && Math.abs(fit.factor - 1) > 1e-3) notes.push(told('The band is moved to where it was read.'));
  if (verdict !== 'within') return notes;
  if (reading.sign === 'over' && high !== null) notes.push(told('Only a lower bound was given: it may be higher.'));
  if (reading.sign === 'under' && low !== null) notes.push(told('Only an upper bound was given: it may be lower.'));
  const ends = [];
  if (low !== null && given(reading.min) && reading.min < low) ends.push(withUnit(reading.min, reading.unit));
  if (high !== null && given(reading.max) && reading.max > high) ends.push(withUnit(reading.max, reading.unit));
  if (ends.length) notes.push(filled(told('It moved out of the band, to {part}.'), { part: ends.join(told(' and ')) }));
  return notes;
}
