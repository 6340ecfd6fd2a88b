// A code that is shown once: to be read out, copied or sent on.

import { h } from './dom.js';
import { t, time } from './words.js';
import { button, notice } from './parts.js';

/**
 * A code just made, with the link that brings it along.
 * @param {string} name whose it is
 * @param {{code: string, expires: string}} made
 */
export function codeBox(name, made) {
  const link = `${location.origin}/#join=${made.code}`;
  const said = h('p', { role: 'status' });
  const text = t('steward.code-text', { link });
  const copy = button(t('steward.copy'), async () => {
    // Where the browser lets nothing be copied, the link is marked to be copied by hand.
    try { await navigator.clipboard.writeText(link); said.textContent = t('steward.copied'); } catch { mark(shown); said.textContent = t('steward.copy-by-hand'); }
  });
  const shown = h('p.code', { tabindex: '-1' }, link);
  return notice(t('steward.code-once', { name }), 'good', shown, copy,
    navigator.share && button(t('steward.share'), () => navigator.share({ text }).catch(() => {})), said,
    h('p', null, t('steward.code-alone'), ' ', h('code', null, made.code)),
    h('p.hint', null, t('steward.code-until', { when: time(made.expires) })));
}

function mark(element) {
  const range = document.createRange();
  range.selectNodeContents(element);
  const selection = getSelection();
  selection.removeAllRanges();
  selection.addRange(range);
  element.focus();
}
