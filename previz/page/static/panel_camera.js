// The camera: stop, ISO, shutter, filters, balance.

import { differencesOf, putBack } from "./differs.js";
import { byId, fill, made, numberField, say } from "./dom.js";
import { rounded, stopsText } from "./light.js";
import { cameraKey } from "./store.js";
import { slide } from "./touch.js";

const THIRD = 1 / 3;

/** Marked thirds of a stop, by the numbers that are engraved. */
function marked(stop) {
  const exact = Math.round(6 * Math.log2(stop)) / 6;
  return rounded(2 ** exact, stop < 10 ? 2 : 1);
}

export class CameraPanel {
  constructor(store, source) {
    this.store = store;
    this.source = source;
    this.box = byId("camera-set");
    this.build();
  }

  build() {
    const { limits } = this.store.scene;
    const change = (fields) => this.store.changeCamera(fields);
    const now = () => this.store.cameraNow;
    const held = (stop) => Math.min(limits.stop[1], Math.max(limits.stop[0], stop));
    const field = (label, key, step, unit, digits = 4) => numberField(label, {
      low: limits[key][0], high: limits[key][1], step, unit,
      take: (value) => change({ [key]: rounded(value, digits) }) });
    this.fields = {
      stop: field("Stop T", "stop", 0, "", 3),
      iso: field("ISO", "iso", 100, "", 0),
      shutter: field("Shutter", "shutter", 1, "deg"),
      nd: field("ND", "nd", 0.3, ""),
      white_balance: field("Balance", "white_balance", 50, "K", 0),
      green: field("Green", "green", 0.001, "Duv", 5),
    };
    this.stopRange = made("input", { type: "range", min: "-6", max: "6", step: "any",
      "aria-label": "Stop, thirds from the stop that is written", class: "level", style: "--steps: 12",
      oninput: () => {
        // Thirds from the stop that is written, so that the middle is exactly that.
        const thirds = Math.round(Number(this.stopRange.value) / THIRD);
        const stop = thirds === 0 ? this.written.stop : rounded(this.written.stop * 2 ** (thirds * THIRD / 2), 3);
        change({ stop: held(stop) });
      } });
    this.stopRange.addEventListener("keydown", (event) => {
      const sign = { ArrowRight: 1, ArrowUp: 1, ArrowLeft: -1, ArrowDown: -1 }[event.key];
      if (!sign) return;
      event.preventDefault();
      change({ stop: held(rounded(now().stop * 2 ** (sign * THIRD / 2), 3)) });
    });
    this.balanceRange = made("input", { type: "range", min: String(-1e6 / 2000), max: String(-1e6 / 10000),
      step: "1", class: "warmth", "aria-label": "White balance, tungsten to daylight", oninput: () =>
        change({ white_balance: Math.round(-1e6 / Number(this.balanceRange.value) / 10) * 10 }) });
    const step = (text, name, sign) => made("button", { type: "button", class: "step", "aria-label": name,
      onclick: () => change({ stop: held(marked(now().stop * 2 ** (sign / 6))) }) }, text);
    this.offset = made("p", { class: "word" });
    const f = this.fields;
    this.depth = made("p", { class: "note" });
    this.box.replaceChildren(
      made("div", { class: "line" }, f.stop.element, step("− ⅓", "Open a third of a stop", -1),
        step("+ ⅓", "Close a third of a stop", 1)),
      slide(this.stopRange),
      this.offset,
      made("div", { class: "fields" }, f.iso.element, f.nd.element, f.shutter.element),
      made("div", { class: "fields" }, f.white_balance.element, f.green.element),
      slide(this.balanceRange),
      this.depth,
    );
    // A mark in each field that is not as written, which puts it back.
    this.marks = Object.fromEntries(Object.entries(f).map(([key, { field: input, element }]) => {
      const mark = made("button", { type: "button", class: "differs", hidden: true, onclick: () => {
        input.focus();
        putBack(this.store, this.differing(key));
      } });
      element.append(mark);
      return [key, mark];
    }));
  }

  /** How a field of the camera in view differs from the scene file: a list of one or none. */
  differing(key) {
    const of = cameraKey(this.store.option, this.store.camera);
    return differencesOf(this.store).filter((each) => each.key === of && each.field === key);
  }

  get written() {
    return this.store.optionNow.cameras.find((each) => each.name === this.store.camera);
  }

  show(frames) {
    const camera = this.store.cameraNow;
    for (const [key, { field }] of Object.entries(this.fields)) fill(field, Number(camera[key].toFixed(5)));
    for (const [key, mark] of Object.entries(this.marks)) {
      const [differs] = this.differing(key);
      mark.hidden = !differs;
      if (differs) mark.setAttribute("aria-label", mark.title = `${differs.text}. Put it back as written`);
    }
    const stops = 2 * Math.log2(camera.stop / this.written.stop);
    this.stopRange.value = String(stops);
    this.stopRange.style.setProperty("--at", String(Math.min(1, Math.max(0, (stops + 6) / 12))));
    const light = exposureStops(camera, this.written);
    this.stopRange.setAttribute("aria-valuetext", `T${camera.stop}, ${stopsText(-stops)} stops of light`);
    say(this.offset, Math.abs(light) < 0.005 ? "as written" : `${stopsText(light)} stops over as written`);
    this.balanceRange.value = String(-1e6 / camera.white_balance);
    this.balanceRange.setAttribute("aria-valuetext", `${Math.round(camera.white_balance)} kelvin`);
    const other = frames?.key && Math.abs(frames.stop / camera.stop - 1) > 1e-6;
    say(this.depth, !other ? "" : this.source.live
      ? `Depth of field as at T${rounded(frames.stop, 2)}; that of T${camera.stop} is being rendered.`
      : `Depth of field stays as at T${rounded(frames.stop, 2)}.`);
  }
}

/** How many stops more light a camera takes than as written. */
function exposureStops(camera, written) {
  const taken = (each) => (each.iso * each.shutter * 10 ** -each.nd) / each.stop ** 2;
  return Math.log2(taken(camera) / taken(written));
}
