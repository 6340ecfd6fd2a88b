// Small pieces that several views share.

import { h, refill, unique } from './dom.js';
import { inUse, notTaken, number, said, t, typed } from './words.js';

/** A button. */
export const button = (text, onclick, kind = '') => h(`button${kind ? `.${kind}` : ''}`, { type: 'button', onclick }, text);

/** A link to a place of the page that looks like a button. */
export const way = (text, place, kind = 'way') => h(`a.${kind}`, { href: `#${place}` }, text);

/** A labelled field. `props` go to the input, `hint` stands under the label. */
export function field(label, props = {}, hint = '') {
  const id = unique('field');
  const describe = hint ? `${id}-hint` : null;
  const input = h(props.rows ? 'textarea' : 'input', { id, autocomplete: 'off', 'aria-describedby': describe, ...props });
  const box = h('div.field', null, h('label', { for: id }, label), hint && h('p.hint', { id: describe }, hint), input);
  return Object.assign(box, { input });
}

/**
 * A field for a figure, with the number pad of the phone. Point or comma, both are read.
 * @param {string} label
 * @param {string} unit shown behind the field
 */
export function figure(label, unit, props = {}, hint = '') {
  const box = field(label, { inputmode: 'decimal', size: 8, maxlength: 14, ...props }, hint);
  if (unit) {
    const row = h('div.beside', null);
    box.input.replaceWith(row);
    row.append(box.input, h('span.unit', null, unit));
  }
  return box;
}

/**
 * A figure that is taken as it stands, and says by itself what can't be taken.
 * @param {(value: number | null) => void} take hears the figure, or null where there is none
 */
export function takenFigure(label, unit, value, take) {
  const said = h('div', { 'aria-live': 'polite' });
  const box = figure(label, unit, { value: value ?? '',
    oninput: (e) => { const given = typed(e.target.value); take(given >= 0 ? given : null); refill(said); },
    onchange: (e) => refill(said, e.target.value.trim() !== '' && !(typed(e.target.value) >= 0) && notice(notTaken(e.target.value, label), 'bad')) });
  box.append(said);
  return box;
}

/** A choice out of a few: [code, text] pairs as radio buttons, one column. */
export function choice(label, options, chosen, onpick) {
  const name = unique('choice');
  return h('fieldset.choice', null, h('legend', null, label), options.map(([code, text]) =>
    h('label', null, h('input', { type: 'radio', name, value: code, checked: code === chosen, onchange: () => onpick(code) }), h('span', null, text))));
}

/** A choice out of many: a select with an empty first line. */
export function select(label, options, chosen, onpick, props = {}) {
  const id = unique('field');
  const list = h('select', { id, onchange: (e) => onpick?.(e.target.value), ...props },
    h('option', { value: '' }, t('select.none')),
    options.map(([code, text]) => h('option', { value: code, selected: code === chosen }, text)));
  return Object.assign(h('div.field', null, h('label', { for: id }, label), list), { input: list });
}

/** A box to tick. */
export function tick(label, checked, onchange, hint = '') {
  return h('label.tick', null, h('input', { type: 'checkbox', checked, onchange: (e) => onchange(e.target.checked) }),
    h('span', null, label, hint && h('small', null, ` ${hint}`)));
}

/** Something told at once, also to a screen reader. kind: 'note', 'careful', 'bad', 'good' */
export const notice = (text, kind = 'note', ...more) =>
  h(`div.notice.${kind}`, { role: kind === 'bad' ? 'alert' : 'status' }, h('p', null, text), more);

/** What the service says, as a child of an element: what stays English is marked so, to be read aloud right. */
export function spoken(text, part) {
  const own = said(text, part);
  return own && own === text && inUse() !== 'en' ? h('span', { lang: 'en' }, text) : own;
}

/** A text of the page around something drawn, in the place of the name it holds. */
export function around(key, name, part, params = {}) {
  const [before, after] = t(key, { ...params, [name]: PLACE }).split(PLACE);
  return [before, part, after];
}

const PLACE = '\uFFFC';

/** Where a figure or a warning comes from; sources are named as they name themselves. */
export const sourceWords = (source) => around('source', 'source', inUse() === 'en' ? source : h('span', { lang: 'en' }, source));

/** The cautions of an answer, before all else. */
export function cautions(list, title = t('cautions.title')) {
  if (!list?.length) return null;
  return h('section.careful', { 'aria-label': title }, h('h2', null, title),
    h('ul', null, list.map((c) => h('li', null, spoken(c.says), c.source && h('small', null, ' ', sourceWords(c.source))))));
}

/** What lies under a line one may open. */
export const under = (title, ...inside) => h('details', null, h('summary', null, title), inside);

/** Say what went wrong with a request, and what to do about it. */
export function troubleBox(trouble, again) {
  const kind = trouble.kind ?? (trouble.name === 'NoRoom' ? 'no-room' : 'ours');
  const says = trouble.problem?.detail;
  const errors = trouble.problem?.errors ?? [];
  return h('div.notice.bad', { role: 'alert' }, h('p', null, t(`trouble.${kind}`)),
    says && kind !== 'offline' && h('p', null, spoken(says)),
    errors.length > 1 && h('ul', null, errors.map((e) => h('li', null, spoken(e.says), e.did_you_mean && ` ${t('meant', { word: e.did_you_mean })}`))),
    kind === 'signed-out' && way(t('sign-in.go'), '/sign-in'),
    again && button(t('again'), again));
}

/** Minutes in words. */
export const minutes = (n) => (n === null || n === undefined ? null : n >= 90 ? t('hours', { n: Math.round(n / 6) / 10 }) : t('minutes', { n: Math.round(n) }));

/** A unit of the wire as people write it; a plain ratio has none. */
export const unitWord = (unit) => ({ 1: '', degC: '°C', ohm: 'Ω', Mohm: 'MΩ', uF: 'µF' }[unit] ?? unit ?? '');

/** A reading's figure with its unit. */
export const withUnit = (value, unit) => `${number(value)} ${unitWord(unit)}`.trim();

/** Do something slow from a button, showing that it is under way; twice is once. */
export function whileBusy(work) {
  return async (event) => {
    const own = event.currentTarget;
    if (own.getAttribute('aria-busy') === 'true') return;
    own.setAttribute('aria-busy', 'true');
    try { await work(event); } finally { own.removeAttribute('aria-busy'); }
  };
}
