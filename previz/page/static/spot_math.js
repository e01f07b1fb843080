// Arithmetic of spot meters: what each lamp gives at a spot at full level, times its level. No page, no server.

import { applied, fadeMatrix, signalPerLuminance, videoPercent } from "./light.js";
import { colourWithErrors, stopsOff } from "./metering.js";

/**
 * What is read at a spot now, of its `parts` (each a lamp's light at full level): luminance [cd/m²] with its
 * error, stops from grey and theirs, video level [%], colour with its errors, and each lamp's share, the
 * largest first. An error is null where the noise of the picture is not known.
 */
export function spotNow(parts, gainOf, camera, tables) {
  const lit = parts.map((part) => {
    const gain = gainOf(part.lamp);
    // In a file that was handed out tungsten is packed at full level, and warms as it fades.
    const xyz = part.fade?.length ? applied(fadeMatrix(part.fade, gain), part.xyz) : part.xyz;
    return { name: part.lamp, gain, xyz: xyz.map((each) => gain * each), off: part.stderr === null ? null : gain * part.stderr,
      bands: part.bands === null ? null : gain * part.bands };
  });
  const shining = lit.filter((part) => part.gain > 0);
  const xyz = [0, 1, 2].map((c) => shining.reduce((sum, part) => sum + part.xyz[c], 0)), luminance = xyz[1];
  const known = shining.every((part) => part.off !== null && part.bands !== null);
  // The bands' errors of several lamps add up, those of paths do not.
  const error = known ? Math.hypot(...shining.map((part) => part.off), shining.reduce((sum, part) => sum + part.bands, 0)) : null;
  // Noise makes a lamp's light more or less and leaves its colour; the mix takes the colour of who has more.
  const varianceOf = known && ((slopes) => shining.reduce((sum, part) => {
    const along = slopes.reduce((whole, each, c) => whole + each * part.xyz[c], 0);
    return sum + (part.xyz[1] > 0 ? (along * part.off) / part.xyz[1] : 0) ** 2;
  }, 0));
  const signal = luminance * signalPerLuminance(camera, tables);
  const shares = lit.map((part) => ({ name: part.name, share: luminance > 0 ? part.xyz[1] / luminance : 0 }));
  return { luminance, error, stops: Math.log2(signal / tables.mid_grey), stopsError: error === null ? null : stopsOff(luminance, error),
    percent: videoPercent(signal), clipped: signal >= 1, colour: colourWithErrors(xyz, tables, varianceOf),
    shares: shares.sort((a, b) => b.share - a.share) };
}
