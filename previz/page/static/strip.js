// The drawing of a walk: stops on the lit and the shadow side against metres, marks, holes and hot spots.

const NAMESPACE = "http://www.w3.org/2000/svg";
const TALL = 210, LEFT = 42, RIGHT = 12, TOP = 26, BOTTOM = 24;
const DARKEST = -8, LEAST_TOP = 1, LEAST_BOTTOM = -3;

/** An element of a drawing. */
function drawn(name, properties, ...children) {
  const element = document.createElementNS(NAMESPACE, name);
  for (const [key, value] of Object.entries(properties)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

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

/** The strip as an SVG element so many pixels wide. */
export function stripDrawing({ strip, lit, shadow, width, behind }) {
  const { metres, marks, uneven } = strip, end = metres.at(-1);
  const held = (stops) => Math.max(DARKEST, stops);
  const high = Math.max(LEAST_TOP, Math.ceil(Math.max(...lit.map(held)) + 0.3));
  const low = Math.min(LEAST_BOTTOM, Math.floor(Math.min(...shadow.map(held))));
  const x = (at) => LEFT + (at / end) * (width - LEFT - RIGHT);
  const y = (stops) => TOP + ((high - Math.max(low, stops)) / (high - low)) * (TALL - TOP - BOTTOM);
  const points = (values) => values.map((each, i) => `${x(metres[i]).toFixed(1)},${y(each).toFixed(1)}`).join(" ");
  const text = (words, at, over, more = {}) => drawn("text", { x: at.toFixed(1), y: over.toFixed(1), ...more }, words);
  const parts = [];
  for (let stop = low; stop <= high; stop++) {
    parts.push(drawn("line", { class: stop === 0 ? "grid working" : "grid", x1: LEFT, x2: width - RIGHT, y1: y(stop), y2: y(stop) }));
    if ((high - low) <= 8 || stop % 2 === 0)
      parts.push(text(signText(stop), LEFT - 6, y(stop) + 4, { "text-anchor": "end" }));
  }
  const step = end > 12 ? 2 : end > 3 ? 1 : 0.5;
  for (let at = 0; at <= end + 1e-6; at += step)
    parts.push(text(`${at}${at + step > end ? " m" : ""}`, x(at), TALL - BOTTOM + 16, { "text-anchor": "middle" }));
  marks.forEach(({ name, at }, i) => {
    const here = x(metres[at]), last = i === marks.length - 1 && here > width - 90;
    parts.push(drawn("line", { class: "mark", x1: here, x2: here, y1: TOP, y2: TALL - BOTTOM }));
    parts.push(text(name, here + (last ? 3 : i ? 0 : -3), TOP - 10,
      { class: "name", "text-anchor": last ? "end" : i ? "middle" : "start" }));
  });
  for (const each of behind ? [] : uneven)
    parts.push(drawn("rect", { class: each.kind === "hole" ? "hole" : "hot", x: x(metres[each.first]) - 3, y: TOP,
      width: x(metres[each.last]) - x(metres[each.first]) + 6, height: TALL - TOP - BOTTOM }));
  parts.push(drawn("polyline", { class: "shadow", points: points(shadow) }));
  parts.push(drawn("polyline", { class: "lit", points: points(lit) }));
  for (const each of behind ? [] : uneven) {
    const here = x(metres[each.at]), over = y(lit[each.at]);
    parts.push(drawn("circle", { class: "at", cx: here, cy: over, r: 4 }));
    parts.push(text(`${each.kind}, ${each.stops.toFixed(1)} stops`, Math.min(Math.max(here, LEFT + 52), width - RIGHT - 52),
      Math.max(over - 10, TOP + 12),
      { class: "name", "text-anchor": "middle" }));
  }
  return drawn("svg", { viewBox: `0 0 ${width} ${TALL}`, width, height: TALL, role: "img",
    "aria-label": `Stops on the face against metres. ${strip.words.join(" ")}` }, ...parts);
}
