// The spot meter: what is under the pointer, lamp by lamp, from the picture as rendered.

import { byId, made, say } from "./dom.js";
import { luminanceIn, pairTexts, signalText, stopsTexts, UNITS } from "./meter_words.js";
import { spotNow } from "./spot_math.js";

/** Bars of what each lamp gives at a spot. */
export function shareBars(shares) {
  return shares.filter((each) => each.share > 0).map(({ name, share }) => made("li", {},
    made("span", { class: "part" }, name),
    made("span", { class: "share bar", "aria-hidden": "true", style: `--share: ${share}` }, made("i")),
    made("span", { class: "figure" }, `${(100 * share).toFixed(0)} %`)));
}

export class SpotPanel {
  /** `framesNow` has the name of the frames that are shown, `onShares` takes each lamp's share at the spot. */
  constructor(store, source, framesNow, onShares) {
    this.store = store;
    this.source = source;
    this.framesNow = framesNow;
    this.onShares = onShares;
    this.box = byId("spot-reading");
    this.ring = made("div", { class: "ring", hidden: true, "aria-hidden": "true" });
    this.reading = null;
    this.busy = false;
    this.next = null;
    this.build();
  }

  build() {
    this.whole = byId("spot-line");
    this.list = made("ul", { class: "parts" });
    this.hint = made("p", { class: "note" }, "Point at the picture, or go to it with M and use the arrow keys. "
      + "A click, or Enter, holds a spot.");
    const under = made("p", { class: "word" }, "Under the pointer");
    this.box.replaceChildren(this.hint, under, this.list);
    this.under = under;
  }

  /** Point at a place, 0 to 1 from the top left. */
  point(x, y) {
    const at = { x: Math.min(1, Math.max(0, x)), y: Math.min(1, Math.max(0, y)) };
    this.store.view.spot = at;
    this.ring.hidden = false;
    this.ring.style.left = `${100 * at.x}%`;
    this.ring.style.top = `${100 * at.y}%`;
    this.ask();
  }

  /** Read again: the light, the frames or the place have changed. */
  async ask() {
    const { spot } = this.store.view;
    // Nothing is read where nothing is rendered yet.
    if (!spot || !this.framesNow()) return;
    if (this.busy) {
      this.next = true;
      return;
    }
    this.busy = true;
    const { option, camera } = this.store;
    this.reading = await this.source.json("spot.json", { option, camera,
      look: this.store.look({ alone: false }), x: spot.x, y: spot.y })
      .then((reading) => ({ ...reading, option, camera }))
      .catch(() => null);
    this.busy = false;
    this.show();
    if (this.next) {
      this.next = null;
      this.ask();
    }
  }

  /** The reading, null where it is of another camera or of other frames than are shown. */
  get current() {
    const { reading, store } = this;
    const ours = reading && reading.option === store.option && reading.camera === store.camera;
    return ours && reading.key === this.framesNow() ? reading : null;
  }

  show() {
    const reading = this.current;
    // Rather nothing than what another camera sees there.
    if (!reading) {
      say(this.whole, "");
      this.list.replaceChildren();
      this.under.hidden = true;
      this.onShares(null);
      return;
    }
    const { store } = this, { tables } = store.scene, { unit } = store.view;
    const known = new Set(store.lamps.map((each) => each.name));
    const now = spotNow(reading.parts, (name) => (known.has(name) ? store.gain(name) : 0), store.cameraNow, tables);
    this.hint.hidden = true;
    this.under.hidden = false;
    this.ring.style.width = `${100 * reading.width}%`;
    const [light, off] = pairTexts(...[now.luminance, now.error].map((each) => each === null ? null : luminanceIn(each, unit, tables)));
    const [stops, stopsOff] = stopsTexts(now.stops, now.stopsError);
    say(this.whole, `Spot${reading.thing === null ? "" : ` on ${reading.thing || "nothing"}`}: ${[light, off].filter(Boolean).join(" ")} ${UNITS[unit][2]}, `
      + `${[stops, stopsOff].filter(Boolean).join(" ")} stops from grey, ${signalText(now)} video`);
    this.list.replaceChildren(...shareBars(now.shares));
    this.onShares(new Map(now.shares.map(({ name, share }) => [name, share])));
  }
}
