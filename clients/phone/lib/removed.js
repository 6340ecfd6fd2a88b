// What is taken out of the texts of a report: here by shape, then by the service by its words.
// Shows it struck through in its sentence, to the one who wrote it and nobody else.

import { h } from './dom.js';
import { send } from './api.js';
import { t } from './words.js';
import { scrub } from './scrub.js';

const KINDS = 'name|phone|email|address|position|link|handle|number|day';
const MARK = new RegExp(`\\[(?:${KINDS})\\]`, 'g');

/** The free texts of a report or follow-up: [pointer, whether it is the name of a thing]. */
function pointers(body) {
  const list = [['complaint'], ['note'], ['region']].map((at) => [at, false]);
  for (const name of ['make', 'model']) list.push([['machine', name], true]);
  (body.attempts ?? []).forEach((_, i) => ['part', 'fits'].forEach((name) => list.push([['attempts', i, name], true])));
  (body.readings ?? []).forEach((_, i) => ['text', 'value'].forEach((name) => list.push([['readings', i, name], false])));
  return list.filter(([at]) => typeof read(body, at) === 'string' && read(body, at).trim());
}

const read = (body, at) => at.reduce((held, key) => held?.[key], body);

/** Put a text at a place of a body. */
export function putText(body, at, value) {
  at.slice(0, -1).reduce((held, key) => held[key], body)[at.at(-1)] = value;
}

/**
 * Take out of a body what has a shape.
 * @param {object} body left as it is
 * @param {string[]|'unsure'} keep numbers the person said are a part's, or all that may be one
 * @returns {{body: object, texts: {at: (string|number)[], before: string, text: string, taken: object[]}[]}}
 */
export function scrubBody(body, keep = []) {
  const clean = structuredClone(body);
  const texts = pointers(body).map(([at, isThing]) => {
    const before = read(body, at).normalize('NFC').trim();
    const { text, taken } = scrub(before, { keep: keep === 'unsure' ? [] : keep, onlySure: isThing || keep === 'unsure' });
    putText(clean, at, text);
    return { at, before, text, taken };
  });
  return { body: clean, texts };
}

/**
 * Cut a text into what stays and what went, by comparing it with what is left of it.
 * @param {string} before
 * @param {string} after the same with marks such as [name] for what went
 * @returns {({text: string}|{gone: string, kind: string})[]|null} null where one is not of the other
 */
export function cut(before, after) {
  const stays = after.split(MARK);
  const marks = after.match(MARK) ?? [];
  const pieces = [];
  const last = stays.length - 1;
  if (!before.startsWith(stays[0]) || !before.endsWith(stays[last])) return null;
  let place = stays[0].length;
  pieces.push({ text: stays[0] });
  for (let i = 1; i <= last; i += 1) {
    const next = i === last ? before.length - stays[i].length : place + nextPlace(before.slice(place), stays[i], marks[i - 1]);
    if (next < place + 1) return null;
    pieces.push({ gone: before.slice(place, next), kind: marks[i - 1].slice(1, -1) }, { text: stays[i] });
    place = next + stays[i].length;
  }
  // A mark that was there before was not put there now.
  return pieces.map((one) => (one.gone === `[${one.kind}]` ? { text: one.gone } : one)).filter((one) => one.text !== '');
}

/** Where the part that stays goes on, behind what went; a mark that stood there is whole. */
function nextPlace(text, stays, mark) {
  if (text.startsWith(mark + stays)) return mark.length;
  const found = text.indexOf(stays, 1);
  return found < 0 ? -1 : found;
}

/**
 * A text of `scrubBody` as it will be kept by the pool, in pieces.
 * @param {{text: string, taken: object[]}} one
 * @param {string|null} after what the service leaves of it; null where it was not asked
 */
export function pieces(one, after) {
  const own = [...one.taken];
  const cutUp = after === null ? [{ text: one.text }] : cut(one.text, after.trim()) ?? [{ text: after }];
  // What went here stands as its mark in the text; the words come back for the eye.
  return cutUp.flatMap((piece) => {
    if (piece.text === undefined) return [piece];
    const out = [];
    let last = 0;
    for (const found of piece.text.matchAll(MARK)) {
      const words = own.find((o) => `[${o.kind}]` === found[0]);
      if (words) own.splice(own.indexOf(words), 1);
      out.push({ text: piece.text.slice(last, found.index) }, { gone: words?.words ?? found[0], kind: found[0].slice(1, -1), here: words ?? null });
      last = found.index + found[0].length;
    }
    return [...out, { text: piece.text.slice(last) }].filter((p) => p.text !== '');
  });
}

/** The pieces as a sentence, what goes struck through with its kind behind it. */
export const sentence = (list) => h('p.sentence', null, list.map((one) => (one.text === undefined
  ? [h('del', null, one.gone), h('small', null, ` (${t('removed.goes', { kind: t(`removed.${one.kind}`) })})`)] : one.text)));

const PATIENCE_MS = 1500;

/**
 * What goes out of a note that belongs to a report which is kept already: by shape, and by the
 * service's words where it answers soon.
 * @returns {Promise<{note: string, list: object[]}>} what is left of it, and its pieces
 */
export async function noteLooked(report, note) {
  const { machine, symptoms = [], complaint, outcome } = report;
  const asked = scrubBody({ machine, note }, 'unsure');
  const like = { machine, outcome, note: asked.body.note, ...(symptoms.length ? { symptoms } : { complaint }) };
  const slow = new Promise((resolve) => { setTimeout(resolve, PATIENCE_MS, null); });
  const seen = await Promise.race([send('POST', '/v1/reports/preview', like).catch(() => null), slow]);
  const after = seen && textAt(seen.report, ['note']);
  const one = (after ? asked : scrubBody({ machine, note })).texts.find(({ at }) => at[0] === 'note');
  return { note: after ?? one.text, list: pieces(one, after) };
}

/** What a text of the service's answer says at a place of the body. */
export const textAt = (body, at) => { const found = read(body, at); return typeof found === 'string' ? found : null; };
