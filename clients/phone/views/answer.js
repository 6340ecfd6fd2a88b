// The answer, as one column: cautions; what to do next with a button for each result; then
// readings, causes, fixes, reports like it, and get-bys behind a plain warning.

import { h, refill } from '../lib/dom.js';
import { t, time, tn } from '../lib/words.js';
import { send } from '../lib/api.js';
import { keep, read } from '../lib/keep.js';
import { go } from '../lib/route.js';
import { isAskable, isInMindOnly, keepWalk, questionOf, walk } from '../lib/question.js';
import { vocabulary } from '../lib/vocabulary.js';
import { button, cautions, notice, spoken, troubleBox, way, whileBusy } from '../lib/parts.js';
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
  const since = Date.now() - (told.get(id)?.at ?? 0);
  if (since > LONG_AGO_MS) told.delete(id);
  const young = held && Date.now() - Date.parse(held.at) < YOUNG_MS;
  if (same && (!fresh || young)) draw(box, it, held, !young);
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
    trouble.kind !== 'refused' && it.set && way(t('sheet.open'), `/sheet/${it.set}`, 'main'),
    trouble.kind === 'refused' && way(t('ask.back-change'), `/ask/${it.id}`));
  told.delete(it.id);
  if (held) box.append(h('h2', null, t('answer.last', { when: time(held.at) })), body(it, held, box));
}

function draw(box, it, held, old = false) {
  refill(box, h('h1', null, t('answer.title')),
    isInMindOnly(it.id) && notice(t('answer.not-kept'), 'bad'),
    old && notice(t('answer.last', { when: time(held.at) }), 'note', button(t('answer.renew'), whileBusy(() => renew(box, it, held)))), body(it, held, box));
}

function body(it, held, box) {
  const { answer } = held;
  const redo = async () => {
    box.setAttribute('aria-busy', 'true');
    // A phone without room is no reason to be left without an answer; it is said above it.
    await keepWalk(it).catch(() => {});
    await renew(box, it, held);
    box.removeAttribute('aria-busy');
    scrollTo(0, 0);
    const title = box.querySelector('h1');
    title?.setAttribute('tabindex', '-1');
    title?.focus({ preventScroll: true });
  };
  // A second tap while the first is under way would tell another result, or the same twice.
  let busy = false;
  const act = async (change) => {
    if (busy) return;
    busy = true;
    try { change(); await redo(); } finally { busy = false; }
  };
  return h('div', null,
    h('p.soft', null, it.complaint || null),
    cautionsTold(it, answer),
    (answer.flags ?? []).map((flag) => notice(spoken(flag.says))),
    nextStep(it, answer, act),
    h('p', null, t('answer.expected', { n: Math.round(answer.expected_minutes) })),
    way(t('answer.tell-more'), `/ask/${it.id}`),
    way(t('answer.reading'), `/ask/${it.id}/reading?back=answer`),
    way(t('answer.report'), `/report/${it.id}`),
    readingsPart(answer, it.machine), causesPart(answer), fixesPart(answer), similarPart(answer), stepsPart(answer), getBysPart(answer),
    !answer.get_bys?.length && !it.get_by && button(t('answer.get-by'), () => act(() => { it.get_by = true; }), 'quiet'),
    h('p.soft', null, t('answer.rests', { reports: answer.evidence.reports_searched, similar: answer.evidence.similar, people: answer.evidence.contributors }), ' ',
      answer.evidence.from_catalogue_only && t('answer.catalogue-only')),
    h('p.soft', null, t('answer.local')));
}

// What was told of each walk since the page was loaded. All cautions stand open the first time;
// later what is new does, and what was read a little while ago is folded up.
const told = new Map();
const LONG_AGO_MS = 1800000;
const YOUNG_MS = 600000;

function cautionsTold(it, answer) {
  const read = told.get(it.id)?.says ?? new Set();
  const fresh = answer.cautions.filter((c) => !read.has(c.says));
  const known = answer.cautions.filter((c) => read.has(c.says));
  told.set(it.id, { at: Date.now(), says: new Set([...read, ...answer.cautions.map((c) => c.says)]) });
  return [cautions(fresh), known.length > 0 && h('details.careful', null, h('summary', null, tn('cautions.read', known.length)), cautions(known))];
}
