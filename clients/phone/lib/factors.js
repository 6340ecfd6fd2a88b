// What speaks for or against a cause, in words: the service names it by codes and short texts.

import { t } from './words.js';
import { label, vocabularyNow } from './vocabulary.js';
import { spoken } from './parts.js';

const TRIED = /^([a-z0-9-]+) ([a-z-]+): ([a-z-]+)$/;
const NO = 'no ';
const SAID_OF = 'said of ';

/**
 * A factor in words, as a child of an element.
 * @param {string} of as the wire has it: signs, "no" and a sign, a thing tried, a look, a reading
 */
export function factorWords(of) {
  if (of.startsWith(NO) && isSign(of.slice(NO.length))) return t('factor.not', { what: label('symptoms', of.slice(NO.length)) });
  if (of.startsWith(SAID_OF)) return t('factor.said-of', { what: of.slice(SAID_OF.length).split(', ').map(causeWords).join('; ') });
  const signs = of.split(', ');
  if (signs.every(isSign)) return signs.map((code) => label('symptoms', code)).join(', ');
  return tried(of) ?? looked(of) ?? spoken(of);
}

const isSign = (code) => Boolean(vocabularyNow()?.symptoms?.[code]);

/** A part and what is wrong with it. */
export const causeName = ({ component, failure }) => [label('components', component), failure && label('failures', failure)].filter(Boolean).join(': ');

/** A cause as the wire writes it, part/failure, in words. */
export function causeWords(cause) {
  const [component, failure] = cause.split('/');
  return causeName({ component, failure });
}

function tried(of) {
  const [, component, action, result] = TRIED.exec(of) ?? [];
  if (!vocabularyNow()?.components?.[component] || !vocabularyNow().actions?.[action]) return null;
  return t('done.tried', { part: label('components', component), action: label('actions', action), result: label('results', result) });
}

// A look is named by its heading and the code of what was found.
function looked(of) {
  const end = of.lastIndexOf(': ');
  const check = Object.values(vocabularyNow()?.checks ?? {}).find((one) => one.label === of.slice(0, end));
  const found = check?.found?.[of.slice(end + 2)];
  return found ? [spoken(check.label), ': ', spoken(found)] : null;
}
