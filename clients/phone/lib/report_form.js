// Telling a report: what was wrong, what was tried, how it ended.

import { h, refill } from './dom.js';
import { month, t, tn } from './words.js';
import { all } from './keep.js';
import { go } from './route.js';
import { keepWalk } from './question.js';
import { waiting } from './queue.js';
import { findSymptoms, label, machineLabel, vocabularyNow } from './vocabulary.js';
import { wireValue } from './plate.js';
import { readingLine } from '../views/ask.js';
import { attemptsPart } from './attempts.js';
import { endPart, settle } from './report_end.js';
import { monthField } from './months.js';
import { photosOf, photosPart } from './photos_part.js';
import { button, field, notice, select, takenFigure, tick, troubleBox, under, way } from './parts.js';

const WAIT_MS = 250;
const FEW = ['fuel', 'excitation', 'cooling'];

/** The view of a report being told. */
export async function formView(it, answer, words, isNew) {
  const told = it.report;
  const sets = await all('sets').catch(() => []);
  if (isNew && sets.length === 1 && !it.set) Object.assign(it, { set: sets[0].id, machine: sets[0].machine });
  const photos = await photosOf(it.id);
  const queued = (await waiting().catch(() => [])).filter((one) => one.kind === 'photo' && one.of === told.id).length;
  const said = h('div');
  let timer = 0;
  let named = !isNew;
  const save = async () => {
    clearTimeout(timer);
    await keepWalk(it);
    // From now on this report has an address of its own, which a reload finds again.
    if (!named) history.replaceState(null, '', `#/report/${it.id}`);
    named = true;
  };
  const trySave = () => save().catch((trouble) => refill(said, troubleBox(trouble)));
  const soon = () => { clearTimeout(timer); timer = setTimeout(trySave, WAIT_MS); };
  const end = endPart(it, answer, words, trySave);
  const forward = async (place) => {
    try { await save(); go(place); } catch (trouble) { refill(said, troubleBox(trouble)); }
  };
  const set = setPart(it, sets, trySave, soon);
  const wrong = wrongPart(it, trySave, soon);
  const measure = (stage) => button(t(stage ? 'report.add-left' : 'ask.add-reading'), () => forward(`/ask/${it.id}/reading?back=report${stage}`), 'quiet');
  const before = [set, wrong, readingsList(it, 'found', t('report.readings'), trySave), measure(''),
    attemptsPart(it, words, () => { end.redraw(); trySave(); })];
  // What the steps told already is folded up: it is there to be looked at, not to be typed again.
  const grown = Boolean(it.machine.fuel && (it.complaint.trim() || it.symptoms.length) && it.tried.length && !isNew && !told.typed);
  told.typed = !grown;
  return h('form', { onsubmit: (e) => e.preventDefault() }, h('h1', null, t('place.report')),
    h('p.soft', null, t(grown ? 'report.grown' : 'report.how')),
    grown ? under(stepsLine(it), before) : before, end,
    readingsList(it, 'left', t('report.left'), trySave), measure('&stage=left'),
    field(t('report.note'), { rows: 2, value: told.note, maxlength: 4000, oninput: (e) => { told.note = e.target.value; soon(); } }, t('report.note-hint')),
    photosPart(it.id, photos, queued),
    under(t('report.more', { month: whenLine(told) }), monthField(t('report.month'), told.happened ?? '', (value) => { told.happened = value || null; trySave(); }),
      sharePart(it, trySave, soon)), said,
    button(t('report.look'), async () => {
      settle(it, words);
      const faults = faultsOf(it);
      if (faults.length) {
        refill(said, notice(t('report.missing'), 'bad', h('ul', null, faults.map(([key]) => h('li', null, t(key))))));
        const first = ({ set, wrong, end })[faults[0][1]];
        first.closest('details')?.setAttribute('open', '');
        first.querySelector('input, select, textarea')?.focus();
        return;
      }
      await forward(`/report/${it.id}?step=check`);
    }, 'main'),
    it.mending && way(t('waiting.title'), '/waiting', 'quiet'),
    answer && way(t('report.steps-back'), `/answer/${it.id}`, 'quiet'));
}

const stepsLine = (it) => t('report.steps', {
  what: it.symptoms.map((code) => label('symptoms', code)).join(', ') || it.complaint, tried: tn('report.attempts', it.tried.length),
});

function faultsOf(it) {
  const faults = [];
  if (!it.machine.fuel) faults.push(['plate.needs-fuel', 'set']);
  if (!it.complaint.trim() && !it.symptoms.length) faults.push(['report.needs-wrong', 'wrong']);
  if (!it.report.outcome) faults.push(['report.needs-end', 'end']);
  return faults;
}

/** Which set; one that is not written down needs no more than its fuel. */
function setPart(it, sets, save, soon) {
  const box = h('div');
  draw();
  return box;
  function draw() {
    refill(box, sets.length > 0 && select(t('ask.set'), sets.map((one) => [one.id, one.name]), it.set, (chosen) => {
      const one = sets.find((s) => s.id === chosen);
      Object.assign(it, { set: one?.id ?? null, machine: one?.machine ?? {} });
      draw();
      box.querySelector('select')?.focus();
      save();
    }), (!it.set || !it.machine.fuel) && plate());
  }
  function plate() {
    const kva = takenFigure(t('plate.rated_kva'), 'kVA', it.machine.rated_kva, (value) => {
      it.machine = { ...it.machine, rated_kva: value || null };
      soon();
    });
    return [FEW.map((name) => select(t(`plate.ask-${name}`), Object.keys(vocabularyNow()?.machine?.[name] ?? {}).map((code) => [code, machineLabel(name, code)]), it.machine[name],
      (code) => { it.machine = { ...it.machine, [name]: wireValue(name, code) }; save(); })), kva];
  }
}

/** What was wrong, in words and as signs. */
function wrongPart(it, save, soon) {
  const chips = h('ul.chips', { 'aria-label': t('ask.signs') });
  // Signs that were tapped on the way stand; others are offered while something is typed.
  const draw = (typing) => {
    const found = (typing || !it.symptoms.length ? findSymptoms(it.complaint, it.machine) : []).filter((code) => !it.symptoms.includes(code));
    refill(chips, [...it.symptoms, ...found].map((code) => h('li', null,
      h('button', { type: 'button', 'data-code': code, 'aria-pressed': String(it.symptoms.includes(code)), onclick: () => toggle(code) }, label('symptoms', code)))));
  };
  function toggle(code) {
    it.symptoms = it.symptoms.includes(code) ? it.symptoms.filter((c) => c !== code) : [...it.symptoms, code];
    draw();
    // Where the thumb was; a sign that went with the tap hands over to the first.
    (chips.querySelector(`[data-code="${code}"]`) ?? chips.querySelector('button'))?.focus();
    save();
  }
  draw();
  return h('div', null, field(t('report.wrong'), { rows: 3, value: it.complaint, maxlength: 4000, oninput: (e) => { it.complaint = e.target.value; soon(); draw(true); } }, t('report.wrong-hint')), chips);
}

function readingsList(it, stage, title, save) {
  const own = it.readings.filter((r) => (r.stage ?? 'found') === stage);
  return own.length > 0 && h('section', null, h('h2', null, title), h('ul.plain', null, own.map((r) => h('li.beside', null, h('span', null, readingLine(r)),
    button(t('remove'), (e) => {
      it.readings = it.readings.filter((one) => one !== r);
      const list = e.target.closest('section');
      e.target.closest('li').remove();
      (list.querySelector('button') ?? list.nextElementSibling)?.focus();
      save();
    }, 'quiet')))));
}

/** What stays at home unless it is ticked. */
function sharePart(it, save, soon) {
  const told = it.report;
  const hours = takenFigure(t('plate.hours'), 'h', it.machine.hours, (value) => {
    it.machine = { ...it.machine, hours: value };
    soon();
  });
  const region = field(t('share.region'), { value: told.region, maxlength: 60, oninput: (e) => { told.region = e.target.value; soon(); } }, t('share.region-hint'));
  const more = { hours, region };
  const one = (name) => {
    const box = h('div', { hidden: !told.share[name] }, more[name]);
    return [tick(t(`share.send-${name}`), told.share[name], (on) => { told.share[name] = on; box.hidden = !on; save(); }), box];
  };
  return h('fieldset', null, h('legend', null, t('share.title')), h('p.hint', null, t('share.hint')), one('hours'), one('region'), one('cost'));
}

/** The month and the rest of the end in a line, for whoever looks it over. */
export const whenLine = (told) => (told.happened ? month(told.happened) : t('select.none'));
