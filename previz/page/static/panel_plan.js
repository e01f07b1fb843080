// The plan: lamps, sheets, people, pieces and cameras in the hand.
//
// What is wished for is shown at once and asked for of the server; only what the option can have is set, so that
// what is set can always be rendered. The drawing itself follows a moment later.

import { byId, made, say } from "./dom.js";
import { ChosenThing, MovedList, PutIn } from "./plan_fields.js";
import { PlanHeights } from "./plan_heights.js";
import { angleText, pointText, roundedTo, turnedAbout, CENTIMETRE } from "./plan_values.js";
import { PlanView } from "./plan_view.js";
import { addedKey, lampKey, placeKey, removedKey } from "./store.js";

/** Least from one drawing to the next while a hand moves. */
const REDRAWN_MS = 800;

/** So near a mark a figure that is let go of comes to stand on it. [m] */
const SNAP = 0.3;

const OF_MARKS = ["at", "facing", "pose", "looking_at", "seat", "table", "head_turn", "head_tilt"];

export class PlanPanel {
  constructor(store, source) {
    this.store = store;
    this.source = source;
    this.data = null;
    this.chosen = null;
    this.refused = null;
    this.aiming = false;
    this.wishes = [];
    // Where things are in the hand, before the drawing has them there.
    this.local = new Map();
    this.accepted = new Map();
    if (source.live) this.build();
  }

  build() {
    this.view = new PlanView(this);
    this.heights = new PlanHeights(this);
    this.fields = new ChosenThing(this);
    this.list = new MovedList(this);
    this.putting = new PutIn(this);
    this.words = made("p", { class: "plan-fault", role: "alert" });
    const look = (text, label, act) => made("button", { type: "button", class: "step", "aria-label": label, title: label,
      onclick: act }, text);
    const tools = made("div", { class: "row plan-tools" },
      look("Fit", "Fit the set", () => this.data && this.view.fit(this.data.extent)),
      look("All", "All that stands anywhere", () => this.data && this.view.fit(this.data.whole)),
      look("+", "Nearer", () => this.view.zoom(1.4)), look("−", "Farther", () => this.view.zoom(1 / 1.4)));
    const help = made("p", { id: "plan-help", class: "unseen" }, "Arrows move what is chosen by 10 centimetres, with Shift by 1. "
      + "Page up and page down raise and lower it, comma and full stop turn it, Delete takes it out, Enter goes to its figures.");
    byId("plan-box").replaceChildren(help, made("div", { class: "plan-parts" },
      made("div", { class: "plan-left" }, tools,
        made("div", { class: "plan-drawn" }, this.view.element, this.heights.element), this.words),
      made("div", { class: "plan-right" }, this.fields.element, this.putting.element, this.list.element)));
    byId("plan").hidden = false;
    this.store.listen((what) => this.heard(what));
    new ResizeObserver(() => this.sized()).observe(this.view.svg);
  }

  // What is known

  get moves() {
    return JSON.stringify(this.store.moves);
  }

  thing(name) {
    return this.data?.things.find((each) => each.section && each.name === name) ?? null;
  }

  /** Where a thing stands, in the hand or as drawn. [m] */
  at(thing) {
    return this.local.get(thing.name)?.at ?? thing.at;
  }

  point(thing) {
    const local = this.local.get(thing.name);
    return local && "point" in local ? local.point : thing.target?.point ?? null;
  }

  /** What a thing is aimed at by name, '' for a point. */
  text(thing) {
    return this.local.get(thing.name)?.text ?? thing.target?.text ?? "";
  }

  turned(thing) {
    return this.local.get(thing.name)?.deg ?? thing.angle?.deg ?? null;
  }

  isAway(thing) {
    const local = this.local.get(thing.name);
    return Boolean(local && (local.at && String(local.at) !== String(thing.at) || local.point !== undefined || local.deg !== undefined));
  }

  keyOf(thing) {
    return (thing.added ? addedKey : placeKey)(this.store.option, thing.section, thing.name);
  }

  isMoved(thing) {
    return thing.added || this.keyOf(thing) in this.store.changes;
  }

  /** What a screen reader says of a thing. */
  spoken(thing) {
    const at = this.at(thing), text = this.text(thing);
    const pointed = thing.target?.field === "aim" ? "aimed at" : "facing";
    return [thing.name, thing.kind ? `${thing.kind}, ${thing.noun}` : thing.noun,
      `${at[0].toFixed(2)} m east, ${at[1].toFixed(2)} m north, ${at[2].toFixed(2)} m high`,
      text && `${pointed} ${text}`, thing.added ? "put in" : this.isMoved(thing) ? "moved" : ""].filter(Boolean).join(", ");
  }

  // Hearing

  heard(what) {
    if (what === "changes" || what === "place") {
      if (!this.setting && !this.store.holding) this.local.clear();
      if (this.store.option !== this.optionNow) {
        this.optionNow = this.store.option;
        this.chosen = null;
        this.say("");
      }
      if (`${this.store.option} ${this.moves}` !== this.askedOf) this.askSoon();
      this.askGreenest();
    }
  }

  /** How green the light of lamps can be that were put in: it takes a while to find, and lamps are there before. */
  async askGreenest() {
    const { store } = this, { rows } = store.scene;
    if (this.findingGreenest) return;
    this.findingGreenest = true;
    for (const spectrum of rows.lacking ?? []) {
      rows.lacking.delete(spectrum);
      const found = await this.source.json("greenest.json", { spectrum }).catch(() => null);
      if (!found || store.scene.rows !== rows) continue;
      rows.spectra[spectrum].greenest = found.greenest;
      store.known.clear();
      store.emit("changes", []);
    }
    this.findingGreenest = false;
  }

  /** The scene was read again. */
  forget() {
    if (!this.source.live) return;
    this.local.clear();
    this.askedOf = null;
    this.askSoon();
  }

  sized() {
    if (!this.view.svg.clientWidth) return;
    if (this.data && this.fitted) {
      // Until a hand has chosen what is looked at, that is the set.
      if (this.view.chosen) this.view.placeRoot();
      else this.view.fit(this.data.extent);
      this.heights.show();
    } else this.askSoon();
  }

  looked() {
    if (this.data && Math.abs(Math.log2(this.view.unit / this.data.unit)) > 0.05) this.askSoon(200);
    this.view.showHandles();
  }

  // The drawing

  askSoon(wait = 30) {
    clearTimeout(this.timer);
    // Both cores are the picture's while a hand moves something: symbols follow by themselves.
    this.timer = setTimeout(() => this.ask(), this.store.holding ? Math.max(wait, REDRAWN_MS) : wait);
  }

  async ask() {
    clearTimeout(this.timer);
    if (this.busy) {
      this.again = true;
      return;
    }
    // What nobody sees is drawn when it is opened.
    if (!this.view.svg.clientWidth) return;
    this.busy = true;
    const { option } = this.store, moves = this.moves;
    this.askedOf = `${option} ${moves}`;
    const first = this.fitted !== option;
    try {
      const unit = first ? undefined : Number(this.view.unit.toPrecision(4));
      const data = await this.source.json("plan.json", { option, look: { moves: this.store.moves }, unit });
      if (option === this.store.option) this.take(data, moves, first);
    } catch (fault) {
      // The line at the foot says that the program is gone.
      if (fault.message) this.say(fault.message);
      this.askedOf = null;
    }
    this.busy = false;
    if (this.again || `${this.store.option} ${this.moves}` !== this.askedOf && this.askedOf !== null) {
      this.again = false;
      this.askSoon();
    }
  }

  take(data, moves, first) {
    if (data.fault) {
      this.unfit = true;
      this.takeBack(data.fault);
      // What was moved before an edit of the file may fit it no more; it can be put back from the list.
      this.list.show();
      this.list.element.open = true;
      return;
    }
    if (this.unfit) this.say("");
    this.unfit = false;
    this.data = data;
    if (first) {
      this.fitted = data.option;
      this.view.fit(data.extent);
    }
    if (moves === this.moves && !this.running) {
      const held = this.store.holding?.name;
      for (const name of [...this.local.keys()]) if (name !== held) this.local.delete(name);
      this.last = null;
    }
    if (this.chosen && !this.thing(this.chosen)) this.chosen = null;
    this.view.draw(data);
    this.show();
    if (this.wanted && this.thing(this.wanted)) {
      this.choose(this.wanted);
      this.view.focus(this.wanted);
      this.wanted = null;
    }
  }

  show() {
    if (!this.data) return;
    this.view.show();
    this.heights.show();
    this.fields.show();
    this.list.show();
    this.putting.show();
  }

  say(words) {
    say(this.words, words);
  }

  choose(name) {
    if (name !== this.chosen) this.aiming = false;
    this.chosen = name;
    this.show();
  }

  toFields() {
    this.fields.element.querySelector("input, select, button")?.focus();
  }

  // Setting

  /**
   * Set changes if the option can have them; of several of one sort the last counts. `make` gives the changes when
   * it is their turn. True once they are set.
   */
  wish(name, make, what, step = null) {
    const wish = { name, make, what, step, option: this.store.option }, last = this.wishes.at(-1);
    if (last && last.name === name && last.what === what && last.step === step) this.wishes.pop();
    this.wishes.push(wish);
    this.running ??= this.run();
    return this.running;
  }

  async run() {
    let good = false;
    while (this.wishes.length) {
      const wish = this.wishes.shift();
      if (wish.option !== this.store.option) continue;
      const values = wish.make(), words = await this.fault(values, wish.option);
      if (wish.option !== this.store.option) continue;
      const last = !this.wishes.length;
      good = words === "";
      this.refused = good ? null : wish.name;
      if (good || last) this.say(words);
      if (good) this.apply(wish, values);
      else if (last && !this.store.holding) {
        this.local.delete(wish.name);
        this.refused = null;
      }
      this.show();
    }
    this.running = null;
    return good;
  }

  /** Why the option cannot have what is wished for, '' where it can. */
  async fault(values, option) {
    try {
      const found = await this.source.json("allowed.json", { option, look: { moves: this.store.movesWith(values) } });
      return found.fault;
    } catch (fault) {
      // Without the program nothing can be said against it; it is looked at when there is one again.
      return fault.message;
    }
  }

  apply({ name, what, step }, values) {
    const before = Object.fromEntries(Object.keys(values).map((key) => [key, this.store.changes[key] ?? null]));
    this.last = { values: before, what, step, name };
    this.accepted.set(name, { ...this.local.get(name) });
    this.setting = true;
    this.store.set(values, what, null, step);
    this.setting = false;
  }

  /** Take back what was set last: it makes no scene that can be drawn. */
  takeBack(words) {
    this.say(words);
    const { last } = this;
    this.last = null;
    if (!last) return;
    this.local.delete(last.name);
    this.store.set(last.values, last.what, null, last.step);
  }

  hold(thing) {
    this.accepted.clear();
    this.store.holding = { section: thing.section, name: thing.name };
    this.store.emit("holding");
  }

  /** A hand lets go: what could not be goes back to where it could, a figure comes to stand on a mark. */
  async letGo({ thing, what, step, moved }) {
    await this.running;
    if (moved && this.refused === thing.name) {
      const good = this.accepted.get(thing.name);
      if (good) this.local.set(thing.name, good);
      else this.local.delete(thing.name);
      this.refused = null;
    } else if (moved && what === "at" && thing.places) {
      const at = this.at(thing);
      const mark = thing.places.find((each) => Math.hypot(each.at[0] - at[0], each.at[1] - at[1]) < SNAP);
      if (mark) await this.toMark(thing, mark.name, step);
    }
    if (this.store.holding?.name === thing.name) {
      this.store.holding = null;
      this.store.emit("holding");
    }
    this.show();
    this.askSoon();
  }

  /** Fields of a thing, laid over what is changed of it already. */
  fieldsFor(thing, fields) {
    const key = this.keyOf(thing);
    if (thing.added) return { [key]: { ...this.store.changes[key], ...fields } };
    return { [key]: this.store.with(key, fields, thing.written) };
  }

  /** A figure that moves away from its mark takes along how it was there. */
  leaving(thing, fields) {
    return thing.mark ? { ...thing.carried, at: pointText(this.at(thing)), ...fields, mark: "none" } : fields;
  }

  move(thing, at, step = null) {
    this.local.set(thing.name, { ...this.local.get(thing.name), at });
    this.view.show();
    this.heights.show();
    return this.wish(thing.name, () => this.fieldsFor(thing, this.leaving(thing, { at: pointText(at) })), "moved", step);
  }

  aim(thing, point, step = null) {
    this.local.set(thing.name, { ...this.local.get(thing.name), point, text: "" });
    this.view.show();
    return this.wish(thing.name, () => this.fieldsFor(thing, { [thing.target.field]: pointText(point) }), "aimed", step);
  }

  aimAtThing(thing, text) {
    return this.wish(thing.name, () => this.fieldsFor(thing, { [thing.target.field]: text }), "aimed");
  }

  /** The next place that is pointed at on the plan is what the thing is aimed at. */
  aimAt([x, y]) {
    const thing = this.thing(this.chosen);
    this.aiming = false;
    if (thing?.target) this.aim(thing, [x, y, this.point(thing)?.[2] ?? 1.2]);
    this.show();
  }

  turn(thing, deg, step = null) {
    this.local.set(thing.name, { ...this.local.get(thing.name), deg });
    this.view.show();
    return this.wish(thing.name, () => this.fieldsFor(thing, this.leaving(thing, { [thing.angle.field]: angleText(deg) })), "turned", step);
  }

  /** Turn a thing by so much: what has an aim swings that about itself. */
  swing(thing, by) {
    if (thing.angle) {
      this.turn(thing, Math.round(this.turned(thing) + by));
      return;
    }
    const point = this.point(thing);
    if (!thing.target || !point) return;
    this.aim(thing, turnedAbout(point, this.at(thing), by).map((each) => roundedTo(each, 0.001)));
  }

  field(thing, name, value) {
    return this.wish(thing.name, () => this.fieldsFor(thing, { [name]: value }), name);
  }

  /** Put a figure on one of its marks, '' for none. */
  toMark(thing, name, step = null) {
    if (!name) return this.wish(thing.name, () => this.fieldsFor(thing, this.leaving(thing, {})), "mark", step);
    const key = this.keyOf(thing), kept = { ...this.store.changes[key] };
    for (const field of [...OF_MARKS, "mark"]) delete kept[field];
    if (thing.added || name !== thing.written.mark) kept.mark = name;
    return this.wish(thing.name, () => ({ [key]: Object.keys(kept).length ? kept : null }), "moved", step);
  }

  asWritten(thing) {
    return this.wish(thing.name, () => ({ [this.keyOf(thing)]: null }), "as written");
  }

  /** Take a thing out; what was aimed at it stays aimed at where it was. */
  takeOut(thing) {
    const { option } = this.store;
    const values = thing.added ? { [this.keyOf(thing)]: null, [lampKey(option, thing.name)]: null }
      : { [this.keyOf(thing)]: null, [removedKey(option, thing.section, thing.name)]: true };
    for (const other of this.data.things)
      if (other.target && other.target.point && other.target.text.split(".")[0] === thing.name)
        Object.assign(values, this.fieldsFor(other, { [other.target.field]: pointText(other.target.point) }));
    // A lamp's own level goes with one that was put in here; keys that are not there need not be taken.
    for (const key of Object.keys(values)) if (values[key] === null && !(key in this.store.changes)) delete values[key];
    return this.wish(thing.name, () => values, "taken out");
  }

  /** Put something in where there is room for it, from a place on. */
  async putIn(section, name, fields, place, aimField) {
    const { option } = this.store;
    for (const [dx, dy] of PLACES) {
      const at = [roundedTo(place[0] + 0.5 * dx, CENTIMETRE), roundedTo(place[1] + 0.5 * dy, CENTIMETRE), place[2]];
      const aim = aimField ? { [aimField]: this.firstTarget(at) } : {};
      const values = { [addedKey(option, section, name)]: { ...fields, ...aim, at: pointText(at) } };
      if (await this.wish(name, () => values, "put in")) {
        this.wanted = name;
        return;
      }
    }
  }

  /** What something new is pointed at: the first face, else the first piece, else ahead on the floor. */
  firstTarget(at) {
    const face = this.data.things.find((each) => each.section === "figures");
    if (face) return `${face.name}.face`;
    const piece = this.data.things.find((each) => each.section === "pieces");
    return piece ? piece.name : pointText([at[0], at[1] + 2, 0]);
  }
}

/** Steps of half a metre to where something new may stand. */
const PLACES = [[0, 0], [1, 0], [-1, 0], [0, 1], [0, -1], [2, 0], [-2, 0], [0, 2], [0, -2], [2, 2], [-2, -2], [2, -2], [-2, 2]];
