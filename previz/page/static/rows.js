// The rows of buttons: over everything, and over the picture.

import { countText, differencesOf } from "./differs.js";
import { byId, made, say } from "./dom.js";
import { otherView, placeText } from "./kept.js";
import { pinName } from "./looks.js";
import { slide } from "./touch.js";

function button(text, label, act, more = {}) {
  return made("button", { type: "button", onclick: act, title: label, ...more }, text);
}

/** Scene, option, camera, and what can be done with a look. */
export class TopRow {
  constructor(store, source, acts) {
    this.store = store;
    this.source = source;
    this.acts = acts;
    this.build();
  }

  build() {
    const { store, source, acts } = this;
    this.cameras = null;
    say(byId("title"), store.scene.title);
    document.title = store.scene.title;
    const options = store.scene.options.map((each) => each.name);
    const choice = (label, take) => {
      const field = made("select", { "aria-label": label, onchange: () => take(field.value) });
      return field;
    };
    this.option = choice("Option", (option) => store.showPlace({ option }));
    this.option.replaceChildren(...options.map((name) => made("option", { value: name }, name || "as written")));
    this.camera = choice("Camera", (camera) => store.showPlace({ camera }));
    byId("place").replaceChildren(
      made("label", { class: "labelled" }, "Option", this.option),
      made("label", { class: "labelled" }, "Camera", this.camera));
    this.undo = button("Undo", "Undo (Ctrl+Z)", acts.undo);
    this.redo = button("Redo", "Redo (Shift+Ctrl+Z)", acts.redo);
    this.differs = button("As written", "What differs from the scene file (I)", acts.differs);
    const live = [this.differs, button("Save look", "Save as an option of the scene (K)", acts.keep, { class: "main" }),
      button("Hand out", "Save as one file that can be mailed (G)", acts.give),
      button("Take in a look", "Set a look that was sent as text (U)", acts.takeIn)];
    const handed = [button("As handed out", "Lamps and camera as they came in this file", acts.asHanded)];
    byId("acts").replaceChildren(this.undo, this.redo, ...(source.live ? live : handed),
      button("Look as text", "This look as text, to send it (Y)", acts.send, { class: source.live ? "" : "main" }),
      button("Full screen", "The picture alone, levels and readings over it (F)", acts.big),
      button("Keys", "All keys (?)", acts.help));
  }

  show() {
    const { store } = this;
    this.option.value = store.option;
    const cameras = store.optionNow.cameras.map((each) => each.name);
    const names = cameras.join("\n");
    if (names !== this.cameras) {
      this.camera.replaceChildren(...cameras.map((name) => made("option", { value: name }, name)));
      this.cameras = names;
    }
    this.camera.value = store.camera;
    const count = differencesOf(store).length, others = store.scene.options
      .some((each) => each.name !== store.option && differencesOf(store, each.name).length);
    say(this.differs, countText(count));
    this.differs.classList.toggle("changed", count > 0);
    this.differs.disabled = !count && !others;
    this.undo.disabled = !store.done.length;
    this.redo.disabled = !store.undone.length;
  }
}

const MODES = [["still", "Still", "The picture as it will look"],
  ["map", "Exposure map", "Stops from 18 % grey (E)"],
  ["difference", "Difference", "Stops over or under the look compared with (D)"]];

/** How the picture is looked at, and the legend below it. */
export class ViewRow {
  constructor(store, source, acts) {
    this.store = store;
    this.line = made("div", { class: "wipe-line", hidden: true, "aria-hidden": "true" });
    this.modes = MODES.map(([mode, text, label]) => button(text, label, () => store.setView({ mode }),
      { class: "toggle", "data-mode": mode }));
    this.pin = button("Compare with this", "Compare what follows with this one now (P)", acts.pin);
    this.unpin = button("Compare with nothing", "Let the look go that is compared with", acts.unpin);
    this.wiping = button("Wipe", "The look compared with to the left, this one to the right (W)", acts.wipe,
      { class: "toggle" });
    this.wipe = made("input", { type: "range", min: "0", max: "1", step: "0.005", class: "level bare",
      "aria-label": "Where the wipe is", oninput: () => store.setView({ wipe: Number(this.wipe.value) }) });
    this.wiper = slide(this.wipe);
    this.pinned = made("span", { class: "word" });
    byId("views").replaceChildren(made("div", { class: "group", role: "group", "aria-label": "Show" }, this.modes),
      this.pin, this.unpin, this.wiping, this.wiper, this.pinned);
    this.legend = byId("legend");
  }

  show() {
    const { store } = this, { wipe } = store.view, { pin } = store;
    const mode = store.view.mode === "difference" && !pin?.look ? "still" : store.view.mode;
    for (const each of this.modes) {
      each.setAttribute("aria-pressed", String(each.dataset.mode === mode));
      if (each.dataset.mode === "difference") each.disabled = !pin?.look;
    }
    this.unpin.hidden = !pin;
    this.wiping.disabled = !pin;
    const wiped = Boolean(pin) && wipe !== null && mode !== "difference" && !store.view.flick && !store.view.side;
    this.wiping.setAttribute("aria-pressed", String(wiped));
    this.wiper.hidden = !wiped;
    this.wipe.value = String(wipe ?? 0.5);
    this.wipe.style.setProperty("--at", String(wipe ?? 0.5));
    this.line.hidden = !wiped;
    this.line.style.left = `${100 * (wipe ?? 0)}%`;
    const other = pin ? otherView(pin, store) : "";
    const place = pin?.look ? ` (${placeText(pin)})` : "";
    say(this.pinned, pin ? `compared with ${pinName(store)}${place}${other ? ` – another view: ${other}` : ""}` : "");
    this.pinned.title = this.pinned.textContent;
    this.pinned.dataset.other = String(Boolean(other) && (wiped || mode === "difference" || store.view.flick));
    const bands = mode === "map" ? legendBands(store.bandsNow, store.zoneShares)
      : mode === "difference" && pin?.look ? store.scene.tables.differences : [];
    const key = JSON.stringify([mode, bands]);
    if (key === this.key) return;
    this.key = key;
    const short = mode === "map" ? "Stops from 18 % grey" : "Stops over (+) or under (−)";
    const words = mode === "map" ? short : `${short} the look compared with`;
    this.legend.replaceChildren(...(!bands.length ? [] : [made("span", { class: "word" }, short),
      made("ul", { class: "bands", "aria-label": words }, bands.map((band) => {
        const ink = luminance(band.colour) > 0.179 ? "#000" : "#fff";
        return made("li", { class: `band ${band.mark}`, style:
          `background-color: rgb(${band.colour.join(" ")}); color: ${ink}` }, made("span", {}, band.label));
      }))]));
  }
}

/** Bands as the legend has them: of zones with their ends and shares of the frame, and all that is grey as one, last. */
function legendBands(bands, shares) {
  const grey = bands.filter((band) => band.mark === "grey");
  if (!grey.length) return bands;
  const sign = (stops) => (stops > 0 ? "+" : stops < 0 ? "−" : "") + Number(Math.abs(stops).toFixed(2));
  const of = (label) => (shares?.has(label) ? `, ${(100 * shares.get(label)).toFixed(1)} %` : "");
  const named = bands.filter((band) => band.mark !== "grey").map((band) => (band.mark ? band
    : { ...band, label: `${sign(band.low)} to ${sign(band.high)}, ${band.label}${of(band.label)}` }));
  return [...named, { ...grey[0], label: "all else" }];
}

/** Relative luminance of a colour on screen; at 0.179 black and white stand out alike (WCAG 2.2). */
function luminance(codes) {
  const [red, green, blue] = codes.map((code) =>
    (code <= 10 ? code / 255 / 12.92 : ((code / 255 + 0.055) / 1.055) ** 2.4));
  return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
}
