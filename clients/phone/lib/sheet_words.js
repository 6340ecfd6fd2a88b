// What the sheet says, in the page's language. The service makes its lines of the catalogue's
// texts; where a line is made of them to the letter, each is said in this language, else the
// line stays English. Never a wrong text.

import { codeWord, inUse, said, t } from './words.js';
import { label, vocabularyNow } from './vocabulary.js';
import { spoken } from './parts.js';

const lowFirst = (text) => text.slice(0, 1).toLowerCase() + text.slice(1);
const codeOf = (kind, text) => Object.entries(vocabularyNow()?.[kind] ?? {}).find(([, one]) => (one.label ?? one) === text)?.[0];

const TEST = /^(.+?)(?: \(([\d.]+) min\))?\. Good: (.+)$/s;
const FIX = /^If it points there: (.+), ([a-z-]+)(?: \(([\d.]+) min\))?\.$/;

const lasts = (minutes) => (minutes ? ` (${minutes} min)` : '');

/** A step of the sheet: a check with what is good, or what to do if it points there. */
export function stepWords(text) {
  if (inUse() === 'en') return text;
  const [, name, takes, good] = TEST.exec(text) ?? [];
  const check = Object.values(vocabularyNow()?.checks ?? {}).find((one) => one.label === name && lowFirst(one.expect) === good);
  if (check && said(check.label) !== check.label && said(check.expect) !== check.expect) {
    return `${said(check.label)}${lasts(takes)}. ${t('step.expect')} ${lowFirst(said(check.expect))}`;
  }
  const [, part, action, needs] = FIX.exec(text) ?? [];
  const component = codeOf('components', part);
  if (component && codeWord('components', component) && codeWord('actions', action)) {
    return `${t('sheet.points-there')} ${t('step.fix', { part: label('components', component), action: label('actions', action) })}${lasts(needs)}.`;
  }
  return spoken(text);
}

/** What it often is: a part and what is wrong with it. */
export function oftenWords(text) {
  if (inUse() === 'en') return text;
  const [part, wrong] = text.split(': ');
  const [component, failure] = [codeOf('components', part), codeOf('failures', wrong)];
  return component && failure && codeWord('components', component) && codeWord('failures', failure)
    ? `${label('components', component)}: ${label('failures', failure)}` : text;
}

const BANDS = [[/^(\S+) to (\S+)$/, 'sheet.between'], [/^(\S+) or more$/, 'sheet.least'], [/^(\S+) or less$/, 'sheet.most']];

/** A band of good values. */
export function bandWords(text) {
  const found = inUse() === 'en' ? null : BANDS.map(([form, key]) => [form.exec(text), key]).find(([match]) => match);
  return found ? t(found[1], { low: found[0][1], high: found[0][2] ?? found[0][1] }) : text;
}

/** What stands behind the sheet. */
export const fromWords = (sheet) => (inUse() === 'en' ? sheet.words.from
  : t(sheet.reports ? 'sheet.from-reports' : 'sheet.from-none', { n: sheet.reports, version: sheet.catalogue.slice(0, 8) }));
