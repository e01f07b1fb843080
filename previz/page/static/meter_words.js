// Readings in words, as `previz meter` has them: a number and its error in the same unit, with the same decimals.

import { figures, stopsText } from "./light.js";

export const NO_LIGHT = "no light";

/** A key alone of a smaller part of the fill is written as none. */
const LEAST_KEY = 0.05;

/** Units that light is read in: [what it is called, lux, luminance]. */
export const UNITS = { lx: ["lx and cd/m²", "lx", "cd/m²"], fc: ["fc and fL", "fc", "fL"] };

/** A lux in the unit that is read in. */
export function illuminanceIn(lux, unit, tables) {
  return unit === "fc" ? lux / tables.lux_per_footcandle : lux;
}

/** A luminance [cd/m²] in the unit that goes with it: 1 fL is 1/π cd/ft². */
export function luminanceIn(nits, unit, tables) {
  return unit === "fc" ? (nits * Math.PI) / tables.lux_per_footcandle : nits;
}

/** EV at ISO 100 of a reading by its meter's constant (ISO 2720): log2(100 · reading / constant). */
export function evText(reading, constant) {
  return reading > 0 ? Math.log2((100 * reading) / constant).toFixed(1).replace("-", "−") : NO_LIGHT;
}

function decimals(value) {
  if (!Number.isFinite(value) || value === 0) return 2;
  return Math.min(4, Math.max(0, 2 - Math.floor(Math.log10(Math.abs(value)))));
}

/** A reading and its error, both with as many decimals, one more where the error needs it: ['52.4', '± 0.3']. */
export function pairTexts(value, error) {
  if (!Number.isFinite(value)) return ["–", ""];
  if (value === 0 && !error) return ["0", "± 0"];
  const own = decimals(value);
  const small = (digits) => error > 0 && error < 0.5 * 10 ** -digits;
  const digits = small(own) ? Math.min(4, own + 1) : own;
  const shown = digits > own || Math.abs(value) < 1 ? value.toFixed(digits) : figures(value);
  return [shown, offText(error, digits)];
}

/** '± 0.12', '± <0.01'; nothing of an error that is not known. */
function offText(error, digits) {
  if (error === null || !Number.isFinite(error)) return "";
  const least = 10 ** -digits;
  return error > 0 && error < least / 2 ? `± <${least.toFixed(digits)}` : `± ${error.toFixed(digits)}`;
}

/** Stops to a tenth, and their error to a hundredth; without light neither. */
export function stopsTexts(stops, error) {
  if (!Number.isFinite(stops)) return [stops === -Infinity ? NO_LIGHT : "–", ""];
  return [stopsText(stops), offText(error, 2)];
}

/** '4.05 : 1', 'no fill', 'even' of a key alone that is next to nothing. */
export function ratioTexts(ratio, error, isKey = false) {
  if (Number.isNaN(ratio)) return ["–", ""];
  if (ratio === Infinity) return ["no fill", ""];
  if (isKey && ratio >= 0 && ratio < LEAST_KEY) return ["even", ""];
  const digits = ratio < 10 ? 2 : ratio < 100 ? 1 : 0;
  return [`${ratio.toFixed(digits)} : 1`, offText(error, 2)];
}

/** A ratio in stops with the error of the stops. */
export function ratioStopsTexts(ratio, error) {
  if (!(ratio > 0) || !Number.isFinite(ratio)) return ["–", ""];
  return stopsTexts(Math.log2(ratio), error / ratio / Math.LN2);
}

/** ['3214 K', '± 12'] of a colour with errors, a dash for none. */
export function kelvinTexts(colour) {
  if (!colour) return ["–", ""];
  return [`${Math.round(colour.kelvin)} K`, offText(colour.kelvinError, 0)];
}

/** ['+0.0031', '± 0.0002'] of a colour with errors. */
export function duvTexts(colour) {
  if (!colour) return ["–", ""];
  const text = Math.abs(colour.duv).toFixed(4);
  const sign = Number(text) === 0 ? "" : colour.duv < 0 ? "−" : "+";
  return [sign + text, offText(colour.duvError, 4)];
}

/** A spot's video level: '41 %', 'clip' from where the signal holds no more. */
export function signalText({ percent, clipped }) {
  return clipped ? "clip" : `${percent.toFixed(0)} %`;
}
