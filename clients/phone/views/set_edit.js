// Write down a set's nameplate, or put it right. Only the fuel has to be known.

import { h, refill } from '../lib/dom.js';
import { notTaken, t, typed } from '../lib/words.js';
import { drop, keep, read } from '../lib/keep.js';
import { uuid7 } from '../lib/ids.js';
import { go, goInstead } from '../lib/route.js';
import { FIGURES, KINDS, MORE_FIGURES, MORE_KINDS, wireValue } from '../lib/plate.js';
import { machineLabel, vocabulary } from '../lib/vocabulary.js';
import { button, choice, field, figure, notice, select, troubleBox, under, whileBusy } from '../lib/parts.js';

/** Make the view of a new set, or of the one with `id`. */
export async function show({ id, then }) {
  const words = await vocabulary();
  const held = id ? await read('sets', id) : null;
  if (!words) return h('div', null, h('h1', null, t('sets.add')), notice(t('needs-vocabulary'), 'bad'));
  const machine = { ...(held?.machine ?? {}) };
  const said = h('div');
  const name = field(t('set.name'), { value: held?.name ?? '', maxlength: 60 }, t('set.name-hint'));
  const texts = ['make', 'model'].map((key) => [key, field(t(`plate.${key}`), { value: machine[key] ?? '', maxlength: 60 })]);
  const figures = [...FIGURES, ...MORE_FIGURES].map(([key, unit]) => [key, figure(t(`plate.${key}`), unit, { value: machine[key] ?? '' })]);
  const pick = (key) => {
    const options = Object.keys(words.machine[key] ?? {}).map((code) => [code, machineLabel(key, code)]);
    const chosen = machine[key] === undefined ? undefined : String(machine[key]);
    const onpick = (code) => { machine[key] = wireValue(key, code); };
    // The fuel is the one thing that has to be told, so all of it stands open.
    const make = options.length > 3 && key !== 'fuel' ? select : choice;
    return make(t(`plate.ask-${key}`), options, chosen, onpick);
  };
  const save = whileBusy(async () => {
    const faults = [];
    for (const [key, box] of texts) machine[key] = box.input.value.trim() || null;
    for (const [key, box] of figures) {
      const given = box.input.value.trim();
      machine[key] = given === '' ? null : typed(given);
      if (Number.isNaN(machine[key])) faults.push([box, notTaken(given, t(`plate.${key}`))]);
    }
    if (!machine.fuel) faults.push([null, t('plate.needs-fuel')]);
    const called = name.input.value.trim() || [machine.make, machine.model].filter(Boolean).join(' ') || t('set.unnamed');
    if (faults.length) {
      refill(said, notice(faults.map(([, text]) => text).join(' '), 'bad'));
      faults[0][0]?.input.focus();
      return;
    }
    try {
      const kept = await keep('sets', { id: held?.id ?? uuid7(), name: called, machine, since: held?.since ?? new Date().toISOString() });
      goInstead(then === 'ask' ? `/ask?set=${kept.id}` : `/sets/${kept.id}`);
    } catch (trouble) {
      refill(said, troubleBox(trouble));
    }
  });
  const part = (list, keys) => list.filter(([key]) => keys.includes(key)).map(([, box]) => box);
  return h('div', null, h('h1', null, held ? held.name : t('sets.add')), h('p.soft', null, t('set.stays')),
    pick('fuel'), name, part(figures, FIGURES.map(([key]) => key)), KINDS.slice(1).map(pick),
    h('p.hint', null, t('plate.excitation-hint')),
    under(t('plate.more'), texts.map(([, box]) => box), part(figures, MORE_FIGURES.map(([key]) => key)), MORE_KINDS.map(pick)),
    said, button(t('save'), save, 'main'),
    held && button(t('set.drop'), async () => { if (confirm(t('set.drop-sure', { name: held.name }))) { await drop('sets', held.id); go('/sets'); } }, 'danger'));
}
