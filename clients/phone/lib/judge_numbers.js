// Numbers to the letter as the service writes and rounds them: half to even, where a browser's
// own toFixed and toPrecision take the half up.

/** A number's exact decimal digits (as many as matter) and the power of ten of the first. */
function decimal(value) {
  const [mantissa, power] = Math.abs(value).toExponential(100).split('e');
  return { digits: mantissa.replace('.', ''), power: Number(power) };
}

/** The first `keep` digits, rounded half to even; a carry makes the power one more. */
function cut({ digits, power }, keep) {
  if (keep < 0) return { digits: '', power };
  const head = digits.slice(0, keep);
  const tail = digits.slice(keep);
  const half = `5${'0'.repeat(Math.max(0, tail.length - 1))}`;
  const up = tail > half || (tail === half && '13579'.includes(head.slice(-1) || '0'));
  if (!up) return { digits: head, power };
  const next = String(BigInt(head || '0') + 1n).padStart(keep, '0');
  return next.length > keep ? { digits: keep ? next.slice(0, keep) : next, power: power + 1 } : { digits: next, power };
}

/** Digits as a plain decimal with so many places. */
function plain({ digits, power }, places) {
  const whole = power < 0 ? '0' : digits.slice(0, power + 1).padEnd(power + 1, '0');
  const all = power < 0 ? '0'.repeat(-power - 1) + digits : digits.slice(power + 1);
  return places ? `${whole}.${all.padEnd(places, '0').slice(0, places)}` : whole;
}

const sign = (value) => (value < 0 || Object.is(value, -0) ? '-' : '');

/** A number with so many places. */
export function fixed(value, places) {
  if (!places && Math.abs(value) >= 1e21) return String(BigInt(value));
  const exact = decimal(value);
  return sign(value) + plain(cut(exact, exact.power + 1 + places), places);
}

/** A number with so many digits at most; a very large one in full. */
function general(value, most) {
  if (value === 0) return `${sign(value)}0`;
  const { digits, power } = cut(decimal(value), most);
  if (power >= most) return fixed(value, 0);
  const trim = (text) => (text.includes('.') ? text.replace(/\.?0+$/, '') : text);
  if (power >= -4) return sign(value) + trim(plain({ digits, power }, most - 1 - power));
  return `${sign(value)}${trim(`${digits[0]}.${digits.slice(1)}`)}e-${String(-power).padStart(2, '0')}`;
}

/** A number as a person writes it: six digits at most. */
export const figureText = (value) => general(value, 6);

/** A limit as it is said: four digits, for no limit is known more finely. */
export const edgeText = (value) => general(value, 4);

/** A number with its unit; a plain ratio has none, and a million ohms are a megohm. */
export function withUnit(value, unit) {
  if (unit === 'ohm' && value >= 1e6) return `${figureText(value / 1e6)} Mohm`;
  return unit === '1' ? figureText(value) : `${figureText(value)} ${unit}`;
}

/** An edge as it is shown and compared: four places, or five digits if smaller than one. */
export function rounded(edge) {
  if (edge === 0 || !Number.isFinite(edge) || Math.abs(edge) >= 1e21) return edge;
  const places = Math.abs(edge) < 1 ? Math.max(4, 4 - decimal(edge).power) : 4;
  return Number(fixed(edge, places));
}
