// The table that the picture lies on: which frames are shown, whose colours, settled or moving.

import { balanceMatrix, fadeMatrix, scaled, signalPerLuminance } from "./light.js";

const REST_MS = 350;
const MOVING_MS = 250;
const FETCHES = 4;

/** Keeps the picture true to the store: loads lamps, mixes, settles. */
export class Table {
  constructor(store, source, picture, hooks) {
    this.store = store;
    this.source = source;
    this.picture = picture;
    this.hooks = hooks;
    this.told = null;
    this.set = null;
    this.colours = new Map();
    this.asked = new Map();
    this.movedAt = -Infinity;
    this.drawing = false;
    this.again = false;
    this.ticks = [];
    this.loading = 0;
    this.rest = null;
    this.abort = null;
    this.pinnedAs = "";
  }

  get gpu() {
    return this.picture.kind === "gpu";
  }

  get moving() {
    return performance.now() - this.movedAt < MOVING_MS;
  }

  // Frames and lamps

  /** Look for the best frames of what is looked at and load them. */
  async load() {
    const number = ++this.loading;
    const { option, camera } = this.store;
    const stop = this.store.cameraNow.stop;
    let told;
    try {
      told = await this.source.json("frames.json", { option, camera, stop });
    } catch (fault) {
      this.hooks.notice(fault.message);
      return;
    }
    if (number !== this.loading) return;
    const place = `${option}\n${camera}`;
    const same = this.told?.key === told.key && this.placeOf === place;
    const cleaner = same ? told.lamps?.filter((_, i) => told.clean[i] && !this.told.clean[i]) ?? [] : [];
    this.told = told;
    this.placeOf = place;
    this.hooks.told(told);
    if (!told.key) {
      if (this.shownPlace !== place) this.set = null;
      return;
    }
    if (!this.gpu) {
      this.shownPlace = place;
      this.changed(false);
      return;
    }
    if (same && this.set?.key === told.key) {
      for (const name of cleaner) this.fetchLamp(this.set, name);
      if (cleaner.length) this.settleSoon();
      return;
    }
    await this.loadLamps(told, option, camera, number);
  }

  async loadLamps(told, option, camera, number) {
    const set = this.picture.newLamps(told.lamps, told.width, told.height);
    Object.assign(set, { key: told.key, option, camera, colours: new Map() });
    const waiting = [...told.lamps];
    const one = async () => {
      while (waiting.length && number === this.loading) await this.fetchLamp(set, waiting.shift(), false);
    };
    try {
      await Promise.all(Array.from({ length: FETCHES }, one));
    } catch (fault) {
      if (number === this.loading) this.hooks.notice(fault.message);
      return;
    }
    if (number !== this.loading) {
      this.picture.gl.deleteTexture(set.texture);
      return;
    }
    this.set = set;
    this.shownPlace = this.placeOf;
    this.picture.useLamps(set);
    this.hooks.loaded();
    this.changed(false);
  }

  colourOf(name) {
    const lamp = this.store.lamp(name);
    return JSON.stringify([lamp.cct, lamp.duv, lamp.gel]);
  }

  /** Fetch one lamp's light in its colour of now, once at a time; the last wish wins. */
  async fetchLamp(set, name, draw = true) {
    const { option, camera } = set, colour = this.colourOf(name);
    if (this.asked.get(name) && draw) {
      this.asked.set(name, "again");
      return;
    }
    this.asked.set(name, "asked");
    try {
      const look = this.store.look({ solo: false });
      const got = await this.source.numbers("slice", { option, camera, lamp: name,
        look: { lamps: { [name]: look.lamps[name] ?? {} }, cameras: look.cameras } });
      if (got.key !== set.key) throw new Error("newer frames have come");
      this.picture.putLamp(set, name, got.halves, got.fade);
      set.gain = got.gain ?? 1;
      set.colours.set(name, colour);
      this.picture.mixedOf = "";
      if (draw && set === this.set) this.touch();
    } catch (fault) {
      set.colours.set(name, colour);
      if (!draw) throw fault;
      this.hooks.notice(fault.message);
    } finally {
      const more = this.asked.get(name) === "again";
      this.asked.delete(name);
      if (more && set === this.set) this.fetchLamp(set, name);
    }
  }

  // Following the hand

  /** Something that the picture shows has changed. */
  changed(byHand = true) {
    if (byHand) this.movedAt = performance.now();
    if (this.gpu && this.set && this.source.live)
      for (const name of this.set.names)
        if (this.store.lamps.some((each) => each.name === name)
            && this.set.colours.get(name) !== this.colourOf(name)) this.fetchLamp(this.set, name);
    this.settledAs = null;
    if (this.gpu) this.picture.dropSettled();
    this.settleSoon();
    this.touch();
  }

  settleSoon() {
    clearTimeout(this.rest);
    this.abort?.abort();
    this.rest = setTimeout(() => this.settle(), REST_MS);
  }

  /** Draw at the next chance; pictures are never piled up. */
  touch() {
    if (this.drawing) {
      this.again = true;
      return;
    }
    this.drawing = true;
    requestAnimationFrame(() => this.drawn().finally(() => {
      this.drawing = false;
      if (this.again) {
        this.again = false;
        this.touch();
      }
    }));
  }

  async drawn() {
    const began = performance.now(), moving = this.moving;
    if (this.gpu) {
      if (!this.set) return;
      if (!this.picture.settled) this.picture.mix(this.matrices(), moving);
      this.picture.draw(this.exposure(), this.store.view, moving);
      await this.picture.drawn();
      this.picture.easeFor(performance.now() - began, moving);
    } else if (this.told?.key) {
      await this.picture.draw(moving).catch((fault) => this.hooks.notice(fault.message));
    }
    const now = performance.now();
    if (moving) this.ticks.push(now);
    this.ticks = this.ticks.filter((each) => now - each < 1000);
    this.hooks.drawn(moving, this.rate);
  }

  /** Pictures in the last second while a hand moves, from their intervals. [1/s] */
  get rate() {
    const { ticks } = this;
    return ticks.length < 2 ? null : (1000 * (ticks.length - 1)) / (ticks.at(-1) - ticks[0]);
  }

  matrices() {
    const known = new Set(this.store.lamps.map((each) => each.name));
    return this.set.names.map((name, i) => {
      const gain = known.has(name) ? this.store.gain(name) : 0;
      return gain > 0 ? scaled(fadeMatrix(this.set.fades[i], gain), gain / this.set.gain) : null;
    });
  }

  exposure() {
    const camera = this.store.cameraNow, { tables } = this.store.scene;
    const written = this.store.optionNow.cameras.find((each) => each.name === this.store.camera);
    return { balance: balanceMatrix(camera, tables),
      gain: signalPerLuminance(camera, tables) / written.reference };
  }

  // At rest

  /** Ask for the picture as it will be rendered, and show it if nothing has changed meanwhile. */
  async settle() {
    const moving = this.moving;
    if (moving) {
      this.settleSoon();
      return;
    }
    this.touch();
    this.hooks.resting();
    const { option, camera } = this.store, look = this.store.look();
    const wanted = JSON.stringify([option, camera, look]);
    if (!this.gpu && this.told?.key) {
      await this.picture.draw(false).catch((fault) => this.hooks.notice(fault.message));
      this.settledAs = wanted;
      return;
    }
    if (!this.source.live || !this.set) return;
    this.abort = new AbortController();
    try {
      const got = await this.source.numbers("settled", { option, camera, look }, { signal: this.abort.signal });
      const now = JSON.stringify([this.store.option, this.store.camera, this.store.look()]);
      if (now !== wanted || got.key !== this.set?.key) return;
      this.picture.setSettled(got.halves, got.width, got.height);
      this.settledAs = wanted;
      this.touch();
      this.hooks.settled(got.note);
    } catch (fault) {
      if (fault.name !== "AbortError") this.hooks.notice(fault.message);
    }
  }

  // The pinned look

  /** Keep the picture of the pinned look; what is shown now serves until the exact one comes. */
  async followPin(fromHere = false) {
    const { pin } = this.store, told = JSON.stringify(pin);
    if (!this.gpu || told === this.pinnedAs) return;
    this.pinnedAs = told;
    if (!pin) {
      this.picture.dropPin();
      this.touch();
      return;
    }
    if (fromHere && this.set) {
      if (!this.picture.settled) this.picture.mix(this.matrices());
      this.picture.pinNow(this.exposure());
    }
    this.touch();
    if (!this.source.live || !this.store.optionOf(pin.option)) return;
    try {
      const got = await this.source.numbers("settled", { option: pin.option, camera: pin.camera, look: pin.look });
      if (JSON.stringify(this.store.pin) !== told) return;
      const written = this.store.optionOf(pin.option).cameras.find((each) => each.name === pin.camera);
      const camera = { ...written, ...pin.look.cameras[pin.camera] };
      this.picture.setPin(got.halves, got.width, got.height, balanceMatrix(camera, this.store.scene.tables));
      this.touch();
    } catch (fault) {
      this.pinnedAs = "";
      this.hooks.notice(fault.message);
    }
  }
}
