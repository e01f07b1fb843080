// What the page knows: the scene, what was changed of it, and what this page shows.
//
// Changes are shared by every open page and kept on disk by the server; they are flat, one value
// for each lamp and camera of each option, so that two hands meet only where they hold the same
// lamp. Option, camera, the lamps that are alone and the view belong to one page alone.

const TOGETHER_MS = 900;

export function lampKey(option, lamp) {
  return `${option}|lamp|${lamp}`;
}

export function cameraKey(option, camera) {
  return `${option}|camera|${camera}`;
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

export class Store {
  constructor(scene) {
    this.changes = Object.create(null);
    this.listeners = new Set();
    this.alone = new Set();
    this.view = { mode: "still", wipe: null, waveform: "luma", spot: null };
    this.done = [];
    this.undone = [];
    this.send = () => {};
    this.take(scene);
  }

  /** Take over a scene, new or read again. */
  take(scene) {
    this.scene = scene;
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

  optionOf(name) {
    return this.scene.options.find((each) => each.name === name);
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

  /** Set whole values, as one step that can be undone. */
  set(values, what = "") {
    const before = {};
    for (const key of Object.keys(values)) before[key] = this.changes[key] ?? null;
    const unchanged = JSON.stringify(before) === JSON.stringify(values);
    if (unchanged) return;
    const now = performance.now();
    const last = this.done.at(-1);
    const name = Object.keys(values).join() + what;
    if (last && last.name === name && now - last.at < TOGETHER_MS && !this.undone.length) {
      last.after = values;
      last.at = now;
    } else {
      this.done.push({ before, after: values, name, at: now, option: this.option, camera: this.camera });
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
    this.emit("changes");
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
    this.undone.push(step);
    this.goTo(step);
    this.apply(step.before);
    this.send(step.before);
    return true;
  }

  redo() {
    const step = this.undone.pop();
    if (!step) return false;
    this.done.push({ ...step, at: 0 });
    this.goTo(step);
    this.apply(step.after);
    this.send(step.after);
    return true;
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

  emit(what) {
    for (const listener of this.listeners) listener(what);
  }
}
