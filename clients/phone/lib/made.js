// Sentences the service puts together out of parts, in the phone's language: each is known by its
// pattern. A part that is not known leaves all of it English, never half of it.

import { codeWord, number } from './words.js';
import { label, vocabularyNow } from './vocabulary.js';

const HOLE = /\{([a-z]+)\d*\}/g;
// What may stand in a hole, by its name; every other holds a text that is told in turn.
const SHAPES = { n: '-?\\d+(?:\\.\\d+)?', place: '/[^\\s:]*', unit: '\\S*', code: '[a-z0-9-]+' };
const DEEPEST = 4;

/**
 * Make a teller of such sentences.
 * @param {Object<string, string>} patterns English with holes, and the same in this language
 * @param {(text: string) => string|undefined} known a text of the catalogue in this language
 * @returns {(text: string) => string|null} null where it fits none
 */
export function teller(patterns, known) {
  const all = Object.entries(patterns).map(([english, own]) => ({ own, fits: shapeOf(english), holes: [...english.matchAll(HOLE)].map(([whole, kind]) => [whole, kind]) }));

  function tell(text, depth = 0) {
    const whole = known(text);
    if (whole || depth > DEEPEST) return whole ?? null;
    for (const one of all) {
      const found = one.fits.exec(text);
      const told = found && filled(one, found, depth);
      if (told) return told;
    }
    return null;
  }

  function filled({ own, holes }, found, depth) {
    let told = own;
    for (const [i, [whole, kind]] of holes.entries()) {
      const part = one(kind, found[i + 1], depth);
      if (part === null) return null;
      told = told.replace(whole, () => part);
    }
    return told;
  }

  function one(kind, text, depth) {
    switch (kind) {
      case 'n': return number(Number(text));
      case 'own': case 'place': case 'unit': return text;
      case 'part': return partOf(text);
      case 'parts': return partsOf(text);
      case 'action': return codeWord('actions', text);
      case 'code': return codeWord('components', text);
      case 'list': return listed(text, depth);
      case 'load': return tell(text, depth + 1) ?? lowered(text, depth) ?? quoted(text);
      default: return tell(text, depth + 1);
    }
  }

  function listed(text, depth) {
    const told = text.split(', ').map((each) => tell(each, depth + 1));
    return told.includes(null) ? null : told.join(', ');
  }

  // At the head of a sentence its first letter is large.
  function lowered(text, depth) {
    const told = tell(text.slice(0, 1).toLowerCase() + text.slice(1), depth + 1);
    return told && told.slice(0, 1).toLocaleUpperCase() + told.slice(1);
  }

  return tell;
}

// What somebody called a load themselves stays in their words.
const quoted = (text) => (/^the [^.:]{1,60}$/i.test(text) ? `«${text.slice(4)}»` : null);

function partOf(text) {
  const parts = vocabularyNow()?.components ?? {};
  const code = Object.keys(parts).find((each) => parts[each].label === text);
  return code === undefined ? null : label('components', code);
}

// A part's own name may hold an "and".
function partsOf(text) {
  const all = partOf(text);
  if (all !== null) return all;
  for (let end = text.indexOf(AND); end > 0; end = text.indexOf(AND, end + 1)) {
    const first = partOf(text.slice(0, end));
    const rest = first && partsOf(text.slice(end + AND.length));
    if (rest) return `${first}; ${rest}`;
  }
  return null;
}

const AND = ' and ';

function shapeOf(english) {
  const pieces = english.split(/(\{[a-z]+\d*\})/);
  const shape = pieces.map((piece, i) => (i % 2 ? `(${SHAPES[piece.replace(/[{}\d]/g, '')] ?? '.+?'})` : piece.replace(/[.*+?^$()|[\]\\{}]/g, '\\$&')));
  return new RegExp(`^${shape.join('')}$`, 's');
}
