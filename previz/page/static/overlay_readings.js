// Readings in few words, to stand over the picture: both sides of each face, their ratio, held spots.

import { signalPerLuminance } from "./light.js";
import { UNITS, illuminanceIn, luminanceIn, pairTexts, ratioTexts, stopsTexts } from "./meter_words.js";
import { faces, stopsOff } from "./metering.js";

/** A number with its own error and its unit: '119 ± 1 lx'. */
function ofItsOwn([value, off], unit = "") {
  return [value, off, unit].filter(Boolean).join(" ");
}

/**
 * Short lines of what is read now: [{label, numbers, behind}], each number a text with its own error; `behind`
 * where a line is of what was set before.
 */
export function readingLines(page) {
  const { store, readings } = page, { tables } = store.scene, [, lightUnit, seenUnit] = UNITS[readings.unit];
  const working = Math.PI / signalPerLuminance(store.cameraNow, tables);
  const lines = [], behind = readings.waits;
  for (const { name, lit, shadow, ratio, error } of readings.meters ? faces(readings.meters, readings.gainOf, store.optionNow.faces) : []) {
    for (const [side, light] of [["lit side", lit], ["shadow side", shadow]]) {
      const amount = pairTexts(...[light.lux, light.error].map((each) => illuminanceIn(each, readings.unit, tables)));
      const stops = stopsTexts(Math.log2(light.lux / working), stopsOff(light.lux, light.error));
      lines.push({ label: `${name}, ${side}`, numbers: [ofItsOwn(amount, lightUnit), ofItsOwn(stops, "stops")], behind });
    }
    lines.push({ label: `${name}, lit : shadow`, numbers: [ofItsOwn(ratioTexts(ratio, error))], behind });
  }
  for (const spot of page.spots?.readings ?? []) {
    const label = `${spot.number} ${spot.name || spot.thing || "spot"}`;
    if (!spot.known) {
      lines.push({ label, numbers: [spot.words], behind: false });
      continue;
    }
    const amount = pairTexts(...[spot.luminance, spot.error].map((each) =>
      each === null ? null : luminanceIn(each, readings.unit, tables)));
    const stops = stopsTexts(spot.stops, spot.error === null ? null : stopsOff(spot.luminance, spot.error));
    lines.push({ label, numbers: [ofItsOwn(amount, seenUnit), ofItsOwn(stops, "stops")], behind: spot.behind });
  }
  return lines;
}
