// Faces and meters, live: what each lamp gives at full level, times its level.

import { byId, made, say } from "./dom.js";
import { colourTemperature, figures, ratioText, signalPerLuminance, stopsText, tStopText } from "./light.js";

const DOME = ", dome";

/** XYZ [lx] that arrives at each meter now. */
export function arriving(meters, gainOf) {
  const gains = meters.lamps.map(gainOf);
  const found = new Map();
  meters.names.forEach((name, m) => {
    const sum = [0, 0, 0];
    meters.xyz[m].forEach((parts, lamp) => {
      for (const part of parts) for (let i = 0; i < 3; i++) sum[i] += gains[lamp] * part[i];
    });
    found.set(name, sum);
  });
  return found;
}

/** Key and fill of each face from its two cheeks: the fill reaches both sides alike. */
export function faces(found, names) {
  return names.flatMap((name) => {
    const sides = ["left cheek", "right cheek"].map((part) => found.get(`${name}: ${part}`));
    if (sides.some((side) => !side)) return [];
    const lux = sides.map((side) => side[1]);
    const lit = lux[0] >= lux[1] ? 0 : 1, shadow = 1 - lit;
    const key = lux[lit] - lux[shadow], fillLight = lux[shadow];
    return [{ name, side: ["left", "right"][lit], xyz: sides[lit], lit: lux[lit], key, fill: fillLight,
      alone: key / fillLight, whole: lux[lit] / fillLight }];
  });
}

export class ReadingPanel {
  constructor(store) {
    this.store = store;
    this.box = byId("face-table");
    this.meters = null;
    this.error = new Map();
    this.waiting = "Meters are being read…";
  }

  take(meters) {
    this.meters = meters;
    this.error = new Map(meters.names.map((name, i) => [name, meters.error[i]]));
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
    const found = arriving(meters, (name) => (store.lamps.some((each) => each.name === name) ? store.gain(name) : 0));
    const tables = store.scene.tables;
    const working = Math.PI * 1 / signalPerLuminance(store.cameraNow, tables);
    const people = faces(found, store.optionNow.faces);
    const faceNames = new Set(store.optionNow.faces);
    const others = [...found.keys()].filter((name) =>
      !name.endsWith(DOME) && !faceNames.has(name.split(": ")[0]));
    const rows = [];
    for (const face of people) {
      const colour = colourTemperature(face.xyz, tables);
      rows.push([`${face.name}, ${face.side} side`, figures(face.key), figures(face.fill),
        ratioText(face.alone), ratioText(face.whole), overText(face.lit, working),
        kelvins(colour), errorText(this.error.get(`${face.name}: ${face.side} cheek`))]);
    }
    const plain = others.map((name) => {
      const xyz = found.get(name), colour = colourTemperature(xyz, tables);
      return [name, figures(xyz[1]), stopOf(xyz[1], store.cameraNow, working),
        overText(xyz[1], working), kelvins(colour), errorText(this.error.get(name))];
    });
    this.fillTables(rows, plain);
  }

  fillTables(rows, plain) {
    const shape = `${rows.map((row) => row[0])}|${plain.map((row) => row[0])}`;
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
      this.box.replaceChildren(...[
        table("Faces", ["", "Key lx", "Fill lx", "K : F", "(K + F) : F", "Over / under", "CCT K", "Error"], rows),
        table("Places", ["", "lx", "Meters at", "Over / under", "CCT K", "Error"], plain),
        made("p", { class: "note" }, "Over (+) and under (−) in stops from the stop that is set; a face by "
          + "its lit side. Metered in the scene, not from the picture."),
      ].filter(Boolean));
      this.built = shape;
      return;
    }
    [...rows, ...plain].forEach((row, i) => row.forEach((text, j) => say(this.cells[i][j], text)));
  }
}

function kelvins(colour) {
  return colour && Math.abs(colour.duv) < 0.05 ? figures(Math.round(colour.kelvin / 10) * 10) : "–";
}

function errorText(error) {
  return error === undefined || error === null ? "–" : `${(100 * error).toFixed(error < 0.1 ? 1 : 0)} %`;
}

/** Stops from the stop that is set. */
function overText(lux, working) {
  return lux > 0 ? stopsText(Math.log2(lux / working)) : "no light";
}

/** T-stop at which a light meters: it is the stop that is set times the root of the light over its own. */
function stopOf(lux, camera, working) {
  return tStopText(camera.stop * Math.sqrt(lux / working));
}
