// The steward's place: what to look at, who is here, who is asked in.

import { h } from '../lib/dom.js';
import { t } from '../lib/words.js';
import { session, whoIs } from '../lib/api.js';
import { vocabulary } from '../lib/vocabulary.js';
import { notice, troubleBox, way } from '../lib/parts.js';
import { invitationsPart, membersPart } from '../lib/steward_members.js';
import { reviewPart } from '../lib/steward_review.js';

/** Make the view; the service decides who may, this only says it early. */
export async function show() {
  const title = h('h1', null, t('place.steward'));
  try {
    const me = whoIs() ?? (await session());
    if (!me) return h('div', null, title, notice(t('trouble.signed-out'), 'bad'), way(t('sign-in.go'), '/sign-in'));
    if (me.role !== 'steward') return h('div', null, title, notice(t('steward.not-you'), 'bad'));
  } catch (trouble) {
    return h('div', null, title, troubleBox(trouble), h('p', null, t('steward.needs-signal')));
  }
  // Why a report is to be looked at is told in the trade's words.
  await vocabulary();
  const parts = await Promise.all([reviewPart(), invitationsPart(), membersPart()]);
  return h('div', null, title, parts);
}
