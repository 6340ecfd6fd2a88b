// The page's texts: one file a language, found by key. Numbers and months by locale.

const LANGUAGES = { en: 'English', es: 'Español' };
// How figures and months are written where the phone itself names no country.
const USUAL = { es: 'es-419' };
let texts = {};
let language = 'en';
let locale = 'en';
// What the trade says in this language: codes by kind, and the catalogue's texts by the digest of
// the English. Loaded with the vocabulary, so that the first view waits for none of it.
let trade = null;
let coming = null;

/** The languages there are, by code, each named in itself. */
export const languages = () => LANGUAGES;

/** The language in use. */
export const inUse = () => language;

/** Choose and load a language: the one saved, else the browser's first that we have. */
export async function useLanguage(wanted) {
  const saved = wanted ?? localStorage.getItem('language');
  const asked = [saved, ...navigator.languages].filter(Boolean).map((l) => l.slice(0, 2));
  language = asked.find((code) => code in LANGUAGES) ?? 'en';
  locale = navigator.languages.find((l) => l.slice(0, 2) === language) ?? USUAL[language] ?? language;
  if (wanted) localStorage.setItem('language', language);
  document.documentElement.lang = language;
  // Every language is whole (a test holds it to that), so one file is enough.
  texts = await load(language).catch(() => load('en'));
  trade = null;
  coming = null;
}

const load = async (name) => (await fetch(`/page/words/${name}.json`)).json();

/** Load the trade's words of this language, once; without them the catalogue's English stands. */
export function tradeWords() {
  if (language === 'en') return null;
  const own = language;
  coming ??= Promise.all([load(`${own}-codes`), load(`${own}-trade`), load(`${own}-made`).catch(() => ({})), import('./digest.js'), import('./made.js')])
    .then(([codes, sayings, made, { digest }, { teller }]) => {
      if (own !== language) return;
      trade = { codes, sayings, digest, told: new Map(), made: teller(made, (text) => sayings[digest(text)]) };
    })
    .catch(() => { coming = null; });
  return coming;
}

/** The text of a key, with {names} filled in. A key without text shows itself, to be seen. */
export function t(key, params = {}) {
  const text = texts[key] ?? key;
  return text.replace(/\{(\w+)\}/g, (whole, name) =>
    name in params ? (typeof params[name] === 'number' ? number(params[name]) : params[name]) : whole);
}

/** Whether there is a text of this key. */
export const has = (key) => key in texts;

/** The text of a count: `key.one`, `key.other`, and `key.none` where there is one. */
export function tn(key, n, params = {}) {
  const form = n === 0 && has(`${key}.none`) ? 'none' : new Intl.PluralRules(locale).select(n);
  const found = has(`${key}.${form}`) ? `${key}.${form}` : `${key}.other`;
  return t(found, { n, ...params });
}

/** A figure as people of this language write it; at most `places` decimals. */
export function number(value, places = 3) {
  return new Intl.NumberFormat(locale, { maximumFractionDigits: places }).format(value);
}

const FIGURE = /^-?\d{1,12}([.,]\d{1,6})?$|^-?[.,]\d{1,6}$/;
const GROUPED = /^-?\d{1,3}(\s\d{3})+([.,]\d{1,6})?$|^-?\d{1,3}(,\d{3})+\.\d{1,6}$|^-?\d{1,3}(\.\d{3})+,\d{1,6}$|^-?\d{1,3}((,\d{3}){2,}|(\.\d{3}){2,})$/;
const EITHER_WAY = /^-?[1-9]\d{0,2}([.,])\d{3}$/;

const plain = (text) => text.trim().replace('−', '-');
const decimalMark = () => new Intl.NumberFormat(locale).format(0.5)[1];
// 1,500 is fifteen hundred to one and one and a half to another. Where the mark is the one this
// phone puts before decimals it is meant so; else nobody knows, and it is a thousandfold.
const isEitherWay = (text) => (EITHER_WAY.exec(text)?.[1] ?? decimalMark()) !== decimalMark();

/** A figure typed by a person, with a point or a comma; NaN where it is none, or could be two. */
export function typed(text) {
  const said = plain(text);
  if (isEitherWay(said)) return NaN;
  if (GROUPED.test(said)) {
    // The last of two marks is the decimal one; a mark that comes again parts thousands.
    const last = Math.max(said.lastIndexOf('.'), said.lastIndexOf(','));
    const once = last >= 0 && said.indexOf(said[last]) === last;
    const whole = (once ? said.slice(0, last) : said).replace(/[\s.,]/g, '');
    return Number(once ? `${whole}.${said.slice(last + 1)}` : whole);
  }
  return FIGURE.test(said) ? Number(said.replace(',', '.')) : NaN;
}

/** What is wrong with a figure that `typed` does not take. */
export function notTaken(text, what) {
  const said = plain(text);
  if (!isEitherWay(said)) return t('figure.bad', { what });
  return t('figure.either', { what, said, whole: said.replace(/[.,]/, ''), part: String(Number(said.replace(',', '.'))) });
}

/** A month such as 2026-10 in words. */
export function month(text) {
  const [year, place] = String(text).split('-').map(Number);
  if (!place) return String(text);
  const day = new Date(Date.UTC(year, place - 1, 15));
  return new Intl.DateTimeFormat(locale, { month: 'long', year: 'numeric', timeZone: 'UTC' }).format(day);
}

/** The month it is here and now, as the wire writes it. */
export function thisMonth(now = new Date()) {
  return `${now.getFullYear()}-${String(now.getMonth() + 1).padStart(2, '0')}`;
}

/** A day of the wire in words. */
export const day = (text) =>
  new Intl.DateTimeFormat(locale, { dateStyle: 'medium', timeZone: 'UTC' }).format(new Date(text));

/** A time of the wire in words, to the minute. */
export function time(text) {
  return new Intl.DateTimeFormat(locale, { dateStyle: 'medium', timeStyle: 'short' }).format(new Date(text));
}

/** A code's own text in this language, else null: the catalogue's English then stands. */
export function codeWord(kind, code) {
  return trade?.codes[kind]?.[code] ?? null;
}

/** What else a code of a kind is called in this language, to be found by. */
export const alsoSaid = (kind, code) => trade?.codes[`said_${kind}`]?.[code] ?? [];

/**
 * What the service says, in this language where the text is the catalogue's own to the letter, or
 * put together of such by a pattern that is known (made.js); a changed text falls back to its
 * English, never to a wrong text. Several texts in one are told
 * apart at the end of a sentence; if one of them is not known, all of it stays English.
 * @param {string} text
 * @param {{english: string, own: string}} [part] a part's name that stands in it
 */
export function said(text, part) {
  if (!trade || !text) return text;
  const told = trade.told.get(text) ?? translated(text, part);
  if (told) trade.told.set(text, told);
  return told ?? text;
}

function translated(text, part) {
  const find = (english) => trade.sayings[trade.digest(english)] ?? trade.made(english);
  const whole = (english, depth) => {
    const found = find(english);
    if (found || depth === 0) return found ?? null;
    for (let end = english.indexOf('. '); end > 0; end = english.indexOf('. ', end + 1)) {
      const first = find(english.slice(0, end + 1));
      const rest = first && whole(english.slice(end + 2), depth - 1);
      if (rest) return `${first} ${rest}`;
    }
    return null;
  };
  const told = whole(text, MOST_IN_ONE - 1);
  if (told || !part) return told;
  return whole(text.replaceAll(part.english, '{part}'), MOST_IN_ONE - 1)?.replaceAll('{part}', part.own) ?? null;
}

const MOST_IN_ONE = 4;
