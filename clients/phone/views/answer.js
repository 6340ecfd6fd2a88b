// The answer, as one column: cautions; what to do next with a button for each result; then
// readings, causes, fixes, reports like it, and get-bys behind a plain warning.

import { h, refill } from '../lib/dom.js';
import { t, time, tn } from '../lib/words.js';
import { send } from '../lib/api.js';
import { keep, read } from '../lib/keep.js';
import { go } from '../lib/route.js';
import { isAskable, keepWalk, questionOf, walk } from '../lib/question.js';
import { vocabulary } from '../lib/vocabulary.js';
import { button, cautions, notice, spoken, troubleBox, way } from '../lib/parts.js';
import { nextStep } from '../lib/step.js';
import { causesPart, fixesPart, getBysPart, readingsPart, similarPart, stepsPart } from '../lib/answer_parts.js';

/** Make the view; with `fresh` the service is asked anew. */
export async function show({ id, fresh }) {
  const it = await walk(id);
  if (!it) return h('div', null, h('h1', null, t('answer.title')), notice(t('gone'), 'bad'), way(t('place.ask'), '/ask'));
  await vocabulary();
  const held = await read('answers', id).catch(() => undefined);
  const box = h('div');
  const question = questionOf(it);
  const same = held && JSON.stringify(held.asked) === JSON.stringify(question);
  if (!isAskable(it)) {
    go(`/ask/${id}`);
    return box;
  }
  if (same && !fresh) draw(box, it, held);
  else if (same) draw(box, it, held);
  else await renew(box, it, held);
  return box;
}

async function renew(box, it, held) {
  const asked = questionOf(it);
  try {
    const answer = await send('POST', '/v1/ask', asked);
    const kept = { id: it.id, asked, answer, at: new Date().toISOString() };
    // An answer that finds no room is shown all the same.
    await keep('answers', kept).catch(() => {});
    draw(box, it, kept);
  } catch (trouble) {
    drawOffline(box, it, held, trouble);
  }
}

function drawOffline(box, it, held, trouble) {
  refill(box, h('h1', null, t('answer.title')), troubleBox(trouble, () => renew(box, it, held)),
    trouble.kind === 'offline' && h('p', null, t('answer.cannot')),
    trouble.kind === 'offline' && it.set && way(t('sheet.open'), `/sheet/${it.set}`, 'main'),
    trouble.kind === 'refused' && way(t('ask.back-change'), `/ask/${it.id}`));
  if (held) box.append(h('h2', null, t('answer.last', { when: time(held.at) })), body(it, held, box));
}

function draw(box, it, held) {
  refill(box, h('h1', null, t('answer.title')), body(it, held, box));
}

function body(it, held, box) {
  const { answer } = held;
  const redo = async () => {
    try { await keepWalk(it); } catch { box.prepend(notice(t('trouble.no-room'), 'bad')); return; }
    box.setAttribute('aria-busy', 'true');
    await renew(box, it, held);
    box.removeAttribute('aria-busy');
    scrollTo(0, 0);
    const title = box.querySelector('h1');
    title?.setAttribute('tabindex', '-1');
    title?.focus({ preventScroll: true });
  };
  return h('div', null,
    h('p.soft', null, it.complaint || null),
    cautionsTold(it, answer),
    (answer.flags ?? []).map((flag) => notice(spoken(flag.says))),
    nextStep(it, answer, redo),
    h('p', null, t('answer.expected', { n: Math.round(answer.expected_minutes) })),
    way(t('answer.tell-more'), `/ask/${it.id}`),
    way(t('answer.reading'), `/ask/${it.id}/reading?back=answer`),
    way(t('answer.report'), `/report/${it.id}`),
    readingsPart(answer, it.machine), causesPart(answer), fixesPart(answer), similarPart(answer), stepsPart(answer), getBysPart(answer),
    !answer.get_bys?.length && !it.get_by && button(t('answer.get-by'), async () => { it.get_by = true; await redo(); }, 'quiet'),
    h('p.soft', null, t('answer.rests', { reports: answer.evidence.reports_searched, similar: answer.evidence.similar, people: answer.evidence.contributors }), ' ',
      answer.evidence.from_catalogue_only && t('answer.catalogue-only')),
    h('p.soft', null, t('answer.local')));
}

// All of them the first time; later what is new stands open and what was read is folded up.
function cautionsTold(it, answer) {
  const read = new Set(it.told ?? []);
  const fresh = answer.cautions.filter((c) => !read.has(c.says));
  const known = answer.cautions.filter((c) => read.has(c.says));
  it.told = [...new Set([...read, ...answer.cautions.map((c) => c.says)])];
  return [cautions(fresh), known.length > 0 && h('details.careful', null, h('summary', null, tn('cautions.read', known.length)), cautions(known))];
}
