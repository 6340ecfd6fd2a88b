// Follow up: which repairs are to be looked at again; the ones that are due come first.

import { h, refill } from '../lib/dom.js';
import { month, t, thisMonth, tn } from '../lib/words.js';
import { all } from '../lib/keep.js';
import { mine, renewMine } from '../lib/mine.js';
import { sorted } from '../lib/due.js';
import { label, vocabulary } from '../lib/vocabulary.js';
import { plateLine } from '../lib/plate.js';
import { troubleBox, under, way } from '../lib/parts.js';

/** Make the view: at once from what is kept here, then anew when the pool has answered. */
export async function show() {
  await vocabulary();
  const box = h('div');
  const sets = Object.fromEntries((await all('sets').catch(() => [])).map((one) => [one.id, one.name]));
  await draw();
  renewMine().then(() => redraw(), redraw);
  return box;

  // Not under somebody's finger; the heading has the focus only because the page gave it.
  async function redraw(trouble = null) {
    const held = document.activeElement;
    const inside = box.contains(held);
    if (inside && held.tagName !== 'H1') return;
    await draw(trouble);
    if (!inside) return;
    const title = box.querySelector('h1');
    title.setAttribute('tabindex', '-1');
    title.focus({ preventScroll: true });
  }

  async function draw(trouble = null) {
    const { due, others } = sorted(await mine(), thisMonth());
    refill(box, h('h1', null, t('place.follow')), h('p', null, t('follow.why')),
      trouble && (trouble.kind === 'offline' ? h('p.soft', null, t('follow.offline')) : troubleBox(trouble)),
      h('h2', null, tn('follow.due', due.length)), due.map((one) => card(one, sets)),
      others.length > 0 && under(tn('follow.others', others.length), others.map((one) => card(one, sets))),
      !due.length && !others.length && way(t('home.report'), '/report'));
  }
}

function card({ report, mark }, sets) {
  const last = (report.followups ?? []).at(-1);
  return h('section.card', null,
    h('h3', null, titleOf(report)),
    h('p', null, [sets[report.set] ?? plateLine(report.machine), report.happened && t('follow.when', { outcome: label('outcomes', report.outcome), month: month(report.happened) })].filter(Boolean).join('. ')),
    mark && h('p', null, h('strong', null, t('follow.mark', { n: mark }))),
    last && h('p.soft', null, t('follow.last', { month: month(last.happened), state: label('states', last.state) })),
    report.waits && h('p.soft', null, t('follow.waits')),
    way(t('follow.tell'), `/follow/${report.id}`, mark ? 'main' : 'way'));
}

/** What a report was about, in a line. */
export function titleOf(report) {
  const cause = report.cause ?? report.causes?.[0];
  if (cause?.component) return [label('components', cause.component), cause.failure && label('failures', cause.failure)].filter(Boolean).join(': ');
  return report.symptoms?.map((code) => label('symptoms', code)).join(', ') || report.complaint || label('outcomes', report.outcome);
}
