// Photographs of a report: taken or chosen, drawn anew, kept on the phone until they are sent.

import { h, refill } from './dom.js';
import { t, tn } from './words.js';
import { all, drop, keep } from './keep.js';
import { uuid7 } from './ids.js';
import { MOST_PHOTOS, NoPicture, redrawn } from './photo.js';
import { button, notice } from './parts.js';

/** The photographs kept for a walk, the oldest first. */
export const photosOf = async (walk) => (await all('photos').catch(() => [])).filter((one) => one.walk === walk);

/** Choose photographs, look at them, let them go again; `queued` wait to be sent already. */
export function photosPart(walk, held, queued = 0) {
  let photos = held;
  const list = h('ul.photos');
  const said = h('div', { 'aria-live': 'polite' });
  const input = (text, more) => {
    const file = h('input', { type: 'file', accept: 'image/*', 'aria-label': text, ...more, onchange: (e) => take(e.target) });
    return h('label.file', null, h('span', null, text), file);
  };
  const box = h('div', null, h('h2', null, t('photo.title')), h('p.careful', null, t('photo.warn')),
    input(t('photo.take'), { capture: 'environment' }), input(t('photo.choose'), { multiple: true }), queued > 0 && h('p', null, tn('kept.photos', queued)), said, list);
  draw();
  return box;

  async function take(from) {
    const files = [...from.files];
    from.value = '';
    for (const file of files) {
      if (photos.length + queued >= MOST_PHOTOS) { refill(said, notice(t('photo.enough', { n: MOST_PHOTOS }))); break; }
      refill(said, notice(t('photo.drawing')));
      try {
        const photo = await keep('photos', { id: uuid7(), walk, jpeg: await redrawn(file) });
        photos = [...photos, photo];
        refill(said);
      } catch (error) {
        refill(said, notice(t(error instanceof NoPicture ? 'photo.unread' : 'trouble.no-room'), 'bad'));
      }
    }
    draw();
  }
  function draw() {
    refill(list, photos.map((photo, i) => h('li', null, thumbnail(photo.jpeg, t('photo.nth', { n: i + 1 })),
      button(t('remove'), async () => { await drop('photos', photo.id); photos = photos.filter((p) => p.id !== photo.id); draw(); (list.querySelector('button') ?? box.querySelector('input')).focus(); }, 'quiet'))));
  }
}

/** A small picture of a photograph, with no address of its own. */
export function thumbnail(jpeg, name) {
  const canvas = h('canvas', { width: 120, height: 90, role: 'img', 'aria-label': name });
  createImageBitmap(jpeg).then((picture) => {
    const scale = Math.max(canvas.width / picture.width, canvas.height / picture.height);
    const [wide, high] = [picture.width * scale, picture.height * scale];
    canvas.getContext('2d').drawImage(picture, (canvas.width - wide) / 2, (canvas.height - high) / 2, wide, high);
  }, () => {});
  return canvas;
}
