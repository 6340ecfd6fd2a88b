// SHA-256 (FIPS 180-4) of a short text, at once: the browser's own answers only later, and a text
// is drawn the moment it is wanted. Names texts; it guards nothing.

const ROOTS = [];
const START = [];
for (let n = 2; ROOTS.length < 64; n += 1) {
  let prime = true;
  for (let by = 2; by * by <= n; by += 1) if (n % by === 0) prime = false;
  if (!prime) continue;
  const bits = (root) => Math.floor((root % 1) * 2 ** 32) | 0;
  if (START.length < 8) START.push(bits(Math.sqrt(n)));
  ROOTS.push(bits(Math.cbrt(n)));
}

const turned = (x, by) => (x >>> by) | (x << (32 - by));

/** The first 12 hex digits of a text's SHA-256 (UTF-8). */
export function digest(text) {
  const bytes = new TextEncoder().encode(text);
  const length = (((bytes.length + 8) >> 6) + 1) << 6;
  const padded = new DataView(new ArrayBuffer(length));
  bytes.forEach((byte, i) => padded.setUint8(i, byte));
  padded.setUint8(bytes.length, 0x80);
  padded.setUint32(length - 4, bytes.length * 8);
  const state = [...START];
  const w = new Int32Array(64);
  for (let block = 0; block < length; block += 64) {
    for (let i = 0; i < 16; i += 1) w[i] = padded.getInt32(block + 4 * i);
    for (let i = 16; i < 64; i += 1) {
      const near = turned(w[i - 2], 17) ^ turned(w[i - 2], 19) ^ (w[i - 2] >>> 10);
      const far = turned(w[i - 15], 7) ^ turned(w[i - 15], 18) ^ (w[i - 15] >>> 3);
      w[i] = w[i - 16] + far + w[i - 7] + near;
    }
    let [a, b, c, d, e, f, g, h] = state;
    for (let i = 0; i < 64; i += 1) {
      const one = (h + (turned(e, 6) ^ turned(e, 11) ^ turned(e, 25)) + ((e & f) ^ (~e & g)) + ROOTS[i] + w[i]) | 0;
      const two = ((turned(a, 2) ^ turned(a, 13) ^ turned(a, 22)) + ((a & b) ^ (a & c) ^ (b & c))) | 0;
      [h, g, f, e, d, c, b, a] = [g, f, e, (d + one) | 0, c, b, a, (one + two) | 0];
    }
    [a, b, c, d, e, f, g, h].forEach((part, i) => { state[i] = (state[i] + part) | 0; });
  }
  return state.slice(0, 2).map((part) => (part >>> 0).toString(16).padStart(8, '0')).join('').slice(0, 12);
}
