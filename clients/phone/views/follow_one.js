// Follow up one repair: still good, come back, or changed for another reason.

import { h, refill } from '../lib/dom.js';
import { month, notTaken, t, thisMonth, typed } from '../lib/words.js';
import { get } from '../lib/api.js';
import { goInstead } from '../lib/route.js';
import { uuid7 } from '../lib/ids.js';
import { mine } from '../lib/mine.js';
import { add, flush, holder, isOf, lastTrouble, setAside, waiting, whileShown } from '../lib/queue.js';
import { noteLooked, sentence } from '../lib/removed.js';
import { label, vocabulary } from '../lib/vocabulary.js';
import { monthNumber } from '../lib/due.js';
import { monthField } from '../lib/months.js';
import { reasons } from '../lib/queue_words.js';
import { button, choice, field, figure, notice, troubleBox, way, whileBusy } from '../lib/parts.js';
import { plateLine } from '../lib/plate.js';
import { titleOf } from './follow.js';

const MOST_HOURS = 1000000;

/** Make the view of the report with `id`; `mend` is a follow-up that waits, `told` one just told. */
export async function show({ id, mend, told }) {
  const words = await vocabulary();
  const report = (await mine()).find((one) => one.id === id) ?? (await get(`/v1/reports/${id}`).catch(() => null));
  if (!report || !words) {
    return h('div', null, h('h1', null, t('place.follow')), notice(t(report ? 'needs-vocabulary' : 'follow.unknown'), 'bad'), way(t('place.follow'), '/follow'));
  }
  if (told) return keptView(told, report);
  const waits = mend ? await ownWaiting(mend) : null;
  if (waits) await setAside(mend);
  return form(report, words, waits);
}

// Another member's, on a phone that is lent, is not this one's to mend.
async function ownWaiting(id) {
  const [list, who] = [await waiting(), await holder()];
  return list.find((one) => one.id === id && isOf(one, who));
}

function form(report, words, waits) {
  const made = waits ? JSON.parse(waits.body) : { happened: thisMonth() };
  // A conflict means that the pool has something else under this name.
  const id = waits && waits.why?.kind !== 'conflict' ? waits.id : uuid7();
  const said = h('div', { 'aria-live': 'polite' });
  let shown = null;
  const hours = figure(t('follow.hours'), 'h', { value: made.hours_run ?? '' }, t('follow.hours-hint'));
  const note = field(t('report.note'), { rows: 3, maxlength: 4000, value: made.note ?? '' }, t('report.note-hint'));
  const states = choice(t('follow.state'), Object.keys(words.states).map((code) => [code, label('states', code)]), made.state, (code) => { made.state = code; });
  const when = monthField(t('follow.month'), made.happened, (value) => { made.happened = value; });
  const fault = (text, box) => {
    refill(said, notice(text, 'bad'));
    box.querySelector('input, select')?.focus();
  };
  const save = whileBusy(async () => {
    const run = hours.input.value.trim() === '' ? null : typed(hours.input.value);
    if (!made.state) return fault(t('follow.needs-state'), states);
    if (!made.happened || monthNumber(made.happened) < monthNumber(report.happened)) return fault(t('follow.needs-month', { month: month(report.happened) }), when);
    if (run !== null && !(run >= 0 && run <= MOST_HOURS)) return fault(notTaken(hours.input.value, t('follow.hours')), hours);
    const body = { happened: made.happened, state: made.state, ...(run === null ? {} : { hours_run: run }) };
    if (note.input.value.trim()) {
      const looked = await noteLooked(report, note.input.value);
      const goes = looked.list.some((piece) => piece.gone !== undefined);
      // What goes is shown before it goes; told again, it is meant.
      if (goes && shown !== note.input.value) {
        shown = note.input.value;
        refill(said, h('div.card', { role: 'status' }, h('p', null, t('follow.goes')), sentence(looked.list)));
        return null;
      }
      body.note = looked.note;
    }
    try {
      await add({ id, kind: 'followup', path: `/v1/reports/${report.id}/followups/${id}`, body, title: titleOf(report), report: report.id, ...(report.waits ? { of: report.id } : {}) });
      goInstead(`/follow/${report.id}?told=${id}`);
    } catch (trouble) {
      refill(said, troubleBox(trouble));
    }
    return null;
  });
  return h('form', { onsubmit: (e) => e.preventDefault() }, h('h1', null, t('waiting.followup', { title: titleOf(report) })),
    h('p', null, [plateLine(report.machine), report.happened && t('follow.when', { outcome: label('outcomes', report.outcome), month: month(report.happened) })].filter(Boolean).join('. ')),
    (report.followups ?? []).filter((one) => one.id !== id).map((one) => h('p.soft', null, t('follow.last', { month: month(one.happened), state: label('states', one.state) }))),
    states, when, hours, note, h('p.hint', null, t('follow.removed')), said,
    button(t('follow.keep'), save, 'main'), way(t('place.follow'), '/follow', 'quiet'));
}

async function keptView(id, report) {
  const box = h('div');
  await draw();
  whileShown(box, draw);
  return box;
  async function draw() {
    const own = (await waiting().catch(() => [])).find((one) => one.id === id);
    const aside = own?.state === 'set-aside';
    refill(box, h('h1', { tabindex: '-1' }, t(own ? 'kept.title' : 'sent.title')),
      own ? notice(t(aside ? 'kept.aside' : 'kept.waits'), aside ? 'bad' : 'note', aside ? reasons(own) : lastTrouble() && h('p', null, t(`state.${lastTrouble()}`)))
        : notice(t('follow.thanks'), 'good'),
      own && (aside ? way(t('waiting.mend'), `/follow/${report.id}?mend=${id}`, 'main') : button(t('waiting.now'), () => flush().catch(() => {}))),
      own && way(t('waiting.title'), '/waiting'),
      way(t('place.follow'), '/follow'));
  }
}
