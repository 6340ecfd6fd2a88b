// What waits to be sent, why, and what can be done about it. Nothing goes but by its owner.

import { h, refill } from '../lib/dom.js';
import { t, time, tn } from '../lib/words.js';
import { again, flush, holder, isOf, lastTrouble, takeBack, waiting, whileShown } from '../lib/queue.js';
import { keepWalk, walk } from '../lib/question.js';
import { vocabulary } from '../lib/vocabulary.js';
import { reasons } from '../lib/queue_words.js';
import { button, notice, troubleBox, way, whileBusy } from '../lib/parts.js';

/** Make the view. */
export async function show() {
  await vocabulary();
  const box = h('div');
  await draw();
  whileShown(box, draw);
  return box;

  async function draw() {
    let all;
    let who;
    try { all = await waiting(); who = await holder(); } catch (trouble) { refill(box, h('h1', null, t('waiting.title')), troubleBox(trouble)); return; }
    const trouble = lastTrouble();
    const ready = all.filter((one) => one.state === 'waiting');
    refill(box, h('h1', { tabindex: '-1' }, t('waiting.title')),
      all.length === 0 && h('p', null, t('waiting.none')),
      ready.length > 0 && notice(tn('waiting.some', ready.length), 'note',
        h('p', null, t(navigator.onLine ? (trouble ? `state.${trouble}` : 'waiting.not-tried') : 'state.offline')),
        trouble === 'signed-out' && way(t('sign-in.go'), '/sign-in', 'main'),
        button(t('waiting.now'), whileBusy(() => flush()), trouble === 'signed-out' ? '' : 'main')),
      all.filter((one) => one.kind !== 'photo' || !all.some((report) => report.id === one.of)).map((one) => card(one, all, isOf(one, who))));
  }
}

function card(one, all, own) {
  const photos = all.filter((other) => other.of === one.id && other.kind === 'photo').length;
  const later = all.filter((other) => other.of === one.id && other.kind === 'followup').length;
  const aside = one.state === 'set-aside';
  const mend = { report: one.walk && `/report/${one.walk}?mend=1`, followup: `/follow/${one.report}?mend=${one.id}` }[one.kind];
  const take = async () => {
    const sure = t(later || photos ? 'waiting.take-back-all' : 'waiting.take-back-sure');
    if (!confirm(`${sure} ${t(one.attempted && one.kind === 'report' ? 'waiting.take-back-tried' : 'waiting.take-back-never')}`)) return;
    await takeBack(one.id);
    if (one.kind === 'report') await closed(one.walk, true);
  };
  const mending = one.why?.kind === 'mending';
  const box = h('section.card', null, h('h2', null, one.kind === 'erase' ? t('waiting.erase', { title: one.title }) : t(`waiting.${one.kind}`, { title: one.title })),
    h('p.soft', null, t('waiting.since', { when: time(new Date(one.made).toISOString()) }), photos > 0 && ` ${tn('kept.photos', photos)}`),
    h('p', null, h('span.verdict', null, t(aside ? 'waiting.is-aside' : 'waiting.is-waiting'))),
    !own && h('p', null, t('waiting.not-yours')),
    aside && reasons(one),
    own && mend && way(t(mending ? 'waiting.go-on' : 'waiting.mend'), mend),
    own && aside && button(t(mending ? 'waiting.as-it-was' : 'waiting.again'), async () => {
      if (mending && one.kind === 'report') await closed(one.walk, false);
      await again(one.id);
    }),
    own && one.kind !== 'erase' && button(t('waiting.take-back'), take, 'danger'));
  for (const place of box.querySelectorAll('button, a')) place.dataset.of = one.id;
  return box;
}

/** The trouble of a report is over, sent or taken back. */
async function closed(id, taken) {
  const it = id && (await walk(id));
  if (it?.report) await keepWalk({ ...it, done: true, mending: false, report: { ...it.report, taken } });
}
