// Takes out of a text what has the shape of a number, an e-mail, a link or a position, with no
// signal and no list of words. Names and places are taken out by the service when it is sent.
// Every pattern is bounded. No lookbehind: older telephones can't read it, and the page with it.

import { PART, POSITIONS, TRADE } from './scrub_shapes.js';

const USER = "[\\p{L}\\p{N}_.%+-]{1,64}";
const JOIN = '(?: (?:dot|underscore|dash|hyphen|minus|plus|punto|ponto) [\\p{L}\\p{N}_-]{1,30}){0,3}';
const NOT_IN_USER = /[\p{L}\p{N}_.%+-]/u;
const NOT_IN_NAME = /[\p{L}\p{N}_.@/-]/u;
const WORD = /[\p{L}\p{N}_]/u;
const END = '(?![\\p{L}\\p{N}_])';
const REST = '[^\\s<>"\\[\\]]';
const SITE = '[a-z0-9-]{1,63}';
const TOP = '(?:com|org|net|info|biz|co\\.[a-z]{2})';

// What may not stand before, at its end.
const ends = (before) => new RegExp(`(?:${before.source})$`, 'u');

// kind, what may not stand before, shape
const SURE = [
  ['email', NOT_IN_USER, `${USER}@[a-z0-9-]{1,63}(?:\\.[a-z0-9-]{1,63}){1,4}`],
  ['email', NOT_IN_USER, `${USER}${JOIN} ?(?:\\(at\\)|\\[at\\]|\\{at\\}|at(?: sign)?${END}) ?[a-z0-9-]{1,63}(?: ?(?:\\(dot\\)|\\[dot\\]|dot${END}) ?[a-z]{2,6}){1,2}${END}`],
  ['email', NOT_IN_USER, `${USER} ?(?:\uff20|\\(a\\)|\\(at\\)|\\[at\\]|\\{at\\}) ?[a-z0-9-]{1,63}(?:\\.[a-z0-9-]{1,63}){0,2}\\.[a-z]{2,12}${END}`],
  ['email', NOT_IN_USER, `${USER} ?(?:arroba|arobase|chiocciola|klammeraffe|kringel) ?[a-z0-9-]{1,63}(?: ?(?:punto${END}|ponto${END}|point${END}|punkt${END}|\\.) ?[a-z]{2,12}){1,2}${END}`],
  ['day', /[\p{L}\p{N}_./-]/u, `(?:\\d{1,2}([./-])\\d{1,2}\\1(?:19|20)\\d{2}|(?:19|20)\\d{2}([./-])\\d{1,2}\\2\\d{1,2})(?![\\p{L}\\p{N}_/-]|\\.\\d)`],
  ['link', WORD, `https?://${REST}{1,2000}`],
  ['link', WORD, 'hxxps?://\\S{1,500}'],
  ['link', NOT_IN_NAME, `www\\.${REST}{1,500}`],
  ['link', NOT_IN_NAME, `${SITE}(?:\\.[a-z0-9-]{2,63}){0,3}\\.${TOP}(?![\\p{L}\\p{N}_-])(?:/${REST}{0,500})?`],
  ['link', NOT_IN_NAME, `${SITE}\\.(?:me|ly|be|gl|io|gg)/${REST}{2,500}`],
  ...POSITIONS.map(([before, shape]) => ['position', before, shape]),
].map(([kind, before, shape]) => [kind, ends(before), new RegExp(shape, 'giu')]);
// "sefu AT mill.example": only in capitals, for "at" is a word.
SURE.unshift(['email', ends(NOT_IN_USER), new RegExp(`${USER} ?AT ?[a-zA-Z0-9-]{1,63}(?:\\.[a-zA-Z0-9-]{1,63}){0,2}\\.[a-z]{2,12}${END}`, 'gu')]);

const shield = ([before, shape]) => ['trade', ends(before), new RegExp(shape, 'giu')];
const PARTS = [shield(PART)];
const SHIELDS = TRADE.map(shield);
const DIALLED = ['number', ends(/[\p{L}\p{N}_+@/.,-]/u), new RegExp(`\\+?\\(?\\p{Nd}(?:[ ().\\-/\u2013]{0,3}\\p{Nd}){6,400}(?![\\p{L}\\p{N}_]|[.,]\\p{Nd})`, 'giu')];
const ONE_BY_ONE = ['number', ends(/[\p{L}\p{N}_.,-]|\p{Nd} /u), /\d(?: \d){8,13}(?![\p{L}\p{N}_.,]| \d)/giu];
// Words that lead to somebody's number, a few words before it; without one it is as likely to
// be a part's.
const CUES = 'call|called|ring|rang|phone|telephone|tel|mob|mobile|cell|cellphone|whatsapp|sms|text|txt|fax|ph|dial|landline|hotline|'
  + 'reach|fone|mobil|handy|nipigie|piga|simu|appelez|appeler|tél|télé|llam[aeo]r?|llámame|ligue|ligar|zap|cel|celular|chiama|'
  + 'cellulare|tel[eé]fono|telefone|téléphone|telefon|ruf|rufen|anrufen|numéro|número|numero|bel|denwa|telefoon|'
  + 's/n|serial|account|acct|a/c|iban|policy|passport|national id|licen[cs]e|membership|till|invoice|docket|receipt';
const LEADS = new RegExp(`(?:^|[^\\p{L}])(?:${CUES})(?:[^\\p{L}\\p{N}]{1,3}\\p{L}{1,12}\\.?){0,3}[^\\p{L}\\p{N}]{1,4}$`, 'iu');
const STOPS = /[.,;:!?)']+$/;

/** Give the places where a shape stands: [start, end, kind]. */
function* places(text, [kind, before, shape]) {
  shape.lastIndex = 0;
  for (let found = shape.exec(text); found; found = shape.exec(text)) {
    const start = found.index;
    if (!found[0] || before.test(text.slice(Math.max(0, start - 4), start))) {
      // Not into the middle of a letter of two units: the search would step back and never end.
      shape.lastIndex = start + (text.codePointAt(start) > 0xffff ? 2 : 1);
      continue;
    }
    const end = start + (kind === 'link' ? found[0].replace(STOPS, '').length : found[0].length);
    yield [start, end, kind];
  }
}

/** Whether digits are a row of readings ("2.11 2.12 2.05") or an order (1-3-4-2), no number. */
function isRow(said) {
  if (said.startsWith('+')) return false;
  const groups = said.match(/\p{Nd}+/gu);
  return (said.includes('.') && said.includes(' ')) || groups.slice(1).some((group) => group.length === 1);
}

/** Whether nobody could take it for a part's number: with a plus, or where a word leads to it. */
const isSure = (text, start, said) => said.startsWith('+') || LEADS.test(text.slice(Math.max(0, start - 60), start));

/**
 * Take out of a text what has a shape.
 * @param {string} text
 * @param {{keep?: Iterable<string>, onlySure?: boolean}} [how] `keep`: numbers that the person
 *   said are no one's (a part's); `onlySure`: for what is a name of a thing, such as a model
 * @returns {{text: string, taken: {start: number, end: number, kind: string, words: string, sure: boolean}[]}}
 *   `taken` with their places in what was given; each stands as its kind in brackets in `text`
 */
export function scrub(text, { keep = [], onlySure = false } = {}) {
  const kept = new Set(keep);
  const spoken = new Array(text.length).fill(false);
  const taken = [];
  const hide = (start, end) => {
    if (start >= end || spoken.slice(start, end).some(Boolean)) return false;
    spoken.fill(true, start, end);
    return true;
  };
  for (const shape of SURE) {
    for (const [start, end, kind] of places(text, shape)) {
      if (hide(start, end)) taken.push({ start, end, kind, words: text.slice(start, end), sure: true });
    }
  }
  const numbers = [...[...places(text, DIALLED)].filter(([start, end]) => !isRow(text.slice(start, end))), ...places(text, ONE_BY_ONE)]
    .map(([start, end, kind]) => ({ start, end, kind, words: text.slice(start, end), sure: isSure(text, start, text.slice(start, end)) }));
  const take = (one) => { if (hide(one.start, one.end)) taken.push(one); };
  const leave = (shapes) => { for (const shape of shapes) for (const [start, end] of places(text, shape)) spoken.fill(true, start, end); };
  leave(PARTS);
  numbers.filter((one) => one.sure).forEach(take);
  leave(SHIELDS);
  numbers.filter((one) => !one.sure && !onlySure && !kept.has(one.words)).forEach(take);
  taken.sort((a, b) => a.start - b.start);
  let left = '';
  let last = 0;
  for (const one of taken) {
    left += `${text.slice(last, one.start)}[${one.kind}]`;
    last = one.end;
  }
  return { text: left + text.slice(last), taken };
}
