// One report, all of it, with its dangers first.

import { h, refill } from '../lib/dom.js';
import { t, tn } from '../lib/words.js';
import { get, send, whoIs } from '../lib/api.js';
import { drop, read } from '../lib/keep.js';
import { go } from '../lib/route.js';
import { vocabulary } from '../lib/vocabulary.js';
import { button, cautions, notice, troubleBox, way, whileBusy } from '../lib/parts.js';
import { plateLine } from '../lib/plate.js';
import { cautionsOf, didPart, endPart, endWords, measuredPart, reportTitle, sincePart, triedPart } from '../lib/report_parts.js';

/** Make the view. */
export async function show({ id }) {
  const box = h('div');
  await vocabulary();
  try {
    draw(box, await get(`/v1/reports/${encodeURIComponent(id)}`));
  } catch (trouble) {
    const own = await read('mine', id).catch(() => undefined);
    if (own && trouble.kind !== 'withdrawn') draw(box, own, t('shown.as-kept'));
    else refill(box, h('h1', null, t('shown.title')), troubleBox(trouble, ['withdrawn', 'not-found'].includes(trouble.kind) ? null : () => go(`/look/${id}`)), trouble.kind === 'offline' && h('p', null, t('look.needs-signal')));
  }
  return box;
}

function draw(box, report, remark = '') {
  const mine = Boolean(report.contributor) && report.contributor === whoIs()?.contributor;
  refill(box, h('h1', null, reportTitle(report)), remark && notice(remark),
    h('p', null, h('strong', null, endWords(report))),
    cautions(cautionsOf(report)),
    h('p', null, plateLine(report.machine), report.machine.hours !== undefined && `, ${tn('shown.hours-run', report.machine.hours)}`),
    report.from_another_pool && h('p.soft', null, t('shown.other-pool')),
    didPart(report), measuredPart(report), triedPart(report), endPart(report), photosPart(report), sincePart(report),
    mine && ownPart(report),
    h('p.soft', null, t('shown.local')), way(t('place.look'), '/look', 'quiet'));
}

function photosPart(report) {
  const photos = report.photos ?? [];
  if (!photos.length) return null;
  return h('section', null, h('h2', null, t('shown.photos')), photos.map((photo, i) => {
    const name = t('shown.photo', { n: i + 1 });
    const place = h('div', null);
    // A photograph costs more signal than all the rest, so it comes only when it is asked for.
    const load = button(t('shown.photo-load', { n: i + 1, kb: Math.max(1, Math.round(photo.bytes / 1000)) }), whileBusy(async () => {
      try {
        const source = URL.createObjectURL(await get(`/v1/reports/${report.id}/photos/${photo.id}`));
        const img = h('img', { src: source, alt: name, width: photo.width, height: photo.height, onload: () => URL.revokeObjectURL(source) });
        refill(place, h('figure', null, img, h('figcaption', null, name)));
      } catch (trouble) {
        refill(place, load, troubleBox(trouble));
      }
    }));
    place.append(load);
    return place;
  }));
}

function ownPart(report) {
  const said = h('div');
  const takeBack = whileBusy(async () => {
    if (!confirm(t('shown.take-back-sure'))) return;
    try {
      await send('DELETE', `/v1/reports/${report.id}`);
      await drop('mine', report.id).catch(() => {});
      const told = notice(t('shown.taken-back'), 'good');
      refill(said.closest('section'), told, way(t('place.look'), '/look'));
    } catch (trouble) {
      refill(said, troubleBox(trouble));
    }
  });
  return h('section', null, h('h2', null, t('shown.yours')), way(t('shown.follow'), `/follow/${report.id}`),
    h('p.hint', null, t('shown.take-back-hint')), button(t('shown.take-back'), takeBack, 'danger'), said);
}
