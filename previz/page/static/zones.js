// What the exposure map shows: steps, where it says clipped and crushed, zones of one's own.

import { byId, fill, made, numberField, say } from "./dom.js";

const ZONES_AT_MOST = 6;
const MAP_KEY = "zones";

/** What differs of a map from what the scene has, null for nothing. */
function mapChange(written, fields) {
  const kept = Object.entries(fields).filter(([key, value]) =>
    JSON.stringify(value) !== JSON.stringify(written[key]));
  return kept.length ? Object.fromEntries(kept) : null;
}

export class ZonePanel {
  constructor(store, source, hooks) {
    this.store = store;
    this.source = source;
    this.hooks = hooks;
    this.summary = made("summary", {}, "Steps and zones");
    this.rows = made("div", { class: "zone-rows" });
    this.fault = made("p", { class: "fault", role: "alert" });
    this.steps = made("select", { "aria-label": "Steps of the map", onchange: () => this.put({ steps: this.steps.value }) },
      made("option", { value: "whole" }, "whole stops"), made("option", { value: "half" }, "half stops"));
    this.clip = numberField("Clip", { low: 0.5, high: 20, step: 0.5, unit: "stops",
      take: (clip) => this.put({ clip }) });
    this.crush = numberField("Crush", { low: -20, high: -0.5, step: 0.5, unit: "stops",
      take: (crush) => this.put({ crush }) });
    this.add = made("button", { type: "button", onclick: () => this.addZone() }, "Add a zone");
    this.back = made("button", { type: "button", title: "Steps, clip, crush and zones as the scene has them",
      onclick: () => this.store.set({ [MAP_KEY]: null }, "as written") }, "As written");
    // A file has the bands of both steps and nothing else.
    const live = source.live ? [this.clip.element, this.crush.element, this.add, this.back] : [];
    this.box = made("details", { class: "zones", hidden: true }, this.summary,
      made("div", { class: "fields" }, made("label", { class: "labelled" }, "Steps", this.steps), live),
      this.rows, this.fault);
    byId("legend").after(this.box);
  }

  get written() {
    return this.store.optionNow.cameras.find((each) => each.name === this.store.camera).map;
  }

  /** Steps, clip, crush and zones as they are set. */
  get now() {
    return { ...this.written, ...this.store.changes[MAP_KEY] };
  }

  put(fields) {
    const { bands, both, ...written } = this.written;
    this.store.set({ [MAP_KEY]: mapChange(written, { ...this.store.changes[MAP_KEY], ...fields }) },
      Object.keys(fields).join());
  }

  addZone() {
    const { zones, clip } = this.now;
    const names = zones.map((each) => each.name);
    let number = 1;
    while (names.includes(`zone ${number}`)) number += 1;
    // The first free stop, from grey outwards.
    const free = [0, 1, -1, 2, -2, -3, 3, -4, -5, 4, 5].find((at) =>
      at < clip && zones.every((each) => each.high <= at - 0.5 || each.low >= at + 0.5));
    if (free === undefined) return;
    this.putZones([...zones, { name: `zone ${number}`, low: free - 0.5, high: free + 0.5 }]);
  }

  putZones(zones) {
    this.put({ zones: [...zones].sort((one, other) => one.low - other.low) });
  }

  putZone(place, fields) {
    this.putZones(this.now.zones.map((each, i) => (i === place ? { ...each, ...fields } : each)));
  }

  /** Ask for the bands of what is set, where the page does not have them; the last request counts. */
  async ask() {
    const change = this.store.changes[MAP_KEY];
    const { option, camera } = this.store, key = JSON.stringify([option, camera, change, this.store.scene.edition]);
    if (!change || this.askedOf === key) return;
    this.askedOf = key;
    if (!this.source.live || Object.keys(change).join() === "steps") {
      if (!this.now.zones.length) this.take(key, this.written.both[this.now.steps]);
      return;
    }
    try {
      const answer = await this.source.json("map.json", { option, camera, map: change, look: { moves: this.store.moves } });
      if (this.askedOf !== key) return;
      say(this.fault, "");
      this.take(key, answer.bands);
    } catch (fault) {
      if (this.askedOf === key) say(this.fault, fault.message);
    }
  }

  /** Count what of the picture at rest lies in each zone; nothing while a pinned look is in it. */
  count(table) {
    const { store } = this, { view } = store, bands = store.bandsNow;
    const whole = view.mode === "map" && !(store.pin && view.wipe !== null) && table.gpu && table.set;
    if (!whole || !bands.some((band) => band.mark === "grey")) return;
    const codes = table.picture.pixels(table.exposure(), view), counts = new Map();
    for (let i = 0; i < codes.length; i += 4) {
      const code = (codes[i] << 16) | (codes[i + 1] << 8) | codes[i + 2];
      counts.set(code, (counts.get(code) ?? 0) + 1);
    }
    store.zoneShares = new Map(bands.filter((band) => !band.mark).map(({ label, colour: [red, green, blue] }) =>
      [label, (counts.get((red << 16) | (green << 8) | blue) ?? 0) / (codes.length / 4)]));
    this.hooks.redraw();
  }

  take(key, bands) {
    this.store.bands = { key, bands };
    this.store.zoneShares = null;
    this.hooks.redraw();
    this.hooks.count();
  }

  show() {
    const map = this.store.view.mode === "map";
    this.box.hidden = !map;
    if (!map) return;
    if (!this.store.changes[MAP_KEY]) {
      this.askedOf = undefined;
      say(this.fault, "");
    }
    const { steps, clip, crush, zones } = this.now;
    if (document.activeElement !== this.steps) this.steps.value = steps;
    this.steps.disabled = zones.length > 0;
    fill(this.clip.field, clip);
    fill(this.crush.field, crush);
    this.add.disabled = zones.length >= ZONES_AT_MOST;
    this.back.disabled = !this.store.changes[MAP_KEY];
    if (this.source.live) this.showRows(zones);
  }

  showRows(zones) {
    if (zones.length !== this.shownRows) {
      this.shownRows = zones.length;
      this.fields = zones.map((_, place) => this.row(place));
      this.rows.replaceChildren(...this.fields.map((each) => each.element));
    }
    zones.forEach((zone, place) => {
      const { name, low, high } = this.fields[place];
      fill(name, zone.name);
      fill(low.field, zone.low);
      fill(high.field, zone.high);
    });
  }

  row(place) {
    const name = made("input", { type: "text", class: "zone-name", "aria-label": `Name of zone ${place + 1}`,
      maxlength: "40", onchange: () => name.value.trim() && this.putZone(place, { name: name.value.trim() }) });
    const low = numberField("from", { low: -20, high: 20, step: 0.5, take: (value) => this.putZone(place, { low: value }) });
    const high = numberField("to", { low: -20, high: 20, step: 0.5, take: (value) => this.putZone(place, { high: value }) });
    const gone = made("button", { type: "button", class: "quiet", "aria-label": `Take out zone ${place + 1}`,
      onclick: () => this.putZones(this.now.zones.filter((_, i) => i !== place)) }, "Take out");
    return { name, low, high, element: made("div", { class: "fields" }, name, low.element, high.element, gone) };
  }
}
