// Where the page opens: the trouble at hand first, then what is due.

import { h } from '../lib/dom.js';
import { t, thisMonth, tn, time } from '../lib/words.js';
import { whoIs, session } from '../lib/api.js';
import { all, pref } from '../lib/keep.js';
import { sorted } from '../lib/due.js';
import { mine } from '../lib/mine.js';
import { keepWalk, open } from '../lib/question.js';
import { button, way } from '../lib/parts.js';

/** Make the view. */
export async function show() {
  const knows = whoIs() ?? (await session().catch(() => null));
  const wasHere = await pref('member');
  const [sets, walks] = await Promise.all([all('sets').catch(() => []), open().catch(() => [])]);
  const due = sorted(await mine(), thisMonth()).due.length;
  const named = Object.fromEntries(sets.map((one) => [one.id, one.name]));
  return h('div', null,
    h('h1', null, t('home.title')),
    !knows && !wasHere && welcome(),
    !knows && wasHere && navigator.onLine && h('div.notice.bad', null, h('p', null, t('home.signed-out')), way(t('sign-in.go'), '/sign-in')),
    (knows || wasHere) && [
      way(t('home.ask'), '/ask', 'main'),
      walks.length > 0 && h('section', null, h('h2', null, tn('home.open', walks.length)), walks.slice(0, 3).map((w) => h('div', null,
        way(t('home.go-on', { what: w.complaint.slice(0, 60) || t('home.no-words'), set: named[w.set] ?? t('set.unnamed'), when: time(w.begun) }), `/${w.report ? 'report' : 'answer'}/${w.id}`),
        button(t('home.let-go'), async (e) => { await keepWalk({ ...w, done: true }); e.target.closest('div').remove(); }, 'quiet')))),
      way(t('home.report'), '/report'),
      way(due ? tn('home.due', due) : t('home.follow'), '/follow'),
      h('h2', null, t('place.sets')),
      sets.length ? h('ul.plain', null, sets.map((one) => h('li', null, way(one.name, `/sets/${one.id}`)))) : h('p', null, t('sets.none')),
      way(t('sets.add'), '/sets/new'),
      way(t('place.look'), '/look'),
      way(t('phone.title'), '/phone', 'quiet'),
    ]);
}

function welcome() {
  return [h('p', null, t('home.what')), h('p', null, t('home.closed')), way(t('sign-in.go'), '/sign-in', 'main'), h('p', null, t('home.safe'))];
}
