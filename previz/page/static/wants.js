// What is wanted of the light, live: each want's reading from what the lamps give at its meters.

import { colourTemperature, ratioText, signalPerLuminance } from "./light.js";

/** Light under this share of the reference counts as none, as the program has it. */
const DARK = 1e-9;

/** Mired of a light, NaN where it has no colour temperature. */
function miredOf(xyz, tables) {
  const found = colourTemperature(xyz, tables);
  return found ? 1e6 / found.kelvin : NaN;
}

/** Sum of a table of numbers, each times a weight of its row and one of its column. */
function form(table, rows, columns) {
  return table.reduce((sum, row, i) => sum + rows[i] * row.reduce((part, each, j) => part + columns[j] * each, 0), 0);
}

/** Light at each meter now, by name: X, Y, Z. */
function lightAt(data, gains) {
  return new Map(data.meters.map((name, m) => [name, [0, 1, 2].map((c) =>
    data.xyz[m].reduce((sum, xyz, lamp) => sum + gains[lamp] * xyz[c], 0))]));
}

function stopsError(data, name, gains, light) {
  const spread = data.spread[data.meters.indexOf(name)];
  return light > 0 ? Math.sqrt(Math.max(0, form(spread, gains, gains))) / light / Math.LN2 : 0;
}

function ratioError(data, want, gains, [one, other]) {
  // The table of a pair has the rows of the first as it is written, which may be either side.
  const [a, b] = want.meters;
  const both = form(data.pairs[`${a}|${b}`], gains, gains) / (one * other);
  const parts = want.meters.map((name) => form(data.spread[data.meters.indexOf(name)], gains, gains));
  const square = parts[0] / one ** 2 + parts[1] / other ** 2 - 2 * both;
  return one > 0 && other > 0 ? Math.sqrt(Math.max(0, square)) / Math.LN2 : 0;
}

function miredError(data, name, gains, xyz, tables) {
  // Over the steps of the table of black bodies.
  const step = 0.02 * xyz[1];
  const slope = [0, 1, 2].map((c) => {
    const [up, down] = [1, -1].map((sign) => miredOf(xyz.map((each, i) => each + (i === c ? sign * step : 0)), tables));
    return (up - down) / (2 * step);
  });
  const weights = gains.flatMap((gain) => slope.map((each) => gain * each));
  return Math.sqrt(Math.max(0, form(data.colours[name], weights, weights)));
}

/** What 0 stops is at a want's camera as it is set now. [lx or cd/m²] */
function referenceOf(want, camera, tables) {
  if (!camera) return want.reference;
  const signal = signalPerLuminance(camera, tables);
  return want.seen ? tables.mid_grey / signal : Math.PI / signal;
}

/**
 * How each want stands: its reading with its error, how far it is off, whether it is met.
 * `gainOf` has how much of a lamp's light there is, `cameraOf` a camera as it is set, both by name.
 */
export function wantReadings(data, gainOf, cameraOf, tables) {
  const gains = data.lamps.map(gainOf), light = lightAt(data, gains);
  return data.wants.map((want) => {
    const xyz = want.meters.map((name) => light.get(name));
    if (!want.metered || xyz.some((each) => !each)) return { want, metered: false, met: false };
    const [value, error] = readingOf(data, want, gains, xyz, cameraOf, tables);
    const off = value - want.target;
    const miss = (want.at_most && off < 0) || (want.at_least && off > 0) ? 0 : off;
    const dark = xyz.every((each) => !(each[1] > 0));
    return { want, metered: true, dark, value, error, miss, met: Math.abs(miss) <= want.within };
  });
}

function readingOf(data, want, gains, xyz, cameraOf, tables) {
  // Of two meters the lit or the shadow side: whichever that is now.
  const at = want.side && xyz.length > 1 ? sideOf(want.side, xyz) : 0;
  if (want.kind === "colour")
    return [miredOf(xyz[at], tables), miredError(data, want.meters[at], gains, xyz[at], tables)];
  if (want.kind === "ratio") {
    const other = 1 - at;
    return [Math.log2(Math.max(xyz[at][1] / Math.max(xyz[other][1], 1e-12), DARK)),
      ratioError(data, want, gains, xyz.map((each) => each[1]))];
  }
  const reference = referenceOf(want, cameraOf(want.camera), tables);
  return [Math.log2(Math.max(xyz[at][1] / reference, DARK)), stopsError(data, want.meters[at], gains, xyz[at][1])];
}

/** Number of the brighter or the darker of two lights. */
function sideOf(side, [one, other]) {
  const brighter = one[1] >= other[1] ? 0 : 1;
  return side === "darker" ? 1 - brighter : brighter;
}

// In words, as the program's own reports have them

function withSign(value, digits) {
  const text = Math.abs(value).toFixed(digits);
  if (Number(text) === 0) return text;
  return (value < 0 ? "−" : "+") + text;
}

/** '0.0', 'at most +2.5', '4.0 : 1', '3600 K'. */
export function wantedText(want) {
  if (want.kind === "colour") return `${Math.round(1e6 / want.target)} K`;
  if (want.kind === "ratio") return ratioText(2 ** want.target);
  return `${want.at_most ? "at most " : want.at_least ? "at least " : ""}${withSign(want.target, 1)}`;
}

/** How a want stands, and its standard error: ['−1.98', '± 0.01']. */
export function standingTexts({ want, metered, dark, value, error }) {
  if (!metered) return ["–", ""];
  if (dark || !Number.isFinite(value)) return [want.kind === "level" ? "no light" : "–", ""];
  if (want.kind === "colour") return [`${Math.round(1e6 / value)} K`, `± ${Math.round(1e6 / value ** 2 * error)}`];
  if (want.kind === "ratio") return [ratioText(2 ** value), `± ${(2 ** value * Math.LN2 * error).toFixed(2)}`];
  return [withSign(value, 2), `± ${error.toFixed(2)}`];
}

/** 'met', '0.80 stops over', '24 mired too warm'; of what is not metered why. */
export function missText({ want, metered, dark, met, miss }) {
  if (!metered) return want.fault || "not metered yet";
  if (met) return "met";
  if (dark || !Number.isFinite(miss)) return "no light";
  if (want.kind === "colour") return `${Math.abs(miss).toFixed(0)} mired too ${miss > 0 ? "warm" : "cool"}`;
  return `${Math.abs(miss).toFixed(2)} stops ${miss > 0 ? "over" : "under"}`;
}

/** How many wants are met, in a sentence. */
export function verdictText(readings) {
  const metered = readings.filter((each) => each.metered);
  const met = metered.filter((each) => each.met).length, all = readings.length;
  if (metered.length < all) return metered.length ? `${met} of ${all} wants met; not all are metered yet.` : "Nothing that is wanted is metered yet.";
  if (met === all) return all === 1 ? "The want is met." : `All ${all} wants are met.`;
  return all === 1 ? "The want is not met." : `${met} of ${all} wants ${met === 1 ? "is" : "are"} met.`;
}
