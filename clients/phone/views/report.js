// Report how a trouble ended: it grows out of the steps just walked, so that little is left to
// type. Three places of one walk: telling it, looking at what will be sent, kept or sent.

import { h } from '../lib/dom.js';
import { t, thisMonth } from '../lib/words.js';
import { read } from '../lib/keep.js';
import { begin, keepWalk, walk } from '../lib/question.js';
import { holder, isOf, setAside, waiting } from '../lib/queue.js';
import { uuid7 } from '../lib/ids.js';
import { vocabulary } from '../lib/vocabulary.js';
import { newReport } from '../lib/report_body.js';
import { notice, way } from '../lib/parts.js';

/** Make the view; `step=check` shows what will be sent, `mend` opens one that waits again. */
export async function show({ id, set, step, mend }) {
  const words = await vocabulary();
  if (!words) return h('div', null, h('h1', null, t('place.report')), notice(t('needs-vocabulary'), 'bad'));
  const it = id ? await walk(id) : begin(set ? await read('sets', set) : null);
  if (!it) return h('div', null, h('h1', null, t('place.report')), notice(t('gone'), 'bad'), way(t('home.report'), '/report'));
  it.report ??= newReport(uuid7(), thisMonth());
  const answer = (await read('answers', it.id).catch(() => undefined))?.answer;
  const queued = (await waiting().catch(() => [])).find((one) => one.id === it.report.id);
  // Another member's, on a phone that is lent, is not this one's to mend, nor to read.
  if (queued && !isOf(queued, await holder())) {
    return h('div', null, h('h1', null, t('place.report')), notice(t('waiting.not-yours'), 'bad'), way(t('waiting.title'), '/waiting'));
  }
  if (mend && it.done) await reopen(it);
  if (it.done || isQueued(it, queued)) {
    const { keptView } = await import('../lib/report_kept.js');
    return keptView(it);
  }
  if (step === 'check') {
    const { checkView } = await import('../lib/report_check.js');
    return checkView(it, answer, words);
  }
  const { formView } = await import('../lib/report_form.js');
  return formView(it, answer, words, !id);
}

/** It went into the queue, though the phone died before the walk was closed. */
const isQueued = (it, queued) => Boolean(queued) && queued.why?.kind !== 'mending' && !it.mending;

async function reopen(it) {
  await setAside(it.report.id);
  Object.assign(it, { done: false, mending: true });
  it.report.taken = false;
  await keepWalk(it);
}
