// Readings in few words, to stand over the picture: both sides of each face, their ratio, held spots.

import { signalPerLuminance } from "./light.js";
import { UNITS, illuminanceIn, luminanceIn, pairTexts, ratioTexts, stopsTexts } from "./meter_words.js";
import { faces, stopsOff } from "./metering.js";

/**
 * Short lines of what is read now: [{label, value, error, behind}], `behind` where a line is of what was set
 * before. The error is of the first number of the value.
 */
export function readingLines(page) {
  const { store, readings } = page, { tables } = store.scene, [, lightUnit, seenUnit] = UNITS[readings.unit];
  const working = Math.PI / signalPerLuminance(store.cameraNow, tables);
  const lines = [], behind = readings.waits;
  for (const { name, lit, shadow, ratio, error } of readings.meters ? faces(readings.meters, readings.gainOf, store.optionNow.faces) : []) {
    for (const [side, light] of [["lit side", lit], ["shadow side", shadow]]) {
      const [value, off] = pairTexts(...[light.lux, light.error].map((each) => illuminanceIn(each, readings.unit, tables)));
      const [stops] = stopsTexts(Math.log2(light.lux / working), null);
      lines.push({ label: `${name}, ${side}`, value: `${value} ${lightUnit}, ${stops}`, error: off, behind });
    }
    const [value, off] = ratioTexts(ratio, error);
    lines.push({ label: `${name}, lit : shadow`, value, error: off, behind });
  }
  for (const spot of page.spots?.readings ?? []) {
    const label = `${spot.number} ${spot.name || spot.thing || "spot"}`;
    if (!spot.known) {
      lines.push({ label, value: spot.words, error: "", behind: false });
      continue;
    }
    const [value, off] = pairTexts(...[spot.luminance, spot.error].map((each) =>
      each === null ? null : luminanceIn(each, readings.unit, tables)));
    const [stops] = stopsTexts(spot.stops, stopsOff(spot.luminance, spot.error));
    lines.push({ label, value: `${value} ${seenUnit}, ${stops}`, error: off, behind: spot.behind });
  }
  return lines;
}
