// Pictures side by side in the frame: two to four looks as they are kept, or all cameras under one set of dimmers.

import { byId, made, say } from "./dom.js";
import { MOST_BESIDE, flatLook, isThere, keptLooks, keptReferences, placeText, sideStore } from "./kept.js";
import { ratioText, signalPerLuminance, stopsText } from "./light.js";
import { GpuPicture } from "./picture.js";
import { PlainPicture } from "./plain.js";
import { faces } from "./metering.js";
import { Table } from "./table.js";

/** One picture of several, with a table and, where this browser can, a GPU context of its own. */
class SideCell {
  constructor(page, title, store, { follows }) {
    this.page = page;
    this.store = store;
    this.follows = follows;
    this.title = made("strong", {}, title);
    this.state = made("span", { class: "word" });
    this.element = made("figure", { class: "side" }, made("figcaption", {}, this.title, " ", this.state));
    this.open();
  }

  open() {
    const { page } = this, plain = page.picture.kind !== "gpu";
    const gpu = plain ? null : GpuPicture.make(page.view, this.store.scene.tables);
    this.picture = gpu ?? new PlainPicture(page.source, this.store);
    this.picture.element.classList.add("side-picture");
    this.picture.element.setAttribute("role", "img");
    this.picture.element.setAttribute("aria-label", this.title.textContent);
    this.table = new Table(this.store, page.source, this.picture, {
      notice: (text) => page.fault(text),
      frames: (frames) => this.told(frames.key ? "" : "not rendered yet"),
      loaded: () => this.told(""),
      drawn: () => {},
      resting: () => {},
      settled: () => {},
    });
    this.picture.element.addEventListener("picturelost", () => setTimeout(() => {
      if (this.closed) return;
      this.shut();
      this.open();
    }, 500));
    this.element.prepend(this.picture.element);
    this.looksAt = this.place;
    this.table.load();
  }

  told(words) {
    const place = this.title.textContent === `Camera ${this.store.camera}` ? "" : placeText(this.store);
    say(this.state, [place, words].filter(Boolean).join("; "));
  }

  /** What decides which frames are shown. */
  get place() {
    const { option, camera, moves } = this.store;
    return JSON.stringify([option, camera, this.store.cameraNow?.stop, moves]);
  }

  changed() {
    if (!this.follows) return;
    if (this.place !== this.looksAt) {
      this.looksAt = this.place;
      this.table.loadSoon(400);
    }
    this.table.changed();
  }

  shut() {
    this.table.close();
    this.picture.close();
  }

  close() {
    this.closed = true;
    this.shut();
  }
}

/** The pictures side by side, in the frame and over the one picture. */
export class SidePanel {
  constructor(page) {
    this.page = page;
    this.box = made("div", { id: "sides", hidden: true });
    this.numbers = byId("beside-numbers");
    this.cells = [];
    this.key = "";
    this.meters = new Map();
  }

  /** How many columns and rows there are, none where one picture alone is shown. */
  get grid() {
    const count = this.cells.length;
    return count ? [count < 2 ? 1 : 2, count < 3 ? 1 : 2] : null;
  }

  /** Width over height of the frame. */
  get aspect() {
    const { grid } = this;
    return grid && (this.page.store.cameraNow.aspect * grid[0]) / grid[1];
  }

  /** What is to be shown: [title, option, camera, look or null for what follows the dimmers, reference]. */
  wanted() {
    const { store } = this.page, { side } = store.view;
    if (!side) return [];
    if (side.of === "cameras")
      return store.optionNow.cameras.slice(0, MOST_BESIDE).map(({ name }) => ({ title: `Camera ${name}`, camera: name }));
    const kept = new Map([...keptLooks(store.changes), ...keptReferences(store.changes)].map((each) => [each.key, each]));
    return side.keys.flatMap((key) => {
      if (key === "now") return [{ title: "This one now", camera: store.camera }];
      const look = kept.get(key);
      return look ? [{ title: look.name, kept: look }] : [];
    });
  }

  show() {
    const { store } = this.page, wanted = this.wanted();
    const key = JSON.stringify([store.scene.edition, store.option, wanted.map(({ title, camera, kept }) =>
      [title, camera, kept && { ...kept, note: "", at: 0 }])]);
    if (!wanted.length && store.view.side) store.view.side = null;
    if (key !== this.key && (wanted.length || this.cells.length)) {
      this.key = key;
      this.build(wanted);
    }
    this.showNumbers();
  }

  build(wanted) {
    const { page } = this;
    for (const cell of this.cells) cell.close?.();
    this.meters.clear();
    this.cells = wanted.map((each) => this.cellOf(each));
    this.box.replaceChildren(...this.cells.map((cell) => cell.element));
    this.box.hidden = !this.cells.length;
    this.box.dataset.count = String(this.cells.length);
    byId("frame").classList.toggle("sided", this.cells.length > 0);
    page.table.covered = this.cells.length > 0;
    page.showAspect();
    if (!this.cells.length) page.table.touch();
    this.loadMeters();
  }

  cellOf({ title, camera, kept }) {
    const { store } = this.page;
    if (kept?.file) {
      const image = made("img", { class: "side-picture", alt: kept.name, src: `reference.jpg?file=${encodeURIComponent(kept.file)}` });
      return { element: made("figure", { class: "side" }, image,
        made("figcaption", {}, made("strong", {}, title), " ", made("span", { class: "word" }, "reference picture"))) };
    }
    if (kept && !isThere(store, kept))
      return { element: made("figure", { class: "side" }, made("figcaption", {}, made("strong", {}, title), " ",
        made("span", { class: "word" }, `${placeText(kept)} is not in the scene any more`))) };
    const of = kept ? { option: kept.option, camera: kept.camera, changes: flatLook(kept) } : { camera };
    return new SideCell(this.page, title, sideStore(store, of), { follows: !kept });
  }

  /** Something in the store has changed. */
  changed() {
    for (const cell of this.cells) cell.changed?.();
  }

  viewed() {
    for (const cell of this.cells) cell.table?.touch();
  }

  /** Better frames have come of a camera. */
  better(option, camera, wait) {
    for (const cell of this.cells)
      if (cell.store?.option === option && cell.store.camera === camera) cell.table.loadSoon(wait);
  }

  // Numbers of two looks

  /** The two looks whose faces are compared, else none. */
  get pair() {
    const { side } = this.page.store.view;
    return side?.of === "looks" && this.cells.length === 2 && this.cells.every((cell) => cell.store) ? this.cells : [];
  }

  async loadMeters() {
    for (const cell of this.pair) {
      if (cell.follows) continue;
      try {
        const meters = await this.page.source.json("meters.json",
          { option: cell.store.option, look: cell.store.look({ alone: false }) });
        if (!this.cells.includes(cell)) return;
        this.meters.set(cell, meters);
      } catch (fault) {
        this.page.fault(fault.message);
      }
    }
    this.showNumbers();
  }

  showNumbers() {
    const { pair } = this;
    this.numbers.hidden = !pair.length;
    if (!pair.length) return;
    const read = pair.map((cell) => {
      const meters = cell.follows ? this.page.readings.meters : this.meters.get(cell);
      return meters?.names.length ? sideNumbers(meters, cell.store) : null;
    });
    const rows = read.every(Boolean) ? numberRows(read) : [];
    const titles = pair.map((cell) => cell.title.textContent);
    const words = JSON.stringify([titles, rows, read.every(Boolean)]);
    if (words === this.said) return;
    this.said = words;
    const none = read.every(Boolean) ? "Nobody stands in both looks, so there are no sides to compare." : "Meters are being read…";
    this.numbers.replaceChildren(rows.length ? made("table", {}, made("caption", {}, "Faces, stops from the stop that is set"),
      made("thead", {}, made("tr", {}, ["", ...titles, "Apart, stops"].map((head) => made("th", { scope: "col" }, head)))),
      made("tbody", {}, rows.map((row) => made("tr", {}, row.map((text, i) => made(i ? "td" : "th", i ? {} : { scope: "row" }, text))))))
      : made("p", { class: "note" }, none));
  }
}

/** Both sides of each face in a look, over the stop that is set, and their ratio: as the meters have them. */
export function sideNumbers(meters, store) {
  const gainOf = (name) => (store.lamps.some((each) => each.name === name) ? store.gain(name) : 0);
  const working = Math.PI / signalPerLuminance(store.cameraNow, store.scene.tables);
  return new Map(faces(meters, gainOf, store.optionNow.faces).map(({ name, lit, shadow, ratio }) =>
    [name, { lit: Math.log2(lit.lux / working), shadow: Math.log2(shadow.lux / working), ratio }]));
}

/** Rows of two looks' numbers and how far they are apart, of the faces that are in both. */
export function numberRows([one, other]) {
  const apart = (a, b) => (Number.isFinite(a) && Number.isFinite(b) ? stopsText(b - a, 2) : "–");
  const stops = (value) => (Number.isFinite(value) ? stopsText(value, 2) : "no light");
  return [...one].filter(([name]) => other.has(name)).flatMap(([name, a]) => {
    const b = other.get(name);
    return [[`${name}, lit side`, stops(a.lit), stops(b.lit), apart(a.lit, b.lit)],
      [`${name}, shadow side`, stops(a.shadow), stops(b.shadow), apart(a.shadow, b.shadow)],
      [`${name}, lit : shadow`, ratioText(a.ratio), ratioText(b.ratio), apart(Math.log2(a.ratio), Math.log2(b.ratio))]];
  });
}
