// A report that was told: whether it is sent, or waits on this phone, and why.

import { h, refill } from './dom.js';
import { t, tn } from './words.js';
import { flush, lastTrouble, waiting, whileShown } from './queue.js';
import { button, notice, way } from './parts.js';
import { reasons } from './queue_words.js';

/** The view; it changes by itself when the report is sent. */
export async function keptView(it) {
  const box = h('div');
  await draw();
  whileShown(box, draw);
  return box;

  async function draw() {
    const all = await waiting().catch(() => []);
    const own = all.find((one) => one.id === it.report.id);
    const photos = all.filter((one) => one.of === it.report.id && one.kind === 'photo').length;
    const taken = !own && it.report.taken;
    refill(box, h('h1', { tabindex: '-1' }, t(own ? 'kept.title' : taken ? 'taken.title' : 'sent.title')),
      taken ? [h('p', null, t('taken.says')), way(t('taken.anew'), `/report/${it.id}?mend=1`)] : own ? [notice(t(own.state === 'waiting' ? 'kept.waits' : 'kept.aside'), own.state === 'waiting' ? 'note' : 'bad', own.state === 'waiting' ? lastTrouble() && h('p', null, t(`state.${lastTrouble()}`)) : reasons(own)),
        own.state === 'waiting' ? button(t('waiting.now'), () => flush().catch(() => {})) : way(t('waiting.mend'), `/report/${it.id}?mend=1`, 'main'),
        way(t('waiting.title'), '/waiting')]
        : [notice(t('sent.thanks'), 'good'), way(t('sent.read'), `/look/${it.report.id}`), way(t('sent.again'), `/follow/${it.report.id}`, 'quiet')],
      photos > 0 && h('p', null, tn('kept.photos', photos)));
  }
}
