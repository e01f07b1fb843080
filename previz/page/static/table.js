// The table that the picture lies on: which frames are shown, whose colours, settled or moving.

import { flatLook, sideStore } from "./kept.js";
import { balanceMatrix, fadeMatrix, scaled, signalPerLuminance } from "./light.js";

const REST_MS = 350, PLAIN_REST_MS = 600;
const MOVING_MS = 250;
const FETCHES = 4;

/** Frames have come that are newer than those a request was about. */
class NewerFrames extends Error {}

/** Keeps the picture true to the store: loads lamps, mixes, settles. */
export class Table {
  constructor(store, source, picture, hooks) {
    this.store = store;
    this.source = source;
    this.picture = picture;
    this.hooks = hooks;
    this.frames = null;
    this.set = null;
    this.colours = new Map();
    this.movedAt = -Infinity;
    this.drawing = false;
    this.again = false;
    this.ticks = [];
    this.loading = this.loaded = 0;
    this.covered = false;
    this.loadTimer = null;
    this.rest = null;
    this.abort = null;
    this.settledAs = null;
    this.coarse = null;
    picture.stands = () => this.stands;
    this.pinnedAs = this.pinShown = "null";
    this.pinRequest = null;
  }

  /** The frames of what is looked at, also where that is none yet; undefined before that is known. */
  get framesNow() {
    const { option, camera, moves } = this.store;
    const ours = this.placeOf === `${option}\n${camera}` && this.movesOf === JSON.stringify(moves);
    return ours ? this.frames?.key ?? null : undefined;
  }

  get gpu() {
    return this.picture.kind === "gpu";
  }

  get moving() {
    return performance.now() - this.movedAt < MOVING_MS;
  }

  /** What the settled picture has to be of. */
  get request() {
    return JSON.stringify([this.store.option, this.store.camera, this.store.look()]);
  }

  /** True when nothing that the picture shows is still coming. */
  get resting() {
    const fetching = this.loadTimer || this.loading !== this.loaded || this.set?.requests?.size || this.pinRequest;
    return !fetching && !this.rest && !this.abort && !this.drawing && !this.moving
      && this.settledAs === this.request;
  }

  /** True where the picture is the one that is rendered of these frames. */
  get isSettled() {
    return this.settledAs === this.request && (!this.gpu || this.set?.key === this.frames?.key);
  }

  /** What was moved in the picture that there are frames of, as the server takes it; null without any. */
  get base() {
    return this.framesMoves === undefined || this.shownPlace !== this.placeNow ? null : JSON.parse(this.framesMoves);
  }

  get placeNow() {
    return `${this.store.option}\n${this.store.camera}`;
  }

  /** True where the picture is of frames of all things as they stand now. */
  get stands() {
    return this.framesMoves === JSON.stringify(this.store.moves) && this.shownPlace === this.placeNow;
  }

  /** What the picture is short of: "coarse", or "behind" what was moved; "" where it is of now. */
  get short() {
    if (this.coarse) return this.coarse.past ? "behind" : "coarse";
    return this.framesMoves === undefined || this.framesMoves === JSON.stringify(this.store.moves) ? "" : "behind";
  }

  /** A coarse picture of what is moved has come; it serves until there are frames. */
  putCoarse(got) {
    if (this.gpu && !this.set) {
      // Nothing is there yet that it could be part of.
      this.set = { ...this.picture.newLamps(got.lamps, got.width, got.height), key: null, colours: new Map(),
        requests: new Map(), option: this.store.option, camera: this.store.camera,
        reference: this.store.cameraNow.reference };
      this.shownPlace = this.placeNow;
      this.framesMoves = undefined;
      this.picture.useLamps(this.set);
    }
    this.coarse = got;
    const put = this.picture.putCoarse(got);
    this.hooks.coarse(got);
    if (this.gpu) this.touch();
    else put.then(() => this.hooks.drawn(this.moving, this.rate), (fault) => this.hooks.notice(fault.message));
  }

  dropCoarse() {
    this.coarse = null;
    this.picture.dropCoarse();
  }

  /** What a picture that stays until there is a newer one is from before: "edit" or "move"; null where it is of now. */
  get behind() {
    if (!this.shownPlace || (this.placeOf && this.shownPlace !== this.placeOf)) return null;
    if (this.coarse) return null;
    if (this.edited) return "edit";
    return this.frames && !this.frames.key ? "move" : null;
  }

  // Frames and lamps

  /** Look for frames after a while; what is due earlier already stays so. [ms] */
  loadSoon(wait) {
    const due = performance.now() + wait;
    if (this.loadTimer && this.loadDue <= due) return;
    clearTimeout(this.loadTimer);
    this.loadDue = due;
    this.loadTimer = setTimeout(() => this.load(), wait);
  }

  /** Another table takes over. */
  close() {
    this.unsettle();
    clearTimeout(this.loadTimer);
    this.loading += 1;
    this.set = this.frames = this.pinRequest = this.loadTimer = null;
  }

  /** Another option or camera is looked at. */
  placed() {
    this.unsettle();
    if (this.coarse && this.shownPlace !== this.placeNow) this.dropCoarse();
    return this.load();
  }

  /** The scene was read again: what was fetched may be of lamps and a camera that are no more. */
  forget() {
    this.frames = this.placeOf = null;
    this.edited = true;
    if (this.set) this.set.key = null;
    this.pinnedAs = "";
  }

  /** Look for the best frames of what is looked at and load them; the last call counts. */
  async load() {
    clearTimeout(this.loadTimer);
    this.loadTimer = null;
    const number = ++this.loading;
    try {
      await this.loadBest(number);
    } catch (fault) {
      if (number !== this.loading) return;
      if (fault instanceof NewerFrames) this.loadSoon(0);
      else this.hooks.notice(fault.message);
    } finally {
      if (number === this.loading) this.loaded = number;
    }
  }

  async loadBest(number) {
    const { option, camera } = this.store;
    const { stop, reference } = this.store.cameraNow;
    const moves = this.store.moves;
    const frames = await this.source.json("frames.json", { option, camera, stop, look: { moves } });
    if (number !== this.loading) return;
    await this.readyView(frames.view, { option, camera, moves });
    if (number !== this.loading) return;
    const place = `${option}\n${camera}`;
    const same = this.frames?.key === frames.key && this.placeOf === place;
    const cleaner = same ? frames.lamps?.filter((_, i) => frames.clean[i] && !this.frames.clean[i]) ?? [] : [];
    this.frames = frames;
    this.placeOf = place;
    this.movesOf = JSON.stringify(moves);
    this.hooks.frames(frames);
    if (!frames.key) {
      if (this.shownPlace !== place) this.set = null;
      return;
    }
    if (!this.gpu) {
      this.picture.key = frames.key;
      this.shownPlace = place;
      this.edited = false;
      this.framesMoves = JSON.stringify(moves);
      if (this.stands) this.dropCoarse();
      this.changed(false);
      return;
    }
    if (same && this.set?.key === frames.key) {
      // They may be called otherwise, and be the same.
      this.framesMoves = JSON.stringify(this.set.moves = moves);
      if (this.coarse && this.stands) this.dropCoarse();
      if (this.set.view !== frames.view) {
        this.set.view = frames.view;
        this.picture.useView(frames.view);
        this.touch();
      }
      for (const name of cleaner) this.fetchLamp(this.set, name);
      if (cleaner.length) this.settleSoon();
      else if (!this.settledAs && !this.rest && !this.abort) this.changed(false);
      return;
    }
    await this.loadLamps(frames, { option, camera, reference, moves }, number);
  }

  /** See that the picture has the view of a camera. */
  async readyView(key, { option, camera, moves }) {
    if (this.gpu && !this.picture.hasView(key)) {
      const view = await this.source.json("view.json", { option, camera, look: { moves } });
      // The scene may have been read again meanwhile.
      if (view.key !== key) throw new NewerFrames();
      if (!this.picture.hasView(key)) this.picture.addView(view);
    }
  }

  async loadLamps(frames, place, number) {
    const set = this.picture.newLamps(frames.lamps, frames.width, frames.height);
    // Asked: lamps that are being fetched, and whether their colour has changed again since.
    Object.assign(set, place, { key: frames.key, view: frames.view, colours: new Map(), requests: new Map() });
    const waiting = [...frames.lamps];
    const one = async () => {
      while (waiting.length && number === this.loading) await this.fetchLamp(set, waiting.shift(), false);
    };
    // All have to end before the texture may go that they write into.
    const ended = await Promise.allSettled(Array.from({ length: FETCHES }, () =>
      one().catch((fault) => {
        waiting.length = 0;
        throw fault;
      })));
    const failed = ended.find((each) => each.status === "rejected");
    if (failed) {
      this.picture.gl.deleteTexture(set.texture);
      throw failed.reason;
    }
    if (number !== this.loading) {
      this.picture.gl.deleteTexture(set.texture);
      return;
    }
    this.set = set;
    this.shownPlace = this.placeOf;
    this.edited = false;
    this.framesMoves = JSON.stringify(place.moves);
    this.coarse = null;
    this.picture.useLamps(set);
    this.picture.useView(set.view);
    this.hooks.loaded();
    this.changed(false);
  }

  colourOf(name) {
    const lamp = this.store.lamp(name);
    return JSON.stringify([lamp.cct, lamp.duv, lamp.gel]);
  }

  /** Fetch one lamp's light in its colour of now, once at a time; the last wish wins. */
  async fetchLamp(set, name, draw = true) {
    if (set.requests.has(name)) {
      set.requests.set(name, "again");
      return;
    }
    const { option, camera, moves } = set, colour = this.colourOf(name);
    set.requests.set(name, "sent");
    try {
      const look = this.store.look({ alone: false });
      const got = await this.source.numbers("slice", { option, camera, lamp: name,
        look: { lamps: { [name]: look.lamps[name] ?? {} }, cameras: look.cameras, moves } });
      if (got.key !== set.key) throw new NewerFrames();
      if (draw && set !== this.set) return;
      this.picture.putLamp(set, name, got.halves, got.fade);
      set.gain = got.gain ?? 1;
      this.picture.mixedOf = "";
      if (draw) this.touch();
    } catch (fault) {
      if (!draw) throw fault;
      if (fault instanceof NewerFrames) this.loadSoon(0);
      else this.hooks.notice(fault.message);
    } finally {
      // Also where it failed, else it would be requested without end.
      set.colours.set(name, colour);
      const more = set.requests.get(name) === "again";
      set.requests.delete(name);
      if (more && set === this.set) this.fetchLamp(set, name);
    }
  }

  // Following the hand

  /** Something that the picture shows has changed. */
  changed(byHand = true) {
    if (byHand) this.movedAt = performance.now();
    if (this.gpu && this.set?.key && this.source.live)
      for (const name of this.set.names)
        if (this.store.lamps.some((each) => each.name === name)
            && this.set.colours.get(name) !== this.colourOf(name)) this.fetchLamp(this.set, name);
    this.unsettle();
    if (this.gpu) this.picture.dropSettled();
    this.settleSoon();
    this.touch();
  }

  /** The settled picture, shown or on its way, is not what is to be shown any more. */
  unsettle() {
    clearTimeout(this.rest);
    this.abort?.abort();
    this.rest = this.abort = this.settledAs = null;
  }

  settleSoon() {
    this.unsettle();
    this.rest = setTimeout(() => this.settle(), this.gpu ? REST_MS : PLAIN_REST_MS);
  }

  /** Draw at the next chance; pictures are never piled up, and none is drawn that others cover. */
  touch() {
    if (this.covered) return;
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
      this.picture.draw(this.exposure(), this.store.viewNow, moving);
      await this.picture.drawn();
      this.picture.easeFor(performance.now() - began, moving);
    } else if (this.frames?.key && this.stands) {
      // Small and at once until the picture at rest is there or on its way.
      await this.picture.draw(moving || !(this.settledAs || this.abort)).catch((fault) => this.hooks.notice(fault.message));
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
    return this.picture.mixed.map((name) => {
      const gain = known.has(name) ? this.store.gain(name) : 0;
      return gain > 0 ? scaled(fadeMatrix(this.picture.fadeOf(name), gain), gain / this.set.gain) : null;
    });
  }

  exposure() {
    const camera = this.store.cameraNow, { tables } = this.store.scene;
    // Lamps were packed by the camera as it was written then; the scene may have changed since.
    return { balance: balanceMatrix(camera, tables),
      gain: signalPerLuminance(camera, tables) / (this.set ?? camera).reference };
  }

  // At rest

  /** Ask for the picture as it will be rendered, and show it if nothing has changed meanwhile. */
  async settle() {
    this.rest = null;
    if (this.moving) {
      this.settleSoon();
      return;
    }
    if (this.gpu) this.touch();
    this.hooks.resting();
    const { request } = this;
    // What is from before is never called settled.
    if (!this.frames?.key || !this.stands || this.coarse || (this.gpu && (!this.source.live || !this.set?.key))) return;
    const abort = this.abort = new AbortController();
    try {
      if (this.gpu) await this.settleGpu(request, abort.signal);
      else {
        const whole = await this.picture.draw(false);
        if (whole && abort === this.abort && request === this.request) {
          this.settledAs = request;
          this.hooks.drawn(false, this.rate);
        } else if (abort === this.abort) this.settleSoon();
      }
    } catch (fault) {
      if (abort === this.abort) this.hooks.notice(fault.message);
    }
    if (abort === this.abort) this.abort = null;
  }

  async settleGpu(request, signal) {
    const { option, camera } = this.store, look = this.store.look();
    const got = await this.source.numbers("settled", { option, camera, look }, { signal });
    if (signal.aborted || this.request !== request || !this.set) return;
    if (got.key !== this.set.key) {
      this.loadSoon(0);
      return;
    }
    this.picture.setSettled(got.halves, got.width, got.height);
    this.settledAs = request;
    this.touch();
    this.hooks.settled(got.note);
  }

  // The pinned look

  /** Request the pinned look's picture anew: better frames of it have come. */
  repin() {
    this.pinnedAs = "";
    this.followPin();
  }

  /** Pin a look that is mixed from the lamps that are here: where there is no program to ask. */
  pinHere(pin) {
    if (this.asLook(pin, () => this.picture.pinNow(this.exposure()) ?? true)) this.pinShown = this.pinnedAs;
  }

  /** Screen codes of a look in a small size, RGBA rows from the bottom; null where its lamps are not here. */
  smallHere(look, width, height) {
    return this.asLook(look, () => this.picture.small(this.exposure(), width, height));
  }

  /** Mix the lamps that are here as a look has them, for as long as `act` takes; null where they are another's. */
  asLook(look, act) {
    if (!this.set || look.option !== this.set.option || look.camera !== this.set.camera) return null;
    const { store } = this, settled = this.picture.settled;
    this.picture.settled = null;
    this.store = sideStore(store, { ...look, changes: flatLook(look) });
    this.picture.mix(this.matrices());
    const found = act();
    this.store = store;
    this.picture.settled = settled;
    this.touch();
    return found;
  }

  /** Keep the picture of the pinned look; what is shown now serves until the exact one comes. */
  async followPin(fromHere = false) {
    const { pin } = this.store, kept = JSON.stringify(pin);
    if (!this.gpu || kept === this.pinnedAs) return;
    this.pinnedAs = kept;
    this.pinRequest = null;
    if (pin && fromHere && this.set) {
      if (!this.picture.settled) this.picture.mix(this.matrices());
      this.picture.pinNow(this.exposure());
      this.pinShown = kept;
    } else if (kept !== this.pinShown) {
      // Rather none than that of another look.
      this.picture.dropPin();
      this.pinShown = "null";
    }
    if (pin && !this.source.live) this.pinHere(pin);
    this.touch();
    if (!pin?.look || !this.source.live || !this.store.cameraOf(pin.option, pin.camera)) return;
    const request = this.pinRequest = {};
    try {
      const got = await this.source.numbers("settled", { option: pin.option, camera: pin.camera, look: pin.look });
      if (request !== this.pinRequest) return;
      const { option, camera: name, look: { moves } } = pin;
      await this.readyView(got.view, { option, camera: name, moves });
      if (request !== this.pinRequest) return;
      const written = this.store.optionOf(pin.option)?.cameras.find((each) => each.name === pin.camera);
      if (written) {
        const camera = { ...written, ...pin.look.cameras[pin.camera] };
        this.picture.setPin(got.halves, got.width, got.height, balanceMatrix(camera, this.store.scene.tables), got.view);
        this.pinShown = kept;
      }
    } catch (fault) {
      // It is requested again when frames of it have been rendered.
      if (request === this.pinRequest) this.hooks.notice(fault.message);
    }
    if (request === this.pinRequest) this.pinRequest = null;
    this.touch();
  }
}
