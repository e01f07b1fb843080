// Arithmetic of meters: what each lamp gives there at full level, times its level; and the errors, from how
// those of the lamps go together. No page, no server.

import { colourTemperature } from "./light.js";

const DOME_END = ", dome";

/** Duv beyond which a colour temperature means nothing, as the program has it (CIE 15). */
const FARTHEST_DUV = 0.05;

/** Part of a light by which it is changed to find how its colour depends on it: over the steps of the table. */
const NUDGE = 0.02;

export function isDome(name) {
  return name.endsWith(DOME_END);
}

export function domeOf(name) {
  return name + DOME_END;
}

/** Sum of a table of numbers, each times a weight of its row and one of its column. */
export function weighed(table, rows, columns = rows) {
  return table.reduce((sum, row, i) => sum + rows[i] * row.reduce((part, each, j) => part + columns[j] * each, 0), 0);
}

/** The same of a table that is as high as wide and the same both ways, of which only rows from the diagonal on are there. */
function weighedHalf(half, weights) {
  let sum = 0;
  for (let i = 0, at = 0; i < weights.length; i++)
    for (let j = i; j < weights.length; j++, at++) sum += (i === j ? 1 : 2) * half[at] * weights[i] * weights[j];
  return sum;
}

/** A reading's error in stops: of log2 of it. */
export function stopsOff(value, error) {
  return value > 0 ? error / value / Math.LN2 : 0;
}

/** Colour temperature [K] and Duv as reports have them, null for a light that has none. */
function colourNow(xyz, tables) {
  const found = colourTemperature(xyz, tables);
  return found && Math.abs(found.duv) <= FARTHEST_DUV ? found : null;
}

/** How colour temperature and Duv change with X, Y and Z: {kelvin: [3], duv: [3]}; null where there is none near by. */
function colourSlopes(xyz, tables) {
  const step = NUDGE * xyz[1], slopes = { kelvin: [], duv: [] };
  for (let c = 0; c < 3; c++) {
    const [up, down] = [1, -1].map((sign) => colourTemperature(xyz.map((each, i) => each + (i === c ? sign * step : 0)), tables));
    if (!up || !down) return null;
    for (const of of ["kelvin", "duv"]) slopes[of].push((up[of] - down[of]) / (2 * step));
  }
  return slopes;
}

/**
 * The colour of a light with its errors, of paths alone as reports have them: {kelvin, duv, kelvinError, duvError}.
 * `varianceOf` takes three slopes, against X, Y and Z, and returns the variance of what changes so.
 */
export function colourWithErrors(xyz, tables, varianceOf) {
  const colour = xyz[1] > 0 ? colourNow(xyz, tables) : null;
  if (!colour) return null;
  const slopes = varianceOf && colourSlopes(xyz, tables);
  const off = (of) => (slopes ? Math.sqrt(Math.max(0, varianceOf(slopes[of]))) : null);
  return { ...colour, kelvinError: off("kelvin"), duvError: off("duv") };
}

/**
 * Whether what a meter reads stands on few paths that found light, or may miss some that none found:
 * each lamp counts as it adds to the variance.
 */
export function onFew(few, m, gains, lux, error) {
  const parts = few.parts[m].map((part, lamp) => part * gains[lamp] ** 2);
  const whole = parts.reduce((sum, part) => sum + part, 0);
  const root = whole > 0 ? parts.reduce((sum, part, lamp) => sum + part / whole / Math.sqrt(few.support[m][lamp]), 0) : 0;
  const hidden = Math.hypot(...few.hidden[m].map((each, lamp) => each * gains[lamp]));
  return (root ** 2 * few.least > 1 && error > few.counts * lux) || hidden > few.counts * lux;
}

/** What arrives at each meter now: XYZ, lux, its error, and the bands' part of that, which add up. [lx] */
export function arriving(meters, gainOf) {
  const gains = meters.lamps.map(gainOf);
  const found = new Map();
  meters.names.forEach((name, m) => {
    const xyz = [0, 0, 0];
    meters.xyz[m].forEach((parts, lamp) => {
      for (const part of parts) for (let i = 0; i < 3; i++) xyz[i] += gains[lamp] * part[i];
    });
    const bands = meters.bands[m].reduce((sum, each, lamp) => sum + gains[lamp] * each, 0);
    const paths = Math.sqrt(Math.max(0, weighed(meters.spread[m], gains)));
    found.set(name, { xyz, lux: xyz[1], error: Math.hypot(paths, bands), bands });
  });
  return found;
}

/** The colour of the light at a meter, with errors; null where it has none. */
export function colourAt(meters, name, gainOf, tables) {
  const m = meters.names.indexOf(name), gains = meters.lamps.map(gainOf), half = meters.colours?.[m];
  const xyz = [0, 1, 2].map((c) => meters.xyz[m].reduce((sum, parts, lamp) =>
    sum + gains[lamp] * (parts[0][c] + parts[1][c]), 0));
  return colourWithErrors(xyz, tables, half && ((slopes) =>
    weighedHalf(half, gains.flatMap((gain) => slopes.map((each) => gain * each)))));
}

/** Error of a number of both sides of a face, by its slope against each; bands alone are the least. */
function ofBoth(lit, shadow, both, byLit, byShadow) {
  const square = (byLit * lit.error) ** 2 + (byShadow * shadow.error) ** 2 + 2 * byLit * byShadow * both;
  return Math.max(Math.sqrt(Math.max(0, square)), Math.hypot(byLit * lit.bands, byShadow * shadow.bands));
}

/**
 * Both sides of each face and their ratio, with errors, as the program's own reports have them. The
 * key alone is what the lit side has over the shadow side, which is the fill; `alone` is that over the fill.
 */
export function faces(meters, gainOf, names) {
  const found = arriving(meters, gainOf), gains = meters.lamps.map(gainOf);
  return names.flatMap((name) => {
    const sides = ["left", "right"].map((side) => ({ side, meter: `${name}: ${side} cheek`, ...found.get(`${name}: ${side} cheek`) }));
    if (sides.some((side) => !side.xyz)) return [];
    const [lit, shadow] = sides[0].lux >= sides[1].lux ? sides : [sides[1], sides[0]];
    const both = meters.cheeks[name] ? weighed(meters.cheeks[name], gains) : 0;
    const ratio = lit.lux / shadow.lux;
    const error = Number.isFinite(ratio) ? ofBoth(lit, shadow, both, 1 / shadow.lux, -ratio / shadow.lux) : 0;
    const key = { lux: lit.lux - shadow.lux, error: ofBoth(lit, shadow, both, 1, -1) };
    return [{ name, lit, shadow, ratio, alone: ratio - 1, error, key }];
  });
}

/**
 * The lamp that is the key of a face, which gives most on the brighter cheek, against all others there:
 * {lamp, side, ratio, error}; null without light.
 */
export function keyLamp(meters, gainOf, name) {
  const found = arriving(meters, gainOf), gains = meters.lamps.map(gainOf);
  const sides = ["left", "right"].map((side) => ({ side, meter: `${name}: ${side} cheek` }))
    .map((each) => ({ ...each, ...found.get(each.meter) }));
  if (sides.some((side) => !side.xyz)) return null;
  const at = sides[0].lux >= sides[1].lux ? sides[0] : sides[1];
  if (!(at.lux > 0)) return null;
  const m = meters.names.indexOf(at.meter);
  const light = meters.xyz[m].map((parts, lamp) => gains[lamp] * (parts[0][1] + parts[1][1]));
  const strongest = light.indexOf(Math.max(...light)), own = gains.map((gain, lamp) => (lamp === strongest ? gain : 0));
  const others = gains.map((gain, lamp) => (lamp === strongest ? 0 : gain));
  const key = light[strongest], rest = light.reduce((sum, each, lamp) => sum + (lamp === strongest ? 0 : each), 0);
  const ratio = key / rest, spread = meters.spread[m];
  if (!Number.isFinite(ratio)) return { lamp: meters.lamps[strongest], side: at.side, ratio, error: 0 };
  const square = weighed(spread, own) / key ** 2 + weighed(spread, others) / rest ** 2
    - 2 * weighed(spread, own, others) / (key * rest);
  const bands = (weights) => meters.bands[m].reduce((sum, each, lamp) => sum + weights[lamp] * each, 0);
  return { lamp: meters.lamps[strongest], side: at.side, ratio,
    error: ratio * Math.hypot(Math.sqrt(Math.max(0, square)), bands(own) / key, bands(others) / rest) };
}
