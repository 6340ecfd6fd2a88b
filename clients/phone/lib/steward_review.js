// What a steward should look at, and what is done about it.

import { h, refill } from './dom.js';
import { t, tn, time } from './words.js';
import { get, send } from './api.js';
import { button, field, notice, spoken, troubleBox, under, way, whileBusy } from './parts.js';

/** The reports to look at, each with why. */
export async function reviewPart() {
  const list = h('div');
  await draw(list);
  return h('section', null, h('h2', null, t('steward.review')), list);
}

async function draw(list) {
  try {
    const { items, more, looked_at } = await get('/v1/review');
    refill(list, h('p', null, tn('steward.to-look', items.length + more)), items.map(card), more > 0 && h('p', null, t('steward.more', { n: items.length })), looked_at && h('p.soft', null, t('steward.looked-at', { n: looked_at })));
  } catch (trouble) {
    refill(list, troubleBox(trouble, () => draw(list)));
  }
}

function card(one) {
  const said = h('div');
  const reason = field(t('steward.reason'), { maxlength: 500 }, t('steward.reason-hint'));
  const judge = (verdict) => whileBusy(async () => {
    const why = reason.input.value.trim();
    if (!why) {
      refill(said, notice(t('steward.reason-needed'), 'bad'));
      reason.input.focus();
      return;
    }
    if (verdict === 'withdraw' && !confirm(t('steward.withdraw-sure'))) return;
    try {
      await send('POST', `/v1/review/${one.report}`, { verdict, reason: why });
      const done = notice(t(`steward.done-${verdict}`), 'good');
      box.replaceWith(done);
    } catch (trouble) {
      refill(said, troubleBox(trouble));
    }
  });
  const box = h('div.card', null, h('p', null, h('strong', null, one.member), ', ', time(one.received)),
    h('ul', null, one.why.map((why) => h('li', null, spoken(why.says)))),
    way(t('steward.read'), `/look/${one.report}`),
    under(t('steward.decide'), reason, button(t('steward.keep'), judge('keep')), button(t('steward.withdraw'), judge('withdraw'), 'danger'), said));
  return box;
}
