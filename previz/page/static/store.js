// What the page knows: the scene, what was changed of it, and what this page shows.
//
// Changes are shared by every open page and kept on disk by the server; they are flat, one value
// for each lamp and camera of each option, so that two hands meet only where they hold the same
// lamp. Option, camera, the lamps that are alone and the view belong to one page alone.

import { asMoved } from "./moved.js";

const TOGETHER_MS = 900;

export function lampKey(option, lamp) {
  return `${option}|lamp|${lamp}`;
}

export function cameraKey(option, camera) {
  return `${option}|camera|${camera}`;
}

/** Spots that are held in a camera's picture: a list of {name, x, y}, shares of the picture from the top left. */
export function spotsKey(option, camera) {
  return `spots|${option}|${camera}`;
}

export function wantsKey(option) {
  return `${option}|wants`;
}

/** Where something stands: fields of the scene file, by which they differ from what the option has. */
export function placeKey(option, section, name) {
  return `${option}|place|${section}|${name}`;
}

/** Something that was put in: all its fields, as the scene file has them. */
export function addedKey(option, section, name) {
  return `${option}|added|${section}|${name}`;
}

/** Something of the option that was taken out. */
export function removedKey(option, section, name) {
  return `${option}|removed|${section}|${name}`;
}

/** Lamps of an option that move together: the list of their names. */
export function groupKey(option, name) {
  return `group|${option}|${name}`;
}

/**
 * What is moved, put in and taken out of an option, as the server takes it: as an option of a scene file.
 * What was put in is moved by its own fields.
 */
export function movesOf(changes, option) {
  // Nothing that a key may be called is already there.
  const bare = () => Object.create(null), moves = bare();
  for (const [key, value] of Object.entries(changes)) {
    const [of, what, section, name] = key.split("|");
    if (of !== option) continue;
    if (what === "place") (moves[section] ??= bare())[name] = value;
    if (what === "added") ((moves.add ??= bare())[section] ??= []).push({ name, ...value });
    if (what === "removed") (moves.remove ??= []).push(name);
  }
  return moves;
}

/** Whether two values are the same, whatever order their fields came in. */
function same(one, other) {
  if (one === null || other === null || typeof one !== "object" || typeof other !== "object") return one === other;
  const keys = Object.keys(one);
  return keys.length === Object.keys(other).length && keys.every((key) => key in other && same(one[key], other[key]));
}

export class Store {
  constructor(scene) {
    this.changes = Object.create(null);
    this.listeners = new Set();
    this.alone = new Set();
    this.view = { mode: "still", wipe: null, waveform: "luma", spot: null, unit: "lx", all: false };
    // What is in the hand on the plan: {section, name}, null for nothing.
    this.holding = null;
    this.done = [];
    this.undone = [];
    this.send = () => {};
    // Another page has changed since what would be undone here; told the keys.
    this.left = () => {};
    this.take(scene);
  }

  /** Take over a scene, new or read again. */
  take(scene) {
    this.scene = scene;
    this.known = new Map();
    const names = scene.options.map((each) => each.name);
    if (!names.includes(this.option)) this.option = names[0];
    this.keepPlace();
  }

  /** Let go of a camera, and of lamps that are alone, where the option has none of that name. */
  keepPlace() {
    const names = this.optionNow.cameras.map((each) => each.name);
    if (!names.includes(this.camera)) this.camera = names[0];
    for (const name of [...this.alone])
      if (!this.lamps.some((lamp) => lamp.name === name)) this.alone.delete(name);
  }

  /** An option with what was moved, put in and taken out. */
  optionOf(name) {
    if (!this.known.has(name)) {
      const written = this.scene.options.find((each) => each.name === name);
      this.known.set(name, written && asMoved(written, movesOf(this.changes, name), this.scene));
    }
    return this.known.get(name);
  }

  get optionNow() {
    return this.optionOf(this.option);
  }

  get lamps() {
    return this.optionNow.lamps;
  }

  /** A lamp as written, with what was changed of it. */
  lamp(name) {
    const written = this.lamps.find((each) => each.name === name);
    return { ...written, ...this.changes[lampKey(this.option, name)] };
  }

  cameraOf(option, name) {
    const written = this.optionOf(option)?.cameras.find((each) => each.name === name);
    return written && { ...written, ...this.changes[cameraKey(option, name)] };
  }

  get cameraNow() {
    return this.cameraOf(this.option, this.camera);
  }

  /** What stands elsewhere than the option has it. */
  get moves() {
    return movesOf(this.changes, this.option);
  }

  /** The same, as it would be with some more changes. */
  movesWith(values) {
    const changes = { ...this.changes, ...values };
    for (const key of Object.keys(values)) if (values[key] === null) delete changes[key];
    return movesOf(changes, this.option);
  }

  /** Groups of the option: their lamps that are there, by name. */
  get groups() {
    const stem = groupKey(this.option, ""), known = new Set(this.lamps.map((each) => each.name));
    return new Map(Object.entries(this.changes).filter(([key]) => key.startsWith(stem))
      .map(([key, names]) => [key.slice(stem.length), names.filter((name) => known.has(name))]));
  }

  /** How much of a lamp's full light is in the picture now. */
  gain(name) {
    const lamp = this.lamp(name);
    const dark = !lamp.on || (this.alone.size && !this.alone.has(name));
    return dark ? 0 : lamp.level;
  }

  /** The changes of an option as the server takes them; where lamps are alone, all others are off. */
  look({ alone = true } = {}) {
    const look = { lamps: {}, cameras: {}, moves: this.moves };
    for (const lamp of this.lamps) {
      const change = { ...this.changes[lampKey(this.option, lamp.name)] };
      if (alone && this.alone.size && !this.alone.has(lamp.name)) change.on = false;
      if (Object.keys(change).length) look.lamps[lamp.name] = change;
    }
    for (const camera of this.optionNow.cameras) {
      const change = this.changes[cameraKey(this.option, camera.name)];
      if (change) look.cameras[camera.name] = change;
    }
    return look;
  }

  // Changing

  changeLamp(name, fields) {
    const written = this.lamps.find((each) => each.name === name);
    this.change(lampKey(this.option, name), fields, written);
  }

  changeCamera(fields) {
    const written = this.optionNow.cameras.find((each) => each.name === this.camera);
    this.change(cameraKey(this.option, this.camera), fields, written);
  }

  /** Change fields of one thing. */
  change(key, fields, written) {
    this.set({ [key]: this.with(key, fields, written) }, Object.keys(fields).join());
  }

  /** What is changed of a thing with some more fields; what is as written again is no change. */
  with(key, fields, written) {
    const after = { ...this.changes[key], ...fields };
    for (const name of Object.keys(after))
      if (JSON.stringify(after[name]) === JSON.stringify(written[name])) delete after[name];
    return Object.keys(after).length ? after : null;
  }

  /**
   * Set whole values, as one step that can be undone. What is set again soon is one step with it; so is all
   * that has the same `step`, however long that takes.
   */
  set(values, what = "", step = null) {
    const before = {};
    for (const key of Object.keys(values)) before[key] = this.changes[key] ?? null;
    const unchanged = JSON.stringify(before) === JSON.stringify(values);
    if (unchanged) return;
    const now = performance.now();
    const last = this.done.at(-1);
    const name = Object.keys(values).join() + what;
    const again = step === null ? now - last?.at < TOGETHER_MS && !last.step : last?.step === step;
    if (last && last.name === name && again && !this.undone.length) {
      last.after = values;
      last.at = now;
    } else {
      this.done.push({ before, after: values, name, at: now, step, option: this.option, camera: this.camera });
      if (this.done.length > 500) this.done.shift();
    }
    this.undone = [];
    this.apply(values);
    this.send(values);
  }

  /** Take changes over without an undo: another page's, or the server's. */
  apply(values) {
    for (const [key, value] of Object.entries(values)) {
      if (value === null) delete this.changes[key];
      else this.changes[key] = value;
    }
    this.known.clear();
    const { camera } = this;
    // The camera that is looked through may have been taken out.
    this.keepPlace();
    if (camera !== this.camera) this.emit("place");
    this.emit("changes", Object.keys(values));
  }

  /** Let go of what can be undone of some keys. */
  forget(keys) {
    const other = (step) => !keys.some((key) => key in step.after);
    this.done = this.done.filter(other);
    this.undone = this.undone.filter(other);
  }

  undo() {
    const step = this.done.pop();
    if (!step) return false;
    const back = this.goBack(step, step.after, step.before);
    if (back) this.undone.push({ ...step, ...back });
    return true;
  }

  redo() {
    const step = this.undone.pop();
    if (!step) return false;
    const back = this.goBack(step, step.before, step.after, step.to ?? step);
    if (back) this.done.push({ ...step, ...back, at: 0 });
    return true;
  }

  /**
   * Take a step back or forward, key by key, where it still is as this page left it; what another page has
   * changed since stays. Shows the place that it was made at, or leads to. Returns the step as far as it was taken, null for none of it.
   */
  goBack(step, from, to, place = step) {
    const keys = Object.keys(to);
    const mine = keys.filter((key) => same(this.changes[key] ?? null, from[key] ?? null));
    if (mine.length < keys.length) this.left(keys.filter((key) => !mine.includes(key)));
    if (!mine.length) return null;
    const some = (values) => Object.fromEntries(mine.map((key) => [key, values[key] ?? null]));
    const after = some(to);
    this.goTo(place);
    this.apply(after);
    this.send(after);
    return { before: some(step.before), after: some(step.after) };
  }

  /** Show where a step was made, so that what it does can be seen. */
  goTo({ option, camera }) {
    if (option !== this.option || camera !== this.camera) this.showPlace({ option, camera });
  }

  // What this page shows

  showPlace(fields) {
    if (fields.option !== undefined && this.optionOf(fields.option)) this.option = fields.option;
    if (fields.camera !== undefined) this.camera = fields.camera;
    this.keepPlace();
    this.emit("place");
  }

  toggleAlone(name) {
    if (!this.alone.delete(name)) this.alone.add(name);
    this.emit("changes");
  }

  setView(fields) {
    Object.assign(this.view, fields);
    this.emit("view");
  }

  get pin() {
    return this.changes.pin ?? null;
  }

  listen(listener) {
    this.listeners.add(listener);
  }

  /** Tell who listens what has changed: 'changes' with their keys (all without any), 'place' or 'view'. */
  emit(what, keys = null) {
    for (const listener of this.listeners) listener(what, keys);
  }
}
