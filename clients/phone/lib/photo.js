// A photograph drawn anew: only its points are left, so where and when it was taken, and by
// which telephone, is not in it. The service draws it once more.

const LONG_SIDE = 1600;
const MOST_BYTES = 1048576;
const QUALITIES = [0.85, 0.75, 0.6, 0.45];
/** The most photographs of a report. */
export const MOST_PHOTOS = 6;

/** This file is no picture the telephone can read. */
export class NoPicture extends Error {
  name = 'NoPicture';
}

/**
 * Draw a picture anew.
 * @param {Blob} file
 * @returns {Promise<Blob>} a JPEG of at most 1 MiB and 1600 points on its long side
 * @throws {NoPicture}
 */
export async function redrawn(file) {
  const picture = await decoded(file);
  const wide = picture.width ?? picture.naturalWidth;
  const high = picture.height ?? picture.naturalHeight;
  if (!wide || !high) throw new NoPicture('of no size');
  let scale = Math.min(1, LONG_SIDE / Math.max(wide, high));
  for (let turn = 0; turn < 3; turn += 1, scale *= 0.7) {
    const canvas = document.createElement('canvas');
    canvas.width = Math.max(1, Math.round(wide * scale));
    canvas.height = Math.max(1, Math.round(high * scale));
    const paper = canvas.getContext('2d');
    // What could be seen through becomes white, not black.
    paper.fillStyle = '#fff';
    paper.fillRect(0, 0, canvas.width, canvas.height);
    paper.drawImage(picture, 0, 0, canvas.width, canvas.height);
    for (const quality of QUALITIES) {
      const made = await new Promise((resolve) => { canvas.toBlob(resolve, 'image/jpeg', quality); });
      if (made?.type === 'image/jpeg' && made.size <= MOST_BYTES) return made;
    }
  }
  throw new NoPicture('too large');
}

async function decoded(file) {
  try {
    // Upright, as the telephone was held.
    return await createImageBitmap(file, { imageOrientation: 'from-image' });
  } catch {
    const address = URL.createObjectURL(file);
    try {
      const image = new Image();
      image.src = address;
      await image.decode();
      return image;
    } catch {
      throw new NoPicture('not read');
    } finally {
      URL.revokeObjectURL(address);
    }
  }
}
