// What the edges of a limit are written against: one number of the set for each basis, and what
// moves an edge to where a reading was taken. The same sums as the service's, checked against it.

const RESIDUAL_VOLTS = 230;
const COPPER_K = 234.5;
const ROOT3 = Math.sqrt(3);

/** A figure or a code of the nameplate; null where it is not known. */
export const known = (machine, name) => {
  const own = machine?.[name];
  return own === undefined || own === '' || own === 'not-known' ? null : own;
};

/** Rated kW where known, else kVA. Nought is not known, as on the service. */
export const sizeOf = (machine) => known(machine, 'rated_kw') || known(machine, 'rated_kva');

const legVolts = (rated, phases) => (phases === 3 ? rated / ROOT3 : rated / 2);

/** Leg-to-neutral volts; where the plate leaves it open, the candidate nearest the reading. */
function leg(machine, value) {
  const rated = known(machine, 'rated_volts');
  const phases = known(machine, 'phases');
  const hertz = known(machine, 'rated_hz');
  if (rated === null) return null;
  if (phases === 3) return legVolts(rated, 3);
  if (phases === 1 && hertz !== null && hertz > 55) return rated > 150 ? legVolts(rated, 1) : rated;
  const candidates = [rated, legVolts(rated, 1)];
  if (phases === null) candidates.push(legVolts(rated, 3));
  return candidates.reduce((best, volts) => (Math.abs(volts - value) < Math.abs(best - value) ? volts : best));
}

/** Rated line amps from kVA (or kW) and volts. */
function ratedAmps(machine) {
  const kva = known(machine, 'rated_kva') || known(machine, 'rated_kw');
  const volts = known(machine, 'rated_volts');
  if (kva === null || volts === null) return null;
  const phases = known(machine, 'phases') || (volts > 300 ? 3 : 1);
  return (1000 * kva) / (volts * (phases === 3 ? ROOT3 : 1));
}

/** What each basis takes for a hundred per cent. */
const WHOLE = {
  'percent of mark': (reading) => reading.mark ?? null,
  'percent of leg volts': (reading, machine) => leg(machine, reading.value),
  'percent of rated current': (_, machine) => ratedAmps(machine),
  'percent of rated power': (_, machine) => sizeOf(machine),
  'percent of rated volts': (_, machine) => known(machine, 'rated_volts'),
  'percent of rated hertz': (_, machine) => known(machine, 'rated_hz'),
  'percent of rated speed': (_, machine) => known(machine, 'rated_rpm'),
};

/** The number an edge is multiplied by; null where the plate lacks it. */
export function scale(limit, reading, machine) {
  const basis = limit.basis ?? 'absolute';
  if (basis === 'absolute') return 1;
  if (basis === 'per 12 volts of battery') return batteryVolts(reading, machine, limit.battery_split ?? 17.5) / 12;
  if (basis === 'scaled to rated volts') {
    const volts = known(machine, 'rated_volts');
    return volts === null ? null : volts / RESIDUAL_VOLTS;
  }
  const whole = WHOLE[basis](reading, machine);
  return whole === null ? null : whole / 100;
}

const batteryVolts = (reading, machine, split) => known(machine, 'start_volts') ?? (reading.value >= split ? 24 : 12);

/** The factor that takes an edge to where it was read; null where it is not known. */
export function corrected(correction, reading, machine) {
  if (correction === 'air density') {
    const height = known(machine, 'altitude_m');
    return height === null ? null : airDensityRatio(height);
  }
  const at = reading.at_degC ?? null;
  // No acid weighs nothing: the service refuses such a figure before it is judged.
  if (at === null || !correction || (correction === 'acid' && reading.value === 0)) return null;
  if (correction === 'copper') return (COPPER_K + at) / (COPPER_K + 20);
  if (correction === 'insulation') return 1 / 0.5 ** ((40 - at) / 10);
  const gravity = reading.value + (0.004 * ((at * 9) / 5 + 32 - 80)) / 10;
  return 1 - (gravity - reading.value) / reading.value;
}

/** The standard atmosphere's density over that at sea level. */
function airDensityRatio(height) {
  const warmth = (288.15 - 0.0065 * height) / 288.15;
  const pressure = 101.325 * (1 - 2.25577e-5 * height) ** 5.25588;
  return pressure / 101.325 / warmth;
}
