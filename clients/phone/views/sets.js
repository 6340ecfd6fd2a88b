// The member's own generator sets.

import { h } from '../lib/dom.js';
import { t } from '../lib/words.js';
import { all } from '../lib/keep.js';
import { way } from '../lib/parts.js';
import { plateLine } from '../lib/plate.js';
import { vocabulary } from '../lib/vocabulary.js';

/** Make the view. */
export async function show() {
  await vocabulary();
  const sets = await all('sets').catch(() => []);
  return h('div', null, h('h1', null, t('place.sets')),
    sets.length === 0 && h('p', null, t('sets.none')),
    sets.map((one) => h('section.card', null, h('h2', null, one.name), h('p', null, plateLine(one.machine)),
      way(t('set.ask'), `/ask?set=${one.id}`), way(t('set.open'), `/sets/${one.id}`))),
    way(t('sets.add'), '/sets/new', 'main'));
}
