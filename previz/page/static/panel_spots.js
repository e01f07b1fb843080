// The table of held spots.

import { byId, fill, made, say } from "./dom.js";
import { UNITS, duvTexts, evText, kelvinTexts, luminanceIn, pairTexts, signalText, stopsTexts } from "./meter_words.js";
import { cellWithError } from "./readings.js";
import { shareBars } from "./spot.js";
import { SpotMarks } from "./spot_marks.js";

/** A lamp with a smaller share is left out, as it would read 0 %. */
const LEAST_SHARE = 0.005;

export class SpotTable {
  /** `goBack` goes to the picture, where the last spot was removed. */
  constructor(store, spots, goBack) {
    this.store = store;
    this.spots = spots;
    this.goBack = goBack;
    this.rows = [];
    this.marks = new SpotMarks({
      drag: (index, x, y) => spots.drag(index, x, y),
      drop: (index, x, y) => spots.drop(index, x, y),
      step: (index, dx, dy) => spots.step(index, dx, dy),
      remove: (index) => this.remove(index, true),
      open: (index) => this.rows[index]?.name.focus(),
    });
    this.table = made("table", { class: "held-table", hidden: true });
    this.clear = made("button", { type: "button", hidden: true, onclick: () => {
      spots.removeAll();
      this.goBack();
    } }, "Remove all spots");
    this.noiseless = made("p", { class: "note", hidden: true }, "Where no ± stands, the noise of the picture is not known.");
    const box = made("div", { class: "held-box" }, made("div", { class: "tables" }, this.table), this.noiseless,
      made("div", { class: "row" }, this.clear));
    byId("spot-reading").before(box);
    box.addEventListener("keydown", (event) => event.key === "Escape" && this.goBack());
  }

  /** Let a spot go, and leave the keyboard where it can go on. */
  remove(index, atMark) {
    this.spots.remove(index);
    this.show();
    const next = this.rows[Math.min(index, this.rows.length - 1)];
    if (!next) this.goBack();
    else if (atMark) this.marks.focus(index);
    else next.out.focus();
  }

  build(count) {
    const [, , seen] = UNITS[this.store.view.unit];
    const heads = ["", "Name", "On", seen, "EV", "From grey", "Signal", "CCT", "Duv", ""];
    this.rows = Array.from({ length: count }, (_, index) => this.row(index));
    this.table.replaceChildren(made("caption", {}, "Held spots"),
      made("thead", {}, made("tr", {}, heads.map((head) => (head
        ? made("th", { scope: "col", class: head === "On" ? "thing" : null }, head) : made("td"))))),
      ...this.rows.map((each) => each.element));
  }

  row(index) {
    const label = `Spot ${index + 1}`;
    const name = made("input", { type: "text", class: "spot-name", "aria-label": `${label}, name`, maxlength: "40", autocomplete: "off",
      onchange: () => this.spots.name(index, name.value),
      onkeydown: (event) => {
        if (event.key !== "Enter") return;
        event.preventDefault();
        name.blur();
        this.marks.focus(index);
      } });
    const out = made("button", { type: "button", class: "step", "aria-label": `${label}, remove`, title: `Remove spot ${index + 1}`,
      onclick: () => this.remove(index, false) }, "×");
    const thing = made("td", { class: "thing" });
    const cells = Array.from({ length: 6 }, cellWithError);
    const shares = made("ul", { class: "parts wide", "aria-label": `${label}, each lamp's share` });
    const element = made("tbody", {},
      made("tr", {}, made("th", { scope: "row" }, made("span", { class: "number" }, String(index + 1))),
        made("td", { class: "naming" }, name), thing, cells.map((each) => each.element), made("td", {}, out)),
      made("tr", { class: "shares" }, made("td"), made("td", { colSpan: 9 }, shares)));
    return { element, name, out, thing, cells, shares };
  }

  show() {
    const { readings } = this.spots, { tables } = this.store.scene, { unit } = this.store.view;
    this.marks.show(readings);
    const shape = JSON.stringify([unit, readings.length]);
    if (shape !== this.shape) {
      const at = this.rows.findIndex((each) => each.element.contains(document.activeElement));
      this.build(readings.length);
      this.shape = shape;
      if (at >= 0) this.rows[at]?.name.focus();
    }
    this.table.hidden = !readings.length;
    this.clear.hidden = readings.length < 2;
    this.noiseless.hidden = !readings.some((spot) => spot.known && spot.error === null);
    readings.forEach((spot, index) => this.showRow(this.rows[index], spot, unit, tables));
  }

  showRow({ element, name, thing, cells, shares }, spot, unit, tables) {
    fill(name, spot.name);
    name.placeholder = spot.thing ?? "";
    element.setAttribute("aria-busy", String(!spot.known || spot.behind));
    element.classList.toggle("behind", spot.known && spot.behind);
    thing.classList.toggle("waiting", !spot.known);
    say(thing, !spot.known ? spot.words : spot.thing === null ? "–" : spot.thing || "nothing");
    const light = !spot.known ? null : [spot.luminance, spot.error].map((each) => (each === null ? null : luminanceIn(each, unit, tables)));
    const texts = !spot.known ? cells.map(() => ["–"]) : [pairTexts(...light), [evText(spot.luminance, tables.reflected_constant)],
      stopsTexts(spot.stops, spot.stopsError), [signalText(spot)], kelvinTexts(spot.colour), duvTexts(spot.colour)];
    cells.forEach((cell, i) => cell.say(texts[i]));
    const given = (spot.shares ?? []).filter((each) => each.share >= LEAST_SHARE), key = JSON.stringify(given);
    if (key === shares.dataset.of) return;
    shares.dataset.of = key;
    shares.replaceChildren(...shareBars(given));
  }
}
