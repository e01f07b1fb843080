// Arithmetic of light: levels, exposure, balance, colour temperature. No page, no server.

/** Darkest level that counts as light at all; under it a dimmer is out. [stops] */
export const FLOOR_STOPS = -8;

/** Stops of a level, -Infinity where it is out. */
export function stopsOf(level) {
  return level > 0 ? Math.log2(level) : -Infinity;
}

/** Level of stops, rounded so that it is written in few digits. */
export function levelOf(stops) {
  return stops <= FLOOR_STOPS ? 0 : rounded(2 ** stops, 6);
}

export function rounded(value, digits) {
  const factor = 10 ** digits;
  return Math.round(value * factor) / factor;
}

/** '−1.0', '+0.3', '0.0', 'out'. */
export function stopsText(stops, digits = 1) {
  if (stops === -Infinity || Number.isNaN(stops)) return "out";
  const text = Math.abs(stops).toFixed(digits);
  if (Number(text) === 0) return text;
  return (stops > 0 ? "+" : "−") + text;
}

/** A number with its sign: '+0.005', '−0.003', '0'. */
export function signed(value) {
  return `${value > 0 ? "+" : value < 0 ? "−" : ""}${Math.abs(value)}`;
}

/** A number with three figures, as a meter shows it. */
export function figures(value) {
  if (!Number.isFinite(value)) return "–";
  if (value === 0) return "0";
  const size = Math.floor(Math.log10(Math.abs(value)));
  if (size >= 3) {
    const step = 10 ** Math.max(0, size - 2);
    return String(Math.round(value / step) * step).replace(/\B(?=(\d{3})+(?!\d))/g, "\u202f");
  }
  return value.toFixed(Math.min(4, Math.max(0, 2 - size)));
}

/** 'no fill', '2.4 : 1'. */
export function ratioText(ratio) {
  if (Number.isNaN(ratio)) return "–";
  if (ratio === Infinity) return "no fill";
  return `${ratio >= 100 ? ratio.toFixed(0) : ratio.toFixed(1)} : 1`;
}

// Matrices are arrays of nine, row by row.

export const UNIT = [1, 0, 0, 0, 1, 0, 0, 0, 1];

export function product(a, b) {
  const made = new Array(9).fill(0);
  for (let i = 0; i < 3; i++)
    for (let j = 0; j < 3; j++)
      for (let k = 0; k < 3; k++) made[3 * i + j] += a[3 * i + k] * b[3 * k + j];
  return made;
}

export function applied(m, v) {
  return [0, 3, 6].map((i) => m[i] * v[0] + m[i + 1] * v[1] + m[i + 2] * v[2]);
}

export function scaled(m, factor) {
  return m.map((each) => each * factor);
}

export function inverse(m) {
  const [a, b, c, d, e, f, g, h, i] = m;
  const A = e * i - f * h, B = f * g - d * i, C = d * h - e * g;
  const whole = a * A + b * B + c * C;
  return [A, c * h - b * i, b * f - c * e, B, a * i - c * g, c * d - a * f, C, b * g - a * h,
    a * e - b * d].map((each) => each / whole);
}

/** Signal of 1 cd/m²: pi · t · S · tau / (C · T²). */
export function signalPerLuminance(camera, tables) {
  const seconds = camera.shutter / (360 * camera.fps);
  return (Math.PI * seconds * camera.iso * 10 ** -camera.nd) /
    (tables.incident_constant * camera.stop ** 2);
}

function between(rows, at, of) {
  // Rows rise in kelvin; between two of them it is straight in mireds.
  let low = 0, high = rows.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (rows[middle][0] <= at) low = middle;
    else high = middle;
  }
  const from = 1 / rows[low][0], to = 1 / rows[high][0];
  const share = Math.min(1, Math.max(0, (1 / at - from) / (to - from)));
  return of.map((i) => rows[low][i] + share * (rows[high][i] - rows[low][i]));
}

function xyzOfUv(u, v) {
  const whole = 2 * u - 8 * v + 4;
  const x = (3 * u) / whole, y = (2 * v) / whole;
  return [x / y, 1, (1 - x - y) / y];
}

/** XYZ (Y = 1) of what a camera takes for white. */
function balanceWhite(kelvin, tint, tables) {
  const [u, v, du, dv] = between(tables.whites, kelvin, [1, 2, 3, 4]);
  return xyzOfUv(u + tint * du, v + tint * dv);
}

/** Matrix from the scene's XYZ to white-balanced ACEScg, as stills are made. */
export function balanceMatrix(camera, tables) {
  const cones = tables.bradford;
  const from = applied(cones, balanceWhite(camera.white_balance, camera.green, tables));
  const [x, y] = tables.aces_xy;
  const to = applied(cones, [x / y, 1, (1 - x - y) / y]);
  const gain = [to[0] / from[0], 0, 0, 0, to[1] / from[1], 0, 0, 0, to[2] / from[2]];
  return product(tables.acescg_from_xyz, product(inverse(cones), product(gain, cones)));
}

/** Matrix that takes a lamp's XYZ at full level to those at a level, per unit of light. */
export function fadeMatrix(fade, level) {
  if (!fade || !fade.length || level >= 1 || level <= 0) return UNIT;
  const at = Math.min(fade.length - 1, -2 * Math.log2(level));
  const low = Math.floor(at), high = Math.min(fade.length - 1, low + 1);
  return fade[low].map((each, i) => each + (at - low) * (fade[high][i] - each));
}

/**
 * Correlated colour temperature and Duv, or null where a light has none: the nearest of the black
 * bodies in the table, refined by the triangle with its neighbours, or by a parabola farther off
 * (Ohno, Leukos 10 (2014) 47).
 */
export function colourTemperature(xyz, tables) {
  const whole = xyz[0] + 15 * xyz[1] + 3 * xyz[2];
  if (!(whole > 0) || !(xyz[1] > 0)) return null;
  const u = (4 * xyz[0]) / whole, v = (6 * xyz[1]) / whole;
  const rows = tables.locus;
  const away = rows.map((row) => Math.hypot(row[1] - u, row[2] - v));
  const near = away.indexOf(Math.min(...away));
  if (near === 0 || near === rows.length - 1) return null;
  const [left, right] = [rows[near - 1], rows[near + 1]];
  const base = Math.hypot(right[1] - left[1], right[2] - left[2]);
  const along = (away[near - 1] ** 2 - away[near + 1] ** 2 + base ** 2) / (2 * base);
  const share = along / base;
  const foot = [1, 2].map((i) => left[i] + share * (right[i] - left[i]));
  const sign = v >= foot[1] ? 1 : -1;
  let duv = Math.sqrt(Math.max(0, away[near - 1] ** 2 - along ** 2));
  let mired = 1e6 / left[0] + share * (1e6 / right[0] - 1e6 / left[0]);
  if (duv >= 0.002) {
    const [m0, m1, m2] = [left, rows[near], right].map((row) => 1e6 / row[0]);
    const [d0, d1, d2] = [away[near - 1], away[near], away[near + 1]];
    const slope = ((d2 - d1) / (m2 - m1) - (d1 - d0) / (m1 - m0)) / (m2 - m0);
    const tilt = (d1 - d0) / (m1 - m0) + slope * (m1 - m0);
    mired = m1 - tilt / (2 * slope);
    duv = d1 - tilt ** 2 / (4 * slope);
  }
  return { kelvin: 1e6 / mired, duv: sign * duv };
}

/** BT.709 video level of a signal, held at 100. [%] */
export function videoPercent(signal) {
  const held = Math.min(1, Math.max(0, signal));
  return 100 * (held < 0.018 ? 4.5 * held : 1.099 * held ** 0.45 - 0.099);
}

/** The nearest marked third of a stop: 'T2.8', 'T2.8 and 1/3'. */
export function tStopText(stop) {
  if (!(stop > 0) || !Number.isFinite(stop)) return "–";
  return `T${stop < 10 ? stop.toFixed(1) : stop.toFixed(0)}`;
}

/** Half float of its bits. */
export function halfOf(bits) {
  const sign = bits & 0x8000 ? -1 : 1, exponent = (bits >> 10) & 31, rest = bits & 1023;
  if (exponent === 0) return sign * rest * 2 ** -24;
  if (exponent === 31) return rest ? NaN : sign * Infinity;
  return sign * (1 + rest / 1024) * 2 ** (exponent - 15);
}
