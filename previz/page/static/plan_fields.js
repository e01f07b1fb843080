// Beside the plan: the thing that is chosen in figures, what can be put in, and what is moved.

import { fieldWords } from "./differs.js";
import { fill, freshId, made, numberField, say } from "./dom.js";
import { rounded } from "./light.js";
import { fieldValue, freeName } from "./plan_values.js";

const FARTHEST_M = 10000;

/** The thing that is chosen: place, aim, turn, and what else there is of it. */
export class ChosenThing {
  constructor(panel) {
    this.panel = panel;
    this.element = made("div", { class: "chosen-thing" });
    this.built = null;
  }

  get thing() {
    return this.panel.thing(this.panel.chosen);
  }

  show() {
    const { thing } = this;
    const key = thing && JSON.stringify([thing.name, thing.section, thing.fixed, thing.added, thing.fields.map((each) => each.name),
      Boolean(thing.target), thing.angle?.field, thing.places?.length, this.panel.data.targets]);
    if (key !== this.built || !thing) this.build(thing);
    this.built = key;
    if (thing) this.fill(thing);
  }

  build(thing) {
    if (!thing) {
      const hint = "Choose something on the plan to move it, or put something in.";
      if (this.element.textContent !== hint) this.element.replaceChildren(made("p", { class: "note" }, hint));
      return;
    }
    const { panel } = this, now = () => this.thing;
    const button = (text, act, more = {}) => made("button", { type: "button", onclick: act, ...more }, text);
    this.state = made("span", { class: "word" });
    const parts = [made("h3", {}, thing.tag ? made("span", { class: "count" }, thing.tag) : null, thing.name), this.state];
    this.place = this.aimed = this.point = this.turn = this.mark = this.hand = null;
    if (thing.fixed) parts.push(made("p", { class: "note" }, thing.fixed));
    else {
      this.place = this.lengths(["East", "North", "Height"], (axis, value) => {
        const at = [...panel.at(now())];
        at[axis] = value;
        panel.move(now(), at);
      });
      parts.push(made("div", { class: "fields" }, this.place.map((each) => each.element)));
    }
    if (thing.target) parts.push(...this.aiming(thing));
    if (thing.angle) {
      this.turn = numberField(thing.angle.field === "facing" ? "Faces" : "Turned", { low: -360, high: 360, step: 5, unit: "°",
        take: (value) => panel.turn(now(), value) });
      parts.push(made("div", { class: "fields" }, this.turn.element));
    }
    if (thing.places?.length) {
      this.mark = this.select("On the mark", [["", "none"], ...thing.places.map((each) => [each.name, each.name])],
        (value) => panel.toMark(now(), value));
      parts.push(this.mark.element);
    }
    this.more = thing.fields.map((field) => this.text(field));
    if (this.more.length) parts.push(made("div", { class: "fields" }, this.more.map((each) => each.element)));
    this.written = button("As written", () => panel.asWritten(now()), { class: "quiet" });
    this.out = button("Take out", () => panel.takeOut(now()), { class: "quiet" });
    parts.push(made("div", { class: "row" }, this.written, this.out));
    this.element.replaceChildren(...parts);
  }

  lengths(labels, take) {
    return labels.map((label, axis) => numberField(label, { low: -FARTHEST_M, high: FARTHEST_M, step: 0.1, unit: "m",
      take: (value) => take(axis, rounded(value, 4)) }));
  }

  select(label, options, take) {
    const id = freshId("choice"), field = made("select", { id, onchange: () => take(field.value) },
      options.map(([value, text]) => made("option", { value }, text)));
    return { field, element: made("span", { class: "labelled" }, made("label", { for: id }, label), field) };
  }

  aiming(thing) {
    const { panel } = this, now = () => this.thing, word = thing.target.field === "aim" ? "Aimed at" : "Faces";
    const id = freshId("choice"), field = made("select", { id, onchange: () => {
      // A point is what it is aimed at now, until that is moved.
      if (field.value === "[]") panel.aim(now(), panel.point(now()) ?? [...panel.at(now()).slice(0, 2), 0]);
      else panel.aimAtThing(now(), field.value);
    } });
    field.append(made("option", { value: "[]" }, "a point"));
    if (thing.target.optional) field.append(made("option", { value: "none" }, "nothing"));
    for (const { label, names } of panel.data.targets) {
      const group = made("optgroup", { label });
      group.append(...names.filter((name) => name !== thing.name).map((value) => made("option", { value }, value)));
      field.append(group);
    }
    this.aimed = { field };
    this.point = this.lengths(["East", "North", "Height"], (axis, value) => {
      const point = [...panel.point(now())];
      point[axis] = value;
      panel.aim(now(), point);
    });
    this.point.forEach(({ field: number }, axis) =>
      number.setAttribute("aria-label", `${word}: ${["east", "north", "height"][axis]}`));
    this.hand = made("button", { type: "button", class: "toggle", onclick: () => {
      panel.aiming = !panel.aiming;
      panel.show();
    } }, "Aim by hand");
    this.pointRow = made("div", { class: "fields" }, this.point.map((each) => each.element));
    return [made("div", { class: "row" }, made("span", { class: "labelled" }, made("label", { for: id }, word), field), this.hand), this.pointRow];
  }

  /** A field as a scene file has it. */
  text({ name, label, choices, optional, help, text }) {
    const id = freshId("field"), take = async () => {
      if (!await this.panel.field(this.thing, name, fieldValue(field.value))) this.show();
    };
    const field = choices.length
      ? made("select", { id, onchange: take }, [...(optional ? ["none"] : []), ...choices].map((value) => made("option", { value }, value)))
      : made("input", { id, type: "text", class: "as-text", autocomplete: "off", spellcheck: "false", title: help, value: text, onchange: take });
    field.addEventListener("keydown", (event) => {
      if (event.key === "Enter") field.blur();
    });
    return { name, field, element: made("span", { class: "labelled" }, made("label", { for: id }, label), field) };
  }

  fill(thing) {
    const { panel } = this, metres = (value) => Number(value.toFixed(3));
    say(this.state, [thing.kind || thing.noun, thing.added ? "put in" : panel.isMoved(thing) ? "moved" : "as written"].join(" · "));
    this.place?.forEach(({ field }, axis) => fill(field, metres(panel.at(thing)[axis])));
    if (this.aimed) {
      const text = panel.text(thing), point = panel.point(thing);
      this.choose(this.aimed.field, text || (point ? "[]" : "none"));
      this.pointRow.hidden = !point || Boolean(text);
      if (point) this.point.forEach(({ field }, axis) => fill(field, metres(point[axis])));
      this.hand.setAttribute("aria-pressed", String(panel.aiming));
    }
    if (this.turn) fill(this.turn.field, Number(panel.turned(thing).toFixed(1)));
    if (this.mark) this.mark.field.value = thing.mark ?? "";
    for (const each of this.more) {
      const { text } = thing.fields.find((field) => field.name === each.name);
      if (each.field instanceof HTMLSelectElement) each.field.value = text;
      else fill(each.field, text);
    }
    this.written.hidden = thing.added || !panel.isMoved(thing);
    const last = thing.section === "cameras" && panel.data.things.filter((each) => each.section === "cameras").length < 2;
    this.out.hidden = last;
  }

  /** Set a choice to what may be none of those that are offered. */
  choose(field, value) {
    if (![...field.options].some((each) => each.value === value)) field.append(made("option", { value }, value));
    field.value = value;
  }
}

/** Something new: its kind and the least that it needs. */
export class PutIn {
  constructor(panel) {
    this.panel = panel;
    const id = freshId("choice");
    this.kind = made("select", { id, onchange: () => this.build() });
    this.inputs = made("div", { class: "fields" });
    this.usual = made("p", { class: "note" });
    this.element = made("details", { class: "how put-in" }, made("summary", {}, "Put in"),
      made("span", { class: "labelled" }, made("label", { for: id }, "What"), this.kind), this.inputs, this.usual,
      made("button", { type: "button", onclick: () => this.put() }, "Put it in"));
  }

  show() {
    const { kinds } = this.panel.data;
    if (this.kind.options.length === kinds.length) return;
    const group = (label, list) => {
      const element = made("optgroup", { label });
      element.append(...list.map((each) => made("option", { value: String(kinds.indexOf(each)) }, each.word)));
      return element;
    };
    this.kind.replaceChildren(group("Lamps", kinds.filter((each) => each.section === "lights")),
      group("In the light", kinds.filter((each) => !["lights", "pieces"].includes(each.section))),
      group("Furniture", kinds.filter((each) => each.section === "pieces")));
    this.kind.value = String(kinds.findIndex((each) => each.word === "fresnel"));
    this.build();
  }

  get chosen() {
    return this.panel.data.kinds[Number(this.kind.value)];
  }

  build() {
    const { fields, aim, usual } = this.chosen;
    this.texts = Object.entries(fields).filter(([name]) => name !== "kind" && name !== aim).map(([name, value]) => {
      const id = freshId("new"), text = Array.isArray(value) ? `[${value.join(", ")}]` : value;
      const field = made("input", { id, type: "text", class: "as-text", autocomplete: "off", spellcheck: "false", value: text });
      const label = name[0].toUpperCase() + name.slice(1);
      return { name, field, element: made("span", { class: "labelled" }, made("label", { for: id }, label), field) };
    });
    this.inputs.replaceChildren(...this.texts.map((each) => each.element));
    say(this.usual, usual);
  }

  put() {
    const { panel } = this, { section, kind, word, aim, height } = this.chosen, { data } = panel;
    const taken = new Set([...data.things.map((each) => each.name), ...data.ghosts.map((each) => each.name),
      ...data.targets.flatMap((each) => each.names), ...(panel.store.moves.remove ?? [])]);
    const fields = Object.fromEntries(this.texts.map(({ name, field }) => [name, fieldValue(field.value)]));
    // In the middle of what is looked at.
    panel.putIn(section, freeName(word, taken), kind ? { kind, ...fields } : fields, [...panel.view.middle, height], aim);
  }
}

/** What is moved, put in and taken out of the option. */
export class MovedList {
  constructor(panel) {
    this.panel = panel;
    this.items = made("ul", { class: "moved-items" });
    this.summary = made("summary", {}, "Moved: 0");
    this.all = made("button", { type: "button", class: "quiet", onclick: () => this.allBack() }, "All of it as written");
    this.element = made("details", { class: "how moved-list" }, this.summary, this.items, this.all);
  }

  get entries() {
    const { option, changes } = this.panel.store;
    return Object.entries(changes).flatMap(([key, value]) => {
      const [of, what, section, name] = key.split("|");
      return of === option && ["place", "added", "removed"].includes(what) ? [{ key, what, section, name, value }] : [];
    });
  }

  show() {
    const { entries } = this;
    this.element.hidden = !entries.length;
    say(this.summary, `Moved: ${entries.length}`);
    const key = JSON.stringify(entries);
    if (key === this.shown) return;
    this.shown = key;
    this.items.replaceChildren(...entries.map((entry) => this.item(entry)));
  }

  item({ key, what, name, value }) {
    const { panel } = this;
    const words = { added: "put in", removed: "taken out" }[what] ?? fieldWords(value);
    const back = { added: "Take out", removed: "Put back" }[what] ?? "As written";
    return made("li", {}, made("button", { type: "button", class: "quiet name", onclick: () => panel.choose(name),
      disabled: what === "removed" }, name), made("span", { class: "word" }, words),
    made("button", { type: "button", class: "quiet", "aria-label": `${back}: ${name}`, onclick: () => {
      const thing = panel.thing(name);
      if (what === "added" && thing) panel.takeOut(thing);
      else panel.wish(name, () => ({ [key]: null }), "as written");
    } }, back));
  }

  allBack() {
    const values = Object.fromEntries(this.entries.map(({ key }) => [key, null]));
    this.panel.wish("", () => values, "as written");
  }
}
