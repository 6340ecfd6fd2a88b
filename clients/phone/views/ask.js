// Ask: what it does, in one's own words; signs to tap; what was measured.

import { h, refill } from '../lib/dom.js';
import { t } from '../lib/words.js';
import { all, read } from '../lib/keep.js';
import { go } from '../lib/route.js';
import { begin, isAskable, keepWalk, walk } from '../lib/question.js';
import { findSymptoms, label, renew, vocabulary } from '../lib/vocabulary.js';
import { button, field, notice, select, tick, under, way, withUnit } from '../lib/parts.js';

const WAIT_MS = 250;

/** Make the view of a new question, or of the one with `id`. */
export async function show({ id, set }) {
  const sets = await all('sets').catch(() => []);
  let it = id ? await walk(id) : null;
  if (!it) {
    const chosen = set ? await read('sets', set) : sets.length === 1 ? sets[0] : null;
    it = begin(chosen);
  }
  const words = await vocabulary();
  const said = h('div');
  const chips = h('ul.chips', { 'aria-label': t('ask.signs') });
  const boxes = new Map(); // the ticks of all signs, which chips keep in step
  let timer = 0;
  // Reloaded, or come back to, it is the same question.
  const save = () => keepWalk(it).then(() => { if (/^#\/ask(\?|$)/.test(location.hash)) history.replaceState(null, '', `#/ask/${it.id}`); }).catch(() => refill(said, notice(t('trouble.no-room'), 'bad')));
  const soon = () => { clearTimeout(timer); timer = setTimeout(save, WAIT_MS); };

  function drawChips() {
    const found = findSymptoms(it.complaint, it.machine).filter((code) => !it.symptoms.includes(code));
    refill(chips, [...it.symptoms, ...found].map((code) => h('li', null,
      h('button', { type: 'button', 'data-code': code, 'aria-pressed': String(it.symptoms.includes(code)), onclick: () => tapped(code) }, label('symptoms', code)))));
    for (const [code, box] of boxes) box.checked = it.symptoms.includes(code);
  }
  function choose(code, on) {
    it.symptoms = [...it.symptoms.filter((c) => c !== code), ...(on ? [code] : [])];
    drawChips();
    save();
  }
  function tapped(code) {
    choose(code, !it.symptoms.includes(code));
    chips.querySelector(`[data-code="${code}"]`)?.focus();
  }
  const complaint = field(t('ask.what'), {
    rows: 3, value: it.complaint, maxlength: 4000,
    oninput: (e) => { it.complaint = e.target.value; soon(); drawChips(); },
  }, t('ask.what-hint'));
  const more = button(t('ask.add-reading'), () => forward(`/ask/${it.id}/reading`));
  const readings = h('ul.plain', null, it.readings.map((r) => h('li.beside', null, h('span', null, readingLine(r)),
    button(t('remove'), (e) => {
      it.readings = it.readings.filter((one) => one !== r);
      save();
      e.target.closest('li').remove();
      more.focus();
    }, 'quiet'))));
  const forward = async (place) => {
    clearTimeout(timer);
    // With no room on the phone it goes on all the same, as long as the page is open.
    await keepWalk(it).catch(() => refill(said, notice(t('trouble.no-room'), 'bad')));
    go(place);
  };
  if (words === null) renew().then(drawChips, () => {});
  drawChips();
  return h('form', { onsubmit: (e) => e.preventDefault() }, h('h1', null, t('place.ask')),
    h('p.careful', null, t('ask.safe')),
    sets.length > 0 && select(t('ask.set'), sets.map((s) => [s.id, s.name]), it.set, (chosen) => {
      const one = sets.find((s) => s.id === chosen);
      Object.assign(it, { set: one?.id ?? null, machine: one?.machine ?? {} });
      drawChips();
      save();
    }),
    sets.length === 0 && way(t('ask.no-set'), '/sets/new?then=ask'),
    complaint, h('p.hint', null, t('ask.signs')), chips,
    words && under(t('ask.all-signs'), groups(words, it, choose, boxes)),
    h('h2', null, t('ask.readings')), readings,
    more,
    under(t('ask.more'), words && befores(words, it, save), mustRun(it, soon), tick(t('ask.get-by'), it.get_by === true, (on) => { it.get_by = on; save(); }, t('ask.get-by-hint'))),
    said,
    button(t('ask.go'), async () => {
      if (!isAskable(it)) {
        refill(said, notice(t('ask.nothing'), 'bad'));
        complaint.input.focus();
        return;
      }
      await forward(`/answer/${it.id}?fresh=1`);
    }, 'main'),
    id && way(t('ask.back'), `/answer/${it.id}`, 'quiet'));
}

/** A reading of a question in a line. */
export function readingLine(r) {
  if (r.text) return r.text;
  const where = [label('readings', r.quantity), r.point && label('points', r.point), r.condition && label('conditions', r.condition)].filter(Boolean).join(', ');
  return `${where}: ${typeof r.value === 'number' ? withUnit(r.value, r.unit) : `${r.value} ${r.unit ?? ''}`}`;
}

function groups(words, it, choose, boxes) {
  const byGroup = {};
  for (const [code, one] of Object.entries(words.symptoms)) (byGroup[one.group] ??= []).push(code);
  return Object.entries(byGroup).map(([group, codes]) => h('fieldset', null, h('legend', null, label('symptom_groups', group)),
    codes.map((code) => {
      const box = tick(label('symptoms', code), it.symptoms.includes(code), (on) => choose(code, on));
      boxes.set(code, box.querySelector('input'));
      return box;
    })));
}

function befores(words, it, save) {
  const codes = Object.keys(words.before ?? {});
  return codes.length > 0 && h('fieldset', null, h('legend', null, t('ask.before')), codes.map((code) =>
    tick(label('before', code), it.before?.includes(code) ?? false, (on) => {
      it.before = on ? [...(it.before ?? []), code] : it.before.filter((c) => c !== code);
      save();
    })));
}

function mustRun(it, soon) {
  return field(t('ask.must-run'), { value: it.must_run ?? '', maxlength: 60, oninput: (e) => { it.must_run = e.target.value.trim() || undefined; soon(); } }, t('ask.must-run-hint'));
}

