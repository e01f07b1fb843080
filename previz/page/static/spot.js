// The spot meter: what is under the pointer, lamp by lamp, from the picture as rendered.

import { byId, made, say } from "./dom.js";
import { figures, signalPerLuminance, stopsText, videoPercent } from "./light.js";

export class SpotPanel {
  constructor(store, source, onShares) {
    this.store = store;
    this.source = source;
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
    this.hint = made("p", { class: "note" }, "Point at the picture, or go to it with M and use the arrow keys.");
    this.box.replaceChildren(this.hint, this.list);
    byId("spot").hidden = this.whole.hidden = !this.source.live;
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
    if (!this.source.live || !spot) return;
    if (this.busy) {
      this.next = true;
      return;
    }
    this.busy = true;
    const { option, camera } = this.store;
    this.reading = await this.source.json("spot.json", { option, camera,
      look: this.store.look({ alone: false }), x: spot.x, y: spot.y })
      .then((reading) => ({ ...reading, option, camera }))
      // Nothing is read where nothing is rendered yet.
      .catch(() => null);
    this.busy = false;
    this.show();
    if (this.next) {
      this.next = null;
      this.ask();
    }
  }

  show() {
    const { reading } = this;
    // Rather nothing than what another camera sees there.
    if (!reading || reading.option !== this.store.option || reading.camera !== this.store.camera) {
      say(this.whole, "");
      this.list.replaceChildren();
      this.onShares(null);
      return;
    }
    const { store } = this;
    const known = new Set(store.lamps.map((each) => each.name));
    const parts = reading.parts.map((part) => {
      const gain = known.has(part.lamp) ? store.gain(part.lamp) : 0;
      return { name: part.lamp, light: gain * part.xyz[1], error: gain * (part.stderr ?? 0),
        bands: gain * (part.bands ?? 0) };
    });
    const whole = parts.reduce((sum, part) => sum + part.light, 0);
    // The bands' errors of several lamps add up, those of paths do not.
    const error = Math.hypot(...parts.map((part) => part.error),
      parts.reduce((sum, part) => sum + part.bands, 0));
    const signal = whole * signalPerLuminance(store.cameraNow, store.scene.tables);
    const stops = Math.log2(signal / store.scene.tables.mid_grey);
    this.hint.hidden = true;
    this.ring.style.width = `${100 * reading.width}%`;
    const noise = whole > 0 && error > 0 ? `, ± ${(100 * error / whole).toFixed(0)} %` : "";
    say(this.whole, `Spot on ${reading.thing || "nothing"}: ${figures(whole)} cd/m², `
      + `${stopsText(stops)} stops from grey, ${videoPercent(signal).toFixed(0)} % video${noise}`);
    parts.sort((a, b) => b.light - a.light);
    const shares = new Map(parts.map((part) => [part.name, whole > 0 ? part.light / whole : 0]));
    this.list.replaceChildren(...parts.filter((part) => part.light > 0).map((part) => made("li", {},
      made("span", { class: "part" }, part.name),
      made("span", { class: "share bar", "aria-hidden": "true",
        style: `--share: ${shares.get(part.name)}` }, made("i")),
      made("span", { class: "figure" }, `${(100 * shares.get(part.name)).toFixed(0)} %`))));
    this.onShares(shares);
  }
}
