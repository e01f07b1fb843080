// A figure's walk along its marks as a strip that follows the levels.

import { byId, made, say } from "./dom.js";
import { signalPerLuminance, stopsText } from "./light.js";
import { stripDrawing, stripStops } from "./strip.js";

const WAIT_MS = 80;

/** Least from one request to the next: the picture under a moving hand comes first. */
const APART_MS = 400;

export class WalkPanel {
  constructor(store, source) {
    this.store = store;
    this.source = source;
    this.walk = null;
    this.figures = new Map();
    // A file that was handed out has no program to name holes and hot spots.
    if (source.live) this.build();
  }

  build() {
    this.choice = made("select", { "aria-label": "Who walks", onchange: () => {
      this.figures.set(this.store.option, this.choice.value);
      this.ask();
    } });
    this.who = made("label", { class: "labelled" }, "Who walks", this.choice);
    this.drawing = made("div", { class: "strip" });
    this.legend = made("p", { class: "note strip-legend" }, made("span", { class: "key lit", "aria-hidden": "true" }), "Lit side",
      made("span", { class: "key shadow", "aria-hidden": "true" }), "Shadow side",
      made("span", {}, "Stops from the working stop, against metres"));
    this.words = made("ul", { class: "walk-words" });
    this.table = made("tbody", {});
    this.numbers = made("details", { class: "how", ontoggle: () => this.show() }, made("summary", {}, "In figures"),
      made("div", { class: "wide-table" }, made("table", {}, made("thead", {}, made("tr", {},
        ["Metres", "Mark", "Lit side", "Shadow side"].map((head) => made("th", { scope: "col" }, head)))), this.table)));
    this.note = made("p", { class: "note" });
    byId("walk-box").replaceChildren(this.who, this.drawing, this.legend, this.words, this.numbers, this.note);
    new ResizeObserver(() => this.show()).observe(this.drawing);
  }

  get request() {
    const { option, camera } = this.store;
    return { option, camera, look: this.store.look(), figure: this.figures.get(option) };
  }

  /** Ask for the walk under the lamps as they are set; what changes meanwhile is asked after. */
  askSoon() {
    if (!this.source.live || !this.walk?.figures.length) return;
    this.timer ??= setTimeout(() => this.ask(), Math.max(WAIT_MS, (this.asked ?? 0) + APART_MS - performance.now()));
  }

  async ask() {
    clearTimeout(this.timer);
    this.timer = undefined;
    if (!this.source.live) return;
    if (this.busy) {
      this.again = true;
      return;
    }
    this.busy = true;
    this.asked = performance.now();
    const { request } = this, of = JSON.stringify(request);
    try {
      const walk = await this.source.json("walk.json", request);
      if (walk.figure && !request.figure) this.figures.set(request.option, walk.figure);
      if (request.option === this.store.option) Object.assign(this, { walk, of, place: request.option, fault: "", shown: "" });
    } catch (fault) {
      if (request.option === this.store.option && fault.message) {
        this.fault = fault.message;
        // There may be a way all the same, and what is wrong with it is said in its place.
        if (this.place !== request.option)
          Object.assign(this, { walk: { figures: [request.figure ?? ""], figure: request.figure ?? "", strip: null }, place: request.option });
      }
      // A figure that an edit has taken out is not asked for again.
      this.figures.delete(request.option);
    }
    this.busy = false;
    this.show();
    if (this.again) {
      this.again = false;
      this.ask();
    }
  }

  show() {
    if (!this.source.live) return;
    // Rather nothing than the way of another option.
    const { walk, store } = this, there = this.place === store.option && Boolean(walk?.figures.length);
    byId("walk").hidden = !there;
    if (!there) return;
    const names = walk.figures.join("\n");
    if (names !== this.names) {
      this.names = names;
      this.choice.replaceChildren(...walk.figures.map((value) => made("option", { value }, value)));
    }
    this.who.hidden = walk.figures.length < 2;
    this.choice.value = walk.figure;
    say(byId("walk-head"), walk.figure ? `Walk of ${walk.figure}` : "Walk");
    const metered = Boolean(walk.strip);
    for (const each of [this.drawing, this.legend, this.words, this.numbers]) each.hidden = !metered;
    if (!metered) {
      say(this.note, this.fault || "The way is not metered yet.");
      return;
    }
    const gainOf = (name) => (store.lamps.some((each) => each.name === name) ? store.gain(name) : 0);
    const working = Math.PI / signalPerLuminance(store.cameraNow, store.scene.tables);
    const stops = stripStops(walk, gainOf, working);
    // Holes are named by the program, a moment later than the strip follows the hand.
    const { figure, ...rest } = this.request, { figure: before, ...was } = JSON.parse(this.of);
    const behind = JSON.stringify(rest) !== JSON.stringify(was);
    byId("walk-box").setAttribute("aria-busy", String(behind));
    this.draw(stops, behind);
    this.say(walk, behind);
    if (this.numbers.open) this.tabulate(walk.strip, stops);
  }

  draw({ lit, shadow }, behind) {
    const width = Math.floor(this.drawing.clientWidth);
    if (!width) return;
    const key = JSON.stringify([width, lit, shadow, behind]);
    if (key === this.shown) return;
    this.shown = key;
    this.drawing.replaceChildren(stripDrawing({ strip: this.walk.strip, lit, shadow, width, behind }));
  }

  say({ strip, notes }, behind) {
    this.words.classList.toggle("behind", behind);
    const words = [...strip.words, ...notes], key = words.join("\n");
    if (key !== this.said) {
      this.said = key;
      this.words.replaceChildren(...words.map((each) => made("li", {}, each)));
    }
    const worst = Math.max(...strip.lit_stops.error.map((each) => each ?? 0));
    say(this.note, `By camera ${this.store.camera}, on a face without its body in the way; ± ${worst.toFixed(2)} stops at most. `
      + (this.fault ?? ""));
  }

  tabulate(strip, { lit, shadow }) {
    const marks = new Map(strip.marks.map(({ name, at }) => [at, name]));
    const over = (stops) => (stops === -Infinity ? "no light" : stopsText(stops));
    this.table.replaceChildren(...strip.metres.map((at, i) => made("tr", {}, made("th", { scope: "row" }, at.toFixed(2)),
      [marks.get(i) ?? "", over(lit[i]), over(shadow[i])].map((each) => made("td", {}, each)))));
  }
}
