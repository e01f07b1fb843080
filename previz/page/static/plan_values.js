// Places and angles on the plan: numbers here, text as a scene file has it there.

export const CENTIMETRE = 0.01, MILLIMETRE = 0.001;

export function roundedTo(value, step) {
  return Number((Math.round(value / step) * step).toFixed(6));
}

/** A length as a scene file has it, to a tenth of a millimetre. */
function lengthText(metres) {
  return `${Number(metres.toFixed(4))} m`;
}

export function pointText(point) {
  return point.map(lengthText);
}

export function angleText(deg) {
  return `${Number((((deg % 360) + 360) % 360).toFixed(2))} deg`;
}

/** Where a point is after it was turned about another, counter-clockwise as seen from above. */
export function turnedAbout(point, middle, deg) {
  const [cos, sin] = [Math.cos(deg * Math.PI / 180), Math.sin(deg * Math.PI / 180)];
  const [x, y] = [point[0] - middle[0], point[1] - middle[1]];
  return [middle[0] + cos * x - sin * y, middle[1] + sin * x + cos * y, point[2]];
}

/** Direction from one point to another, counter-clockwise from east. [deg] */
export function bearing(from, to) {
  return Math.atan2(to[1] - from[1], to[0] - from[0]) * 180 / Math.PI;
}

/** What was written in a field as a scene file has it: '[1 m, 2 m]' is a list. */
export function fieldValue(text) {
  const trimmed = text.trim();
  return /^\[.*\]$/.test(trimmed) ? trimmed.slice(1, -1).split(",").map((each) => each.trim()) : trimmed;
}

/** A name that nothing has yet: 'fresnel', 'fresnel 2', ... */
export function freeName(stem, taken) {
  for (let number = 1; ; number++) {
    const name = number === 1 ? stem : `${stem} ${number}`;
    if (!taken.has(name)) return name;
  }
}
