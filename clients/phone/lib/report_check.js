// Before it goes: what will be taken out is shown struck through in its sentence, to the one
// who wrote it and nobody else; then the rest of what will be sent.

import { h, refill } from './dom.js';
import { t, tn } from './words.js';
import { send } from './api.js';
import { drop, keep, read } from './keep.js';
import { goInstead } from './route.js';
import { keepWalk } from './question.js';
import { addAll, waiting } from './queue.js';
import { uuid7 } from './ids.js';
import { bodyOf } from './report_body.js';
import { pieces, putText, scrubBody, sentence, textAt } from './removed.js';
import { label } from './vocabulary.js';
import { attemptLine } from './attempts.js';
import { readingLine } from '../views/ask.js';
import { plateLine } from './plate.js';
import { photosOf, thumbnail } from './photos_part.js';
import { whenLine } from './report_form.js';
import { button, cautions, notice, troubleBox, under, way, whileBusy } from './parts.js';

const TITLE_LENGTH = 70;
const PATIENCE_MS = 1500;

/** The view of a report about to be sent. */
export async function checkView(it, answer, words) {
  const box = h('div');
  const photos = await photosOf(it.id);
  let sending = false;
  await look();
  return box;

  /** Ask the service what it would take out; where the signal is poor, show at once what is known here. */
  async function look() {
    const whole = bodyOf(it, answer, words);
    // With a signal the service judges what might be a part's number: it knows the words.
    const asked = scrubBody(whole, 'unsure');
    const preview = send('POST', '/v1/reports/preview', asked.body).then((seen) => ({ seen }), (trouble) => ({ trouble }));
    const slow = new Promise((resolve) => { setTimeout(resolve, PATIENCE_MS, null); });
    const told = await Promise.race([preview, slow]);
    draw(whole, asked, told ?? { trouble: { kind: 'offline' } });
    if (told === null) preview.then((late) => { if (!sending && box.isConnected) draw(whole, asked, late); });
  }

  function draw(whole, asked, { seen = null, trouble = null }) {
    const { body, texts } = seen ? asked : scrubBody(whole, it.report.keep);
    const refused = trouble && ['refused', 'not-allowed'].includes(trouble.kind);
    const after = (one) => (seen ? textAt(seen.report, one.at) : null);
    const shown = texts.map((one) => ({ one, list: pieces(one, after(one)) }));
    // What waits on the phone is what the pool will keep.
    for (const one of texts) if (after(one) !== null) putText(body, one.at, after(one));
    const said = h('div');
    const sendIt = whileBusy(async () => {
      sending = true;
      try { await queued(it, body, photos); goInstead(`/report/${it.id}`); } catch (error) { sending = false; refill(said, troubleBox(error)); }
    });
    refill(box, h('h1', null, t('check.title')),
      refused ? troubleBox(trouble, look) : trouble && h('div.notice', { role: 'status' }, h('p', null, t(`trouble.${trouble.kind ?? 'ours'}`)), h('p', null, t('check.offline'))),
      seen?.report.advice && danger(seen.report.cautions),
      textsPart(shown, seen !== null), putBack(shown, it, look),
      h('h2', null, t('check.rest')), rest(body, it),
      photos.length > 0 && [h('h2', null, tn('check.photos', photos.length)), h('ul.photos', null, photos.map((p, i) => h('li', null, thumbnail(p.jpeg, t('photo.nth', { n: i + 1 })))))],
      said, !refused && button(t(seen ? 'check.send' : 'check.keep'), sendIt, 'main'),
      way(t('check.change'), `/report/${it.id}`));
  }
}

/** What was written tells of something dangerous: the gravest warning stands open. */
function danger(list) {
  const box = cautions(list.slice(0, 1), t('check.dangerous'));
  if (list.length > 1) box.append(under(tn('check.warnings', list.length - 1), cautions(list.slice(1))));
  return box;
}

function textsPart(shown, online) {
  const gone = shown.flatMap(({ list }) => list).filter((piece) => piece.gone !== undefined);
  return h('section', null, h('h2', null, t('check.words')),
    h('p', null, gone.length ? tn('check.removed', gone.length) : t(online ? 'check.nothing' : 'check.nothing-offline')),
    shown.filter(({ one, list }) => ['complaint', 'note'].includes(one.at[0]) || list.some((piece) => piece.gone !== undefined))
      .map(({ one, list }) => h('div.card', null, h('p.soft', null, t(`check.at-${one.at.filter((key) => typeof key === 'string').at(-1)}`)), sentence(list))));
}

/** What was taken for a name or a telephone number and is neither. */
function putBack(shown, it, redraw) {
  const gone = shown.flatMap(({ list }) => list).filter((piece) => piece.gone !== undefined);
  const numbers = [...new Set(gone.filter((one) => one.here && !one.here.sure).map((one) => one.gone))];
  const names = [...new Set(gone.filter((one) => one.kind === 'name' && !one.here).map((one) => one.gone))];
  if (!numbers.length && !names.length) return null;
  return h('details', null, h('summary', null, t('back.title')),
    numbers.map((words) => button(t('back.number', { words }), async () => {
      it.report.keep = [...it.report.keep, words];
      await keepWalk(it).catch(() => {});
      await redraw();
    })),
    names.map((words) => {
      const said = h('div', { 'aria-live': 'polite' });
      const tell = whileBusy(async () => {
        try {
          await send('POST', '/v1/corrections', { words: words.match(/\p{L}[\p{L}'-]+/gu).map((word) => ({ word, kind: 'name' })) });
          refill(said, notice(t('back.told'), 'good'));
        } catch (trouble) {
          refill(said, trouble.kind === 'not-found' ? notice(t('back.cannot')) : troubleBox(trouble));
        }
      });
      return [button(t('back.name', { words }), tell), said];
    }),
    h('p.hint', null, t('back.more')));
}

function rest(body, it) {
  const line = (key, text) => text && [h('dt', null, t(key)), h('dd', null, text)];
  const cause = [...(body.causes ?? []), ...(body.cause ? [body.cause] : [])]
    .map((c) => [label('components', c.component), c.failure && label('failures', c.failure)].filter(Boolean).join(': ')).join('; ');
  const list = (all, words) => all?.length > 0 && h('ul.plain', null, all.map((one) => h('li', null, words(one))));
  const { share } = it.report;
  const home = ['hours', 'region', 'cost'].filter((name) => !share[name]).map((name) => t(`share.${name}-word`));
  return h('div', null, h('dl', null,
    line('check.set', plateLine(body.machine)),
    line('check.signs', (body.symptoms ?? []).map((code) => label('symptoms', code)).join(', ')),
    line('report.readings', list(body.readings, (r) => `${readingLine(r)}${r.stage === 'left' ? ` (${t('check.as-left')})` : ''}`)),
    line('report.tried', list(body.attempts, (a) => `${attemptLine(a)}${a.cost === undefined ? '' : ` ${t('fix.cost', { n: a.cost })}`}`)),
    line('end.title', label('outcomes', body.outcome)),
    line('cause.title', cause),
    line('check.protection', it.report.protection && t(`end.protection-${it.report.protection}`)),
    line('report.month', whenLine(it.report)),
    line('plate.hours', body.machine.hours !== undefined && String(body.machine.hours)),
    line('share.region', body.region)),
  home.length > 0 && h('p.soft', null, t('check.home', { what: home.join(', ') })));
}

/** Into the queue, with its photographs, all or none; what the phone keeps of it says no more than was sent. */
async function queued(it, body, photos) {
  const all = await waiting();
  const before = all.find((one) => one.id === it.report.id);
  const follows = all.filter((one) => one.of === it.report.id);
  const moved = before?.why?.kind === 'conflict';
  // The pool has something else under that name, so this one needs another.
  const id = moved ? uuid7() : it.report.id;
  const first = body.complaint ?? (body.symptoms ?? []).map((code) => label('symptoms', code)).join(', ');
  const title = first.length > TITLE_LENGTH ? `${first.slice(0, TITLE_LENGTH)}…` : first;
  const path = `/v1/reports/${id}`;
  const things = [{ id, kind: 'report', path, body, title, walk: it.id, set: it.set }];
  photos.forEach((p, i) => things.push({ id: p.id, kind: 'photo', path: `${path}/photos/${p.id}`, body: p.jpeg, title: t('photo.nth', { n: i + 1 }), of: id }));
  if (moved) for (const one of follows) await drop('queue', one.id);
  await addAll([...things, ...(moved ? follows.map(({ body: own, ...one }) => ({ ...one, of: id, report: id, path: one.path.replace(it.report.id, id), body: own instanceof Blob ? own : JSON.parse(own) })) : [])]);
  if (moved) await drop('queue', it.report.id);
  Object.assign(it, { done: true, mending: false, complaint: body.complaint ?? '' });
  Object.assign(it.report, { id, note: body.note ?? '', region: body.region ?? '' });
  await keepWalk(it);
  for (const p of photos) await drop('photos', p.id);
  const held = await read('answers', it.id);
  if (held?.asked.complaint) await keep('answers', { ...held, asked: { ...held.asked, complaint: body.complaint } });
}
