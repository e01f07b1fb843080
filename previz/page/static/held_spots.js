// Spots that are held: what is read at each, kept lamp by lamp so that they follow the levels by themselves.

import { spotNow } from "./spot_math.js";
import { heldIn } from "./spot_marks.js";
import { spotsKey } from "./store.js";

const MOST_HELD = 12;
const DIGITS_OF_PLACE = 1e4, LONGEST_NAME = 40, MOST_KNOWN = 200;

function rounded4(value) {
  return Math.round(heldIn(value) * DIGITS_OF_PLACE) / DIGITS_OF_PLACE;
}

/** Of what was kept, which may be another program's, only spots that make sense. */
export function spotsFrom(kept) {
  if (!Array.isArray(kept)) return [];
  const isShare = (value) => typeof value === "number" && value >= 0 && value <= 1;
  return kept.filter((each) => each && isShare(each.x) && isShare(each.y)).slice(0, MOST_HELD)
    .map(({ name, x, y }) => ({ name: typeof name === "string" ? name.slice(0, LONGEST_NAME) : "", x, y }));
}

/** The spots of the camera in view, and what is read there. */
export class HeldSpots {
  /**
   * `hooks` has framesNow(), the name of the frames that are shown; coloursNow(), all that the lamps' light
   * depends on but levels; changed(), to show them again; notice(text).
   */
  constructor(store, source, hooks) {
    this.store = store;
    this.source = source;
    this.hooks = hooks;
    this.known = new Map();
    this.faults = new Map();
    this.dragged = null;
    this.busy = this.again = false;
  }

  // Which there are

  get key() {
    return spotsKey(this.store.option, this.store.camera);
  }

  /** The spots as they are kept; one that is in the hand is where the hand is. */
  get list() {
    const list = spotsFrom(this.store.changes[this.key]), { dragged } = this;
    if (dragged && dragged.key === this.key && list[dragged.index])
      list[dragged.index] = { ...list[dragged.index], x: dragged.x, y: dragged.y };
    return list;
  }

  keep(list, what) {
    this.store.set({ [this.key]: list.length ? list : null }, what);
  }

  /** Hold a spot; true if there was room for it. */
  hold(x, y) {
    const { list } = this;
    if (list.length >= MOST_HELD) {
      this.hooks.notice(`${MOST_HELD} spots are held, which is the most. Remove one first.`);
      return false;
    }
    // Each is a step of its own, however soon it follows the one before.
    this.keep([...list, { name: "", x: rounded4(x), y: rounded4(y) }], `spot ${performance.now()}`);
    return true;
  }

  remove(index) {
    this.keep(this.list.filter((_, i) => i !== index), `spot ${performance.now()}`);
  }

  removeAll() {
    this.keep([], `spot ${performance.now()}`);
  }

  name(index, name) {
    this.keep(this.list.map((each, i) => (i === index ? { ...each, name: name.trim().slice(0, LONGEST_NAME) } : each)), `spot name ${index}`);
  }

  move(index, x, y, what = `spot move ${index}`) {
    this.keep(this.list.map((each, i) => (i === index ? { ...each, x: rounded4(x), y: rounded4(y) } : each)), what);
  }

  step(index, dx, dy) {
    const { x, y } = this.list[index];
    this.move(index, x + dx, y + dy);
  }

  /** Follow a hand; nothing is kept before it lets go. */
  drag(index, x, y) {
    this.dragged = { key: this.key, index, x: rounded4(x), y: rounded4(y) };
    this.hooks.changed();
    this.ask();
  }

  drop(index, x, y) {
    this.dragged = null;
    if (x !== undefined) this.move(index, x, y, `spot drag ${performance.now()}`);
    this.hooks.changed();
  }

  // What is read there

  /** What a reading is of, besides levels, colours and frames. */
  placeOf({ x, y }) {
    const { option, camera, moves, scene } = this.store;
    return JSON.stringify([scene.edition, option, camera, moves, x, y]);
  }

  /** Whether what is known of a spot is not of what is shown. */
  isBehind(found) {
    return found.key !== this.hooks.framesNow() || found.colours !== this.hooks.coloursNow();
  }

  /** Ask for what is not known, all at once, and once at a time. */
  async ask() {
    const waiting = this.list.filter((spot) => {
      const found = this.known.get(this.placeOf(spot));
      return !found || this.isBehind(found);
    });
    // Nothing is read where nothing is rendered yet.
    if (!waiting.length || !this.hooks.framesNow()) return;
    if (this.busy) {
      this.again = true;
      return;
    }
    this.busy = true;
    const { option, camera } = this.store, colours = this.hooks.coloursNow();
    const places = waiting.map((spot) => this.placeOf(spot));
    try {
      const got = await this.source.json("spots.json", { option, camera, look: this.store.look({ alone: false }),
        at: waiting.map(({ x, y }) => [x, y]) });
      got.spots.forEach((spot, i) => {
        this.known.set(places[i], { ...spot, key: got.key, width: got.width, colours });
        this.faults.delete(places[i]);
      });
      for (const place of this.known.keys()) {
        if (this.known.size <= MOST_KNOWN) break;
        this.known.delete(place);
      }
    } catch (fault) {
      for (const place of places) this.faults.set(place, fault.message);
    }
    this.busy = false;
    this.hooks.changed();
    if (this.again) {
      this.again = false;
      this.ask();
    }
  }

  /**
   * Every spot as it is read now: {number, name, x, y, known, words, behind, thing, width} and, where it is
   * known, what `spotNow` has. `words` say why one is not.
   */
  get readings() {
    const { store } = this, lamps = new Set(store.lamps.map((each) => each.name));
    const gainOf = (name) => (lamps.has(name) ? store.gain(name) : 0);
    return this.list.map((spot, i) => {
      const place = this.placeOf(spot), found = this.known.get(place), number = i + 1;
      if (!found) return { ...spot, number, known: false, behind: false, words: this.wordsOf(place) };
      return { ...spot, number, known: true, behind: this.isBehind(found), words: "", thing: found.thing, width: found.width,
        ...spotNow(found.parts, gainOf, store.cameraNow, store.scene.tables) };
    });
  }

  wordsOf(place) {
    if (this.hooks.framesNow() === null) return "not rendered yet";
    return this.faults.has(place) && !this.busy ? this.faults.get(place).split("\n")[0] || "cannot be read" : "being read…";
  }
}
