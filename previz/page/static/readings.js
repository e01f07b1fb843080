// Faces and meters, live: what each lamp gives at full level, times its level.

import { byId, made, say } from "./dom.js";
import { colourTemperature, figures, ratioText, signalPerLuminance, stopsText, tStopText } from "./light.js";

const DOME = ", dome";

/** A key alone of a smaller part of the fill is shown as none. */
const LEAST_KEY = 0.05;

/** Sum of a table of numbers, each times the levels of its row's and its column's lamp. */
function weighed(table, gains) {
  return table.reduce((sum, row, i) => sum + gains[i] * row.reduce((part, each, j) => part + gains[j] * each, 0), 0);
}

/** Error of what a meter reads: by how its lamps' errors go together, and of bands, which add up. [lx] */
function errorOf(meters, m, gains) {
  const bands = meters.bands[m].reduce((sum, each, lamp) => sum + gains[lamp] * each, 0);
  return Math.hypot(Math.sqrt(Math.max(0, weighed(meters.spread[m], gains))), bands);
}

/**
 * Whether what a meter reads stands on few paths that found light, or may miss some that none found:
 * each lamp counts as it adds to the variance.
 */
function onFew(few, m, gains, lux, error) {
  const parts = few.parts[m].map((part, lamp) => part * gains[lamp] ** 2);
  const whole = parts.reduce((sum, part) => sum + part, 0);
  const root = whole > 0 ? parts.reduce((sum, part, lamp) => sum + part / whole / Math.sqrt(few.support[m][lamp]), 0) : 0;
  const hidden = Math.hypot(...few.hidden[m].map((each, lamp) => each * gains[lamp]));
  return (root ** 2 * few.least > 1 && error > few.counts * lux) || hidden > few.counts * lux;
}

/** What arrives at each meter now: XYZ, lux, and the error of the lux. [lx] */
export function arriving(meters, gainOf) {
  const gains = meters.lamps.map(gainOf);
  const found = new Map();
  meters.names.forEach((name, m) => {
    const xyz = [0, 0, 0];
    meters.xyz[m].forEach((parts, lamp) => {
      for (const part of parts) for (let i = 0; i < 3; i++) xyz[i] += gains[lamp] * part[i];
    });
    found.set(name, { xyz, lux: xyz[1], error: errorOf(meters, m, gains) });
  });
  return found;
}

/**
 * Both sides of each face and their ratio, with errors, as the program's own reports have them. The
 * key alone is what the lit side has over the shadow side, which is the fill.
 */
export function faces(meters, gainOf, names) {
  const found = arriving(meters, gainOf), gains = meters.lamps.map(gainOf);
  return names.flatMap((name) => {
    const sides = ["left", "right"].map((side) => ({ side, ...found.get(`${name}: ${side} cheek`) }));
    if (sides.some((side) => !side.xyz)) return [];
    const [lit, shadow] = sides[0].lux >= sides[1].lux ? sides : [sides[1], sides[0]];
    const both = meters.cheeks[name] ? weighed(meters.cheeks[name], gains) : 0;
    const ratio = lit.lux / shadow.lux;
    const square = (lit.error / lit.lux) ** 2 + (shadow.error / shadow.lux) ** 2 - 2 * both / (lit.lux * shadow.lux);
    const error = Number.isFinite(ratio) ? ratio * Math.sqrt(Math.max(0, square)) : 0;
    return [{ name, lit, shadow, ratio, alone: ratio - 1, error }];
  });
}

export class ReadingPanel {
  constructor(store) {
    this.store = store;
    this.box = byId("face-table");
    this.meters = null;
    this.waiting = "Meters are being read…";
  }

  take(meters) {
    this.meters = meters;
    this.built = "";
  }

  /** Say that the figures are of what was set before, or that they no longer are. */
  behind(is) {
    this.box.setAttribute("aria-busy", String(is));
  }

  show() {
    const { meters, store } = this;
    if (!meters || !meters.names.length) {
      this.box.replaceChildren(made("p", { class: "note" }, this.waiting));
      this.built = "";
      return;
    }
    const gainOf = (name) => (store.lamps.some((each) => each.name === name) ? store.gain(name) : 0);
    const working = Math.PI * 1 / signalPerLuminance(store.cameraNow, store.scene.tables);
    const faceNames = new Set(store.optionNow.faces);
    const people = faces(meters, gainOf, store.optionNow.faces);
    const sides = people.flatMap(({ name, lit, shadow }) => [
      this.row(`${name}, lit side (${lit.side})`, lit, working),
      this.row(`${name}, shadow side (${shadow.side})`, shadow, working)]);
    const ratios = people.flatMap(({ name, ratio, alone, error }) => [
      [`${name}, lit : shadow`, ...ratioTexts(ratio, error)],
      [`${name}, key alone : fill`, ...(alone < LEAST_KEY ? ["even", "–", "–"] : ratioTexts(alone, error))]]);
    const found = arriving(meters, gainOf), gains = meters.lamps.map(gainOf);
    const few = meters.names.filter((name, m) => {
      const { lux, error } = found.get(name);
      return !name.endsWith(DOME) && onFew(meters.few, m, gains, lux, error);
    });
    const places = [...found]
      .filter(([name]) => !name.endsWith(DOME) && !faceNames.has(name.split(": ")[0]))
      .map(([name, reading]) => this.row(name, reading, working));
    this.fillTables(sides, ratios, places);
    say(this.doubts, few.length ? `${few.join(", ")}: ± is not to be trusted. ${meters.few.words}` : "");
    this.doubts.hidden = !few.length;
  }

  row(name, { xyz, lux, error }, working) {
    const colour = colourTemperature(xyz, this.store.scene.tables);
    return [name, figures(lux), errorText(error, lux), stopOf(lux, this.store.cameraNow, working),
      lux > 0 ? stopsText(Math.log2(lux / working)) : "no light", kelvins(colour)];
  }

  fillTables(...bodies) {
    const shape = bodies.map((body) => body.map((row) => row[0])).join("|");
    if (shape !== this.built) {
      this.cells = [];
      const table = (caption, heads, body) => !body.length ? null : made("table", {},
        made("caption", {}, caption),
        made("thead", {}, made("tr", {}, heads.map((head) => made("th", { scope: "col" }, head)))),
        made("tbody", {}, body.map((row) => {
          const cells = row.map((text, i) => made(i ? "td" : "th", i ? {} : { scope: "row" }, text));
          this.cells.push(cells);
          return made("tr", {}, cells);
        })));
      const light = ["", "lx", "±", "Meters at", "Over / under", "CCT K"];
      this.box.replaceChildren(...[
        table("Faces", light, bodies[0]),
        table("Ratios", ["", "to one", "±", "Stops"], bodies[1]),
        table("Places", light, bodies[2]),
        made("p", { class: "note" }, "Over (+) and under (−) in stops from the stop that is set. Key alone is what "
          + "the lit side has over the shadow side. ± is the stated error of the number before it, of paths and bands. Metered in "
          + "the scene, not from the picture."),
      ].filter(Boolean));
      this.doubts = made("p", { class: "note" });
      this.box.append(this.doubts);
      this.built = shape;
      return;
    }
    bodies.flat().forEach((row, i) => row.forEach((text, j) => say(this.cells[i][j], text)));
  }
}

function ratioTexts(ratio, error) {
  return [ratioText(ratio), errorText(error, ratio),
    ratio > 0 && Number.isFinite(ratio) ? stopsText(Math.log2(ratio)) : "–"];
}

function kelvins(colour) {
  return colour && Math.abs(colour.duv) < 0.05 ? figures(Math.round(colour.kelvin / 10) * 10) : "–";
}

/** A standard error as a share of its number. */
function errorText(error, of) {
  const share = error / of;
  return of > 0 && Number.isFinite(share) ? `${(100 * share).toFixed(share < 0.1 ? 1 : 0)} %` : "–";
}

/** Stops from the stop that is set. */
function overText(lux, working) {
  return lux > 0 ? stopsText(Math.log2(lux / working)) : "no light";
}

/** T-stop at which a light meters: it is the stop that is set times the root of the light over its own. */
function stopOf(lux, camera, working) {
  return tStopText(camera.stop * Math.sqrt(lux / working));
}
