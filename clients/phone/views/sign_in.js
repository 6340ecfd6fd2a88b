// Signing in: one link or one code from a steward, nothing to remember.

import { h, refill } from '../lib/dom.js';
import { t } from '../lib/words.js';
import { signIn } from '../lib/api.js';
import { setPref } from '../lib/keep.js';
import { goInstead } from '../lib/route.js';
import { settle } from '../lib/mine.js';
import { flush } from '../lib/queue.js';
import { renew } from '../lib/vocabulary.js';
import { button, field, troubleBox, whileBusy } from '../lib/parts.js';

/** Make the view; a code that came with the link is used when the button is pressed. */
export async function show({ code: brought = '' }) {
  // It is good once; nothing is gained by its standing in the browser's list of places.
  if (brought) history.replaceState(null, '', '#/sign-in');
  const code = field(t('sign-in.code'), { value: brought, autocomplete: 'one-time-code', autocapitalize: 'none', spellcheck: 'false', maxlength: 200 }, t('sign-in.hint'));
  const said = h('div');
  const enter = whileBusy(async () => {
    try {
      const member = await signIn(code.input.value.trim());
      await setPref('member', member.name).catch(() => {});
      renew().catch(() => {});
      // Another member's things go first, and the page is loaded anew without them.
      if (await settle(member)) return;
      flush().catch(() => {});
      goInstead('/');
    } catch (trouble) {
      refill(said, troubleBox(trouble));
    }
  });
  const go = button(t('sign-in.enter'), enter, 'main');
  return h('form', { onsubmit: (e) => { e.preventDefault(); go.click(); } },
    h('h1', null, t('sign-in.title')), h('p', null, t(brought ? 'sign-in.brought' : 'sign-in.how')), code, go, said,
    h('p.soft', null, t('sign-in.kept')));
}
