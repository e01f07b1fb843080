// The marks of a plan as parts of an SVG drawing.

import { svgMade } from "./dom.js";

const ANCHOR = { left: "start", centre: "middle", right: "end" };

function short(value) {
  return String(Number(value.toFixed(2)));
}

/** A mark of the plan: `scale` is px a metre, `millimetre` px for a mm of paper; y of the plan runs up. */
export function markDrawn(mark, scale, millimetre) {
  const look = `mark ${mark.layer} ${mark.pen ? `pen-${mark.pen}` : "pen-none"} ${mark.fill ? `fill-${mark.fill}` : ""}`;
  const place = ([x, y]) => [short(x * scale), short(-y * scale)];
  if (mark.text !== undefined) {
    const [x, y] = place(mark.at);
    return svgMade("text", { x, y, class: `word-${mark.quiet ? "quiet" : mark.strong ? "strong" : "plain"}`,
      "font-size": short(mark.size * millimetre), "text-anchor": ANCHOR[mark.align],
      transform: mark.turn ? `rotate(${short(-mark.turn)} ${x} ${y})` : null }, mark.text);
  }
  if (mark.radius !== undefined) {
    const [cx, cy] = place(mark.at);
    return svgMade("circle", { cx, cy, r: short(mark.radius * scale), class: look });
  }
  const path = mark.points.map((each) => place(each).join(" ")).join("L");
  return svgMade("path", { d: `M${path}${mark.closed ? "Z" : ""}`, class: look });
}

/** Low and high corner of some marks, null for none. [m] */
export function boundsOf(marks) {
  const points = marks.flatMap((each) => each.points ?? (each.radius === undefined ? [] : [
    [each.at[0] - each.radius, each.at[1] - each.radius], [each.at[0] + each.radius, each.at[1] + each.radius]]));
  if (!points.length) return null;
  const of = (pick, axis) => pick(...points.map((each) => each[axis]));
  return [[of(Math.min, 0), of(Math.min, 1)], [of(Math.max, 0), of(Math.max, 1)]];
}
