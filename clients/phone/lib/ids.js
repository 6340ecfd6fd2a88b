// Names for what is written here: UUIDv7 (RFC 9562 section 5.7).

let before = 0;
let count = 0;

/**
 * Make a name for a report or a follow-up, when it is begun. Names made later sort later,
 * even within a millisecond and after the clock was put back.
 */
export function uuid7(now = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  if (now > before) {
    before = now;
    count = ((bytes[6] & 7) << 8) | bytes[7];
  } else if ((count += 1) > 0xfff) {
    before += 1;
    count = 0;
  }
  for (let i = 0; i < 6; i += 1) bytes[i] = Math.floor(before / 256 ** (5 - i)) & 0xff;
  bytes[6] = 0x70 | (count >> 8);
  bytes[7] = count & 0xff;
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  const hex = Array.from(bytes, (b) => b.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}
