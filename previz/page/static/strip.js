// The drawing of a walk: stops on the lit and the shadow side against metres, marks, holes and hot spots.

import { svgMade } from "./dom.js";

const TALL = 210, LEFT = 42, RIGHT = 12, TOP = 26, BOTTOM = 24;

/** About how wide a letter is, and how high a line. [px] */
const LETTER = 6.6, LINE = 14;
const DARKEST = -8, LEAST_TOP = 1, LEAST_BOTTOM = -3;

/**
 * Stops on both sides along a walk at levels: what lamps give there, times how much of each there is,
 * from the light of the working stop. No light is -Infinity.
 */
export function stripStops(walk, gainOf, working) {
  const gains = walk.lamps.map(gainOf);
  const side = (rows) => rows.map((row) => row.reduce((sum, each, lamp) => sum + gains[lamp] * each, 0));
  const [left, right] = [side(walk.left), side(walk.right)];
  const stops = (lux) => (lux > 0 ? Math.log2(lux / working) : -Infinity);
  return { lit: left.map((each, i) => stops(Math.max(each, right[i]))),
    shadow: left.map((each, i) => stops(Math.min(each, right[i]))) };
}

function signText(value) {
  return value === 0 ? "0" : `${value > 0 ? "+" : "−"}${Math.abs(value)}`;
}

/** How high words can stand without lying on others; these are added to them. [px] */
function clear(words, middle, half, over) {
  let at = over;
  while (words.some((each) => Math.abs(each.middle - middle) < each.half + half + 4 && Math.abs(each.at - at) < LINE)) at -= LINE;
  words.push({ middle, half, at });
  return at;
}

/** The strip as an SVG element so many pixels wide. */
export function stripDrawing({ strip, lit, shadow, width, behind }) {
  const { metres, marks, uneven } = strip, end = metres.at(-1);
  const held = (stops) => Math.max(DARKEST, stops);
  const high = Math.max(LEAST_TOP, Math.ceil(Math.max(...lit.map(held)) + 0.3));
  const low = Math.min(LEAST_BOTTOM, Math.floor(Math.min(...shadow.map(held))));
  const x = (at) => LEFT + (at / end) * (width - LEFT - RIGHT);
  // Names of marks that would lie on each other stand in rows.
  const lines = [], names = marks.map(({ name, at }) => {
    const half = (LETTER * name.length) / 2, middle = Math.min(Math.max(x(metres[at]), half + 2), width - half - 2);
    return { name, middle, at, up: clear(lines, middle, half, 0) };
  });
  const more = -Math.min(0, ...names.map(({ up }) => up)), top = TOP + more, foot = TALL + more - BOTTOM;
  const y = (stops) => top + ((high - Math.max(low, stops)) / (high - low)) * (foot - top);
  const points = (values) => values.map((each, i) => `${x(metres[i]).toFixed(1)},${y(each).toFixed(1)}`).join(" ");
  const text = (words, at, over, more = {}) => svgMade("text", { x: at.toFixed(1), y: over.toFixed(1), ...more }, words);
  const parts = [];
  for (let stop = low; stop <= high; stop++) {
    parts.push(svgMade("line", { class: stop === 0 ? "grid working" : "grid", x1: LEFT, x2: width - RIGHT, y1: y(stop), y2: y(stop) }));
    if ((high - low) <= 8 || stop % 2 === 0)
      parts.push(text(signText(stop), LEFT - 6, y(stop) + 4, { "text-anchor": "end" }));
  }
  const step = end > 12 ? 2 : end > 3 ? 1 : 0.5;
  for (let at = 0; at <= end + 1e-6; at += step)
    parts.push(text(`${at}${at + step > end ? " m" : ""}`, x(at), foot + 16, { "text-anchor": "middle" }));
  for (const { name, middle, at, up } of names) {
    const here = x(metres[at]);
    parts.push(svgMade("line", { class: "mark", x1: here, x2: here, y1: top + up, y2: foot }));
    parts.push(text(name, middle, top - 8 + up, { class: "name", "text-anchor": "middle" }));
  }
  for (const each of behind ? [] : uneven)
    parts.push(svgMade("rect", { class: each.kind === "hole" ? "hole" : "hot", x: x(metres[each.first]) - 3, y: top,
      width: x(metres[each.last]) - x(metres[each.first]) + 6, height: foot - top }));
  parts.push(svgMade("polyline", { class: "shadow", points: points(shadow) }));
  parts.push(svgMade("polyline", { class: "lit", points: points(lit) }));
  const named = [];
  for (const each of behind ? [] : uneven) {
    const here = x(metres[each.at]), over = y(lit[each.at]);
    parts.push(svgMade("circle", { class: "at", cx: here, cy: over, r: 4 }));
    const words = `${each.kind}, ${each.stops.toFixed(1)} stops`, half = (LETTER * words.length) / 2;
    const middle = Math.min(Math.max(here, LEFT + half), width - RIGHT - half);
    parts.push(text(words, middle, clear(named, middle, half, Math.max(over - 10, top + LINE)),
      { class: "name", "text-anchor": "middle" }));
  }
  return svgMade("svg", { viewBox: `0 0 ${width} ${TALL + more}`, width, height: TALL + more, role: "img",
    "aria-label": `Stops on the face against metres. ${strip.words.join(" ")}` }, ...parts);
}
