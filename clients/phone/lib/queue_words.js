// Why something was not sent, in words.

import { h } from './dom.js';
import { t } from './words.js';

/** Why the pool does not take it as it is, with what it said of each place. */
export function reasons(thing) {
  const why = thing.why ?? {};
  const errors = why.errors ?? [];
  return h('div', null, h('p', null, t(`aside.${why.kind ?? 'refused'}`)),
    why.detail && why.kind === 'refused' && !errors.length && h('p', null, why.detail),
    errors.length > 0 && h('ul', null, errors.map((e) => h('li', null, e.says, e.did_you_mean && ` ${t('meant', { word: e.did_you_mean })}`))));
}
