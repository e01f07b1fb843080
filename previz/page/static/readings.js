// Faces and meters, live: what each lamp gives at full level, times its level, as `previz meter` reports it.

import { byId, made, say } from "./dom.js";
import { signalPerLuminance, tStopText } from "./light.js";
import {
  NO_LIGHT, UNITS, duvTexts, evText, illuminanceIn, kelvinTexts, pairTexts, ratioStopsTexts, ratioTexts, stopsTexts,
} from "./meter_words.js";
import { arriving, colourAt, domeOf, faces, isDome, keyLamp, onFew, stopsOff } from "./metering.js";

const KEPT_VIEW = "previz meters";

/** What stands in a cell: a number, and its error under it. */
export function cellWithError() {
  const value = made("span", { class: "value" }), off = made("span", { class: "off" });
  return { element: made("td", {}, value, off), say: ([text, error = ""]) => {
    say(value, text);
    say(off, error);
  } };
}

export class ReadingPanel {
  constructor(store) {
    this.store = store;
    this.box = byId("face-table");
    this.meters = null;
    this.waiting = "Meters are being read…";
    this.build();
  }

  build() {
    Object.assign(this.store.view, keptView());
    const keep = (fields) => {
      this.store.setView(fields);
      keepView({ unit: this.store.view.unit, all: this.store.view.all });
    };
    this.choice = made("select", { onchange: () => keep({ unit: this.choice.value }) },
      Object.entries(UNITS).map(([value, [text]]) => made("option", { value }, text)));
    this.whole = made("input", { type: "checkbox", onchange: () => keep({ all: this.whole.checked }) });
    this.tables = made("div", { class: "tables" });
    this.box.replaceChildren(made("div", { class: "row" },
      made("label", { class: "labelled" }, "Read in", this.choice),
      made("label", { class: "check" }, this.whole, "All meters and domes")), this.tables);
  }

  take(meters) {
    this.meters = meters;
    this.built = "";
  }

  /** Say that the figures are of what was set before, or that they no longer are. */
  behind(is) {
    this.isBehind = is;
    this.box.setAttribute("aria-busy", String(is));
  }

  get unit() {
    return this.store.view.unit;
  }

  /** How much of a lamp's light there is, none of a lamp that the option does not have. */
  get gainOf() {
    const { store } = this;
    return (name) => (store.lamps.some((each) => each.name === name) ? store.gain(name) : 0);
  }

  show() {
    const { meters, store, unit } = this;
    this.choice.value = unit;
    this.whole.checked = store.view.all;
    if (!meters || !meters.names.length) {
      this.tables.replaceChildren(made("p", { class: "note" }, this.waiting));
      this.built = "";
      return;
    }
    const { gainOf } = this, found = arriving(meters, gainOf), gains = meters.lamps.map(gainOf);
    const people = faces(meters, gainOf, store.optionNow.faces), seen = new Set(people.map((each) => each.name));
    const few = meters.names.filter((name, m) => {
      const { lux, error } = found.get(name);
      return !isDome(name) && onFew(meters.few, m, gains, lux, error);
    });
    this.fillTables(people.flatMap((each) => this.faceRows(each, found)),
      people.flatMap((each) => this.ratioRows(each)), this.placeRows(found, seen));
    say(this.doubts, few.length ? `${few.join(", ")}: ± is not to be trusted. ${meters.few.words}` : "");
    this.doubts.hidden = !few.length;
  }

  /** Both sides of a face, the key alone, and the dome before it; on request all its meters. */
  faceRows({ name, lit, shadow, key }, found) {
    const rows = [[lit, "lit side"], [shadow, "shadow side"]].flatMap(([light, side]) => [
      this.row(`${name}, ${side} (${light.side} cheek)`, light.meter, light),
      ...this.domeRow(`${name}, ${side}, dome`, light.meter, found)]);
    rows.push(this.plainRow(`${name}, key alone`, key));
    const sides = [lit.meter, shadow.meter], front = `${name}: face`;
    rows.push(...this.domeRow(`${name}, face, dome`, front, found, true));
    if (this.store.view.all)
      for (const [place, light] of found) {
        if (isDome(place) || !place.startsWith(`${name}: `) || sides.includes(place) || place === front) continue;
        rows.push(this.row(place.replace(": ", ", "), place, light), ...this.domeRow(`${place.replace(": ", ", ")}, dome`, place, found));
      }
    return rows;
  }

  placeRows(found, seen) {
    return [...found].filter(([name]) => !isDome(name) && !seen.has(name.split(": ")[0])).flatMap(([name, light]) =>
      [this.row(name, name, light), ...this.domeRow(`${name}, dome`, name, found)]);
  }

  ratioRows({ name, ratio, alone, error }) {
    const lamp = keyLamp(this.meters, this.gainOf, name);
    const row = (words, value, off, isKey) => [`${name}, ${words}`, ratioTexts(value, off, isKey), ratioStopsTexts(value, off)];
    return [row("lit : shadow", ratio, error), row("key alone : fill", alone, error, true),
      ...(lamp ? [row(`key lamps : all others ('${lamp.lamp}', ${lamp.side} cheek)`, lamp.ratio, lamp.error)] : [])];
  }

  get constants() {
    const { incident_constant: flat, dome_constant: dome } = this.store.scene.tables;
    return { flat, dome };
  }

  /** The light of the stop that is set, by a meter's constant. [lx] */
  workingOf(constant) {
    const { store } = this;
    return (Math.PI / signalPerLuminance(store.cameraNow, store.scene.tables)) * (constant / this.constants.flat);
  }

  light({ lux, error }, constant) {
    const { tables } = this.store.scene, working = this.workingOf(constant);
    const stop = lux > 0 ? tStopText(this.store.cameraNow.stop * Math.sqrt(lux / working)) : "–";
    return { pair: pairTexts(illuminanceIn(lux, this.unit, tables), illuminanceIn(error, this.unit, tables)),
      ev: [evText(lux, constant)], stop: [stop],
      over: lux > 0 ? stopsTexts(Math.log2(lux / working), stopsOff(lux, error)) : [NO_LIGHT, ""] };
  }

  row(label, meter, light) {
    const { pair, ev, stop, over } = this.light(light, this.constants.flat);
    const colour = colourAt(this.meters, meter, this.gainOf, this.store.scene.tables);
    return [label, pair, ev, stop, over, kelvinTexts(colour), duvTexts(colour)];
  }

  /** What a dome reads before a place: no colour, as reports have it of the flat meter. */
  domeRow(label, place, found, always = false) {
    const reading = found.get(domeOf(place));
    if (!reading || !(always || this.store.view.all)) return [];
    const { pair, ev, stop, over } = this.light(reading, this.constants.dome);
    return [[label, pair, ev, stop, over, [""], [""]]];
  }

  /** A light that no meter reads by itself. */
  plainRow(label, light) {
    const { pair, over } = this.light(light, this.constants.flat);
    return [label, pair, [""], [""], over, [""], [""]];
  }

  fillTables(...bodies) {
    const shape = [this.unit, ...bodies.map((body) => body.map((row) => row[0]).join())].join("|");
    if (shape !== this.built) this.buildTables(bodies);
    this.built = shape;
    bodies.flat().forEach(([, ...row], i) => row.forEach((texts, j) => this.cells[i][j].say(texts)));
  }

  buildTables(bodies) {
    this.cells = [];
    const table = (caption, heads, body) => !body.length ? null : made("table", {},
      made("caption", {}, caption),
      made("thead", {}, made("tr", {}, heads.map((head) => made("th", { scope: "col" },
        head || made("span", { class: "unseen" }, "Meter"))))),
      made("tbody", {}, body.map(([label, ...row]) => {
        const cells = row.map(cellWithError);
        this.cells.push(cells);
        return made("tr", {}, made("th", { scope: "row" }, label), cells.map((each) => each.element));
      })));
    const light = ["", UNITS[this.unit][1], "EV", "T", "Over / under", "CCT", "Duv"];
    const { flat, dome } = this.constants, { reflected_constant: seen } = this.store.scene.tables;
    this.doubts = made("p", { class: "note" });
    this.tables.replaceChildren(...[
      table("Faces", light, bodies[0]), table("Ratios", ["", "To one", "Stops"], bodies[1]), table("Places", light, bodies[2]),
      made("p", { class: "note" }, `Under each number ± is its own stated error, of paths and bands; of a colour, of paths. T is the stop to set, `
        + `over (+) and under (−) are stops from the stop that is set. EV is at ISO 100: flat C ${flat}, domed C ${dome}, spot K ${seen}. `
        + "Key alone is what the lit side has over the shadow side. Metered in the scene, not from the picture."),
    ].filter(Boolean), this.doubts);
  }
}

function keptView() {
  try {
    const { unit, all } = JSON.parse(localStorage.getItem(KEPT_VIEW)) ?? {};
    return { unit: unit in UNITS ? unit : "lx", all: all === true };
  } catch {
    return { unit: "lx", all: false };
  }
}

function keepView(view) {
  try {
    localStorage.setItem(KEPT_VIEW, JSON.stringify(view));
  } catch {
    // A page opened from a file may not keep anything.
  }
}
