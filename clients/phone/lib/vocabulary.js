// The trade's words as the service has them, kept on the phone; symptoms are found by words.

import { get } from './api.js';
import { finder } from './find.js';
import { keep, pref, read, setPref } from './keep.js';
import { alsoSaid, codeWord, inUse, tradeWords } from './words.js';

const DAY_MS = 86400000;
let held = null;
let coming = null;
let inMindSince = null;

/** The vocabulary kept on this phone; null where none was fetched yet. */
export async function kept() {
  held ??= (await read('vocabulary', 'it').catch(() => undefined))?.value ?? null;
  return held;
}

/** The vocabulary if it is at hand already; for texts made in passing. */
export const vocabularyNow = () => held;

/** The vocabulary, fetched where there is none; null with no signal and none kept. */
export async function vocabulary() {
  const [value] = await Promise.all([kept().then((own) => own ?? renew().catch(() => null)), tradeWords()]);
  return value;
}

/** Fetch it anew, once at a time. */
export function renew() {
  coming ??= (async () => {
    const value = await get('/v1/vocabulary');
    held = value;
    await keep('vocabulary', { key: 'it', value }).catch(() => {});
    await setPref('renewed', Date.now()).catch(() => {});
    return value;
  })().finally(() => { coming = null; });
  return coming;
}

/**
 * Fetch anew what is kept, at most once a day: a limit or a caution that was put right has to
 * arrive, also where the page stays open. What another tab has fetched is taken from the phone.
 */
export async function renewDaily() {
  const fetched = await pref('renewed', 0);
  if (!(await kept())) return;
  const age = Date.now() - fetched;
  if (!(age >= 0 && age < DAY_MS)) await renew();
  else if (inMindSince !== null && inMindSince !== fetched) held = (await read('vocabulary', 'it').catch(() => undefined))?.value ?? held;
  inMindSince = await pref('renewed', 0);
}

/** A code in words: this language's, else the catalogue's, else the code itself. */
export function label(kind, code) {
  if (code === null || code === undefined) return '';
  const found = held?.[kind]?.[code];
  return codeWord(kind, code) ?? (typeof found === 'string' ? found : found?.label) ?? String(code).replaceAll('-', ' ');
}

/** A part's name as it stands in a text of the service, and in this language: for `said`. */
export const partWords = (code) => ({ english: held?.components?.[code]?.label ?? code, own: label('components', code) });

/** A field of the nameplate in words. */
export const machineLabel = (fieldName, code) => codeWord(fieldName, code) ?? held?.machine?.[fieldName]?.[code] ?? String(code).replaceAll('-', ' ');

/** Whether what is known of a set does not rule something out; `only` lists what it is for. */
export function admits(only, machine) {
  return Object.entries(only ?? {}).every(([name, codes]) => {
    const own = machine?.[name];
    return !codes?.length || own === undefined || own === null || own === '' || own === 'not-known' || codes.map(String).includes(String(own));
  });
}

/** The gravest caution of a topic for such a set, as the service would give it; none without. */
export function cautionsOf(topic, machine) {
  return (held?.cautions ?? []).filter((one) => one.topic === topic && admits(one.only, machine)).slice(0, 1);
}

/**
 * Symptoms that fit some words, the best first. For tapping while typing; what the words mean
 * is for the service to say.
 * @returns {string[]} codes, at most `most`
 */
export const findSymptoms = (text, machine, most = 6) => find('symptoms', text, machine, most);

/** Parts that fit some words, as `findSymptoms`. */
export const findComponents = (text, machine, most = 6) => find('components', text, machine, most);

function find(kind, text, machine, most) {
  if (!held || text.trim().length < 3) return [];
  return finderOf(kind)(text, (code) => admits(held[kind][code].only, machine), most);
}

const ready = {};

// Made anew when the vocabulary or the language has changed.
function finderOf(kind) {
  const made = ready[kind];
  if (made?.of === held && made.language === inUse()) return made.find;
  const phrases = ([code, one]) => [code, [one.label, codeWord(kind, code), ...alsoSaid(kind, code), ...(one.aliases ?? [])].filter(Boolean)];
  ready[kind] = { of: held, language: inUse(), find: finder(Object.fromEntries(Object.entries(held[kind]).map(phrases))) };
  return ready[kind].find;
}
