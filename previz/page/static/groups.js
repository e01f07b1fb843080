// The master and groups of lamps: several lamps in one hand, in stops, their ratios kept.

import { byId, fill, freshId, made, numberField, say } from "./dom.js";
import { FLOOR_STOPS, rounded, stopsOf, stopsText } from "./light.js";
import { groupKey, lampKey } from "./store.js";
import { slide } from "./touch.js";

/** What a group may be called: what anything in a scene may. */
const GROUP_NAME = /^\p{L}[\p{L}\p{N}_'-]*( [\p{L}\p{N}_'-]+)*$/u;

/** Nearer to its limit than this a lamp holds the others. [stops] */
const AT_LIMIT = 0.005;

/** Digits of a level that lamps in a group may have, so that their ratios come back from far down. */
const LEVEL_DIGITS = 9;

/** Stops that a lamp has left before it gives its most; 0 at its limit, negative under it. */
function underLimit(lamp) {
  return stopsOf(lamp.level) - Math.log2(lamp.most);
}

/** Lamps of a list that move: those that are on and not out. */
export function movingLamps(store, names) {
  return names.map((name) => store.lamp(name)).filter((lamp) => lamp.on && lamp.level > 0);
}

/**
 * How far several lamps stand under the first of their limits. [stops]
 * 0 where one of them can give no more; null where none is lit.
 */
export function standOf(lamps) {
  return lamps.length ? Math.min(0, Math.max(...lamps.map(underLimit))) : null;
}

/** Levels of lamps moved together so that the one nearest its limit stands so many stops under it. */
export function movedLevels(lamps, stand) {
  const by = Math.min(0, Math.max(FLOOR_STOPS, stand)) - standOf(lamps);
  return new Map(lamps.map((lamp) =>
    [lamp.name, Math.min(lamp.most, rounded(lamp.level * 2 ** by, LEVEL_DIGITS))]));
}

export class GroupPanel {
  /** `find` asks for a lamp by its name. */
  constructor(store, find) {
    this.store = store;
    this.find = find;
    this.box = byId("lamp-groups");
    this.key = "";
  }

  show() {
    const { store } = this, lamps = store.lamps.filter((each) => each.sort === "lamp").map((each) => each.name);
    const groups = [...store.groups];
    const key = JSON.stringify([store.option, lamps, groups]);
    if (key !== this.key) {
      this.key = key;
      const add = [made("button", { type: "button", class: "quiet", title: "Go to a lamp by its name (/)",
        onclick: this.find }, "Find"), made("button", { type: "button", class: "quiet", title: "Lamps that move together",
        onclick: () => this.edit() }, "New group")];
      this.rows = [new GroupRow(store, "Master", () => lamps, add), ...groups.map(([name, names]) =>
        new GroupRow(store, name, () => names, made("button", { type: "button", class: "quiet",
          "aria-label": `Change group ${name}`, onclick: () => this.edit(name) }, "Change"), true))];
      this.box.replaceChildren(...this.rows.map((each) => each.element));
      this.box.hidden = !lamps.length;
    }
    for (const row of this.rows) row.show();
  }

  /** Put the hand on the master. */
  focus() {
    this.rows?.[0].level.focus();
  }

  /** Ask which lamps make a group, new or changed. */
  edit(name = "") {
    const { store } = this, box = byId("grouping"), id = freshId("group");
    const now = new Set(store.groups.get(name));
    const field = made("input", { id, type: "text", class: "wide", maxlength: "40", autocomplete: "off", value: name });
    const boxes = store.lamps.map((lamp) => [lamp.name, made("input", { type: "checkbox", checked: now.has(lamp.name) })]);
    const status = made("p", { class: "fault", role: "alert" });
    const keep = (event) => {
      event.preventDefault();
      const called = field.value.trim(), lamps = boxes.filter(([, each]) => each.checked).map(([lamp]) => lamp);
      const wrong = !called ? "Give it a name." : !GROUP_NAME.test(called)
        ? "A name begins with a letter and has letters, figures, single spaces and - _ ' in it." : called !== name && store.groups.has(called)
        ? `There is a group '${called}' already.` : lamps.length < 2 ? "Take two lamps or more." : "";
      say(status, wrong);
      if (wrong) return;
      box.close();
      store.set({ ...(name ? { [groupKey(store.option, name)]: null } : {}),
        [groupKey(store.option, called)]: lamps }, `group ${performance.now()}`);
    };
    const drop = made("button", { type: "button", hidden: !name, onclick: () => {
      box.close();
      store.set({ [groupKey(store.option, name)]: null }, `group ${performance.now()}`);
    } }, "Take the group apart");
    box.setAttribute("aria-label", "Group of lamps");
    box.replaceChildren(made("form", { onsubmit: keep }, made("h2", {}, name ? `Group ${name}` : "New group"),
      made("label", { class: "labelled", for: id }, "Name", field),
      made("div", { class: "keeping" }, boxes.map(([lamp, each]) => made("label", { class: "check" }, each, lamp))),
      status, made("div", { class: "row" }, made("button", { class: "main" }, "Keep"), drop,
        made("button", { type: "button", onclick: () => box.close() }, "Cancel"))));
    box.showModal();
    field.focus();
  }
}

class GroupRow {
  constructor(store, name, lamps, buttons, switched = false) {
    this.store = store;
    this.name = name;
    this.lamps = lamps;
    const label = name === "Master" ? "Master, all lamps" : `Group ${name}`;
    this.level = made("input", { type: "range", min: String(FLOOR_STOPS), max: "0", step: "0.1", class: "level",
      "aria-label": label, style: `--steps: ${-FLOOR_STOPS}`, oninput: () => this.move(Number(this.level.value)) });
    this.level.addEventListener("keydown", (event) => {
      const sign = { PageUp: 1, PageDown: -1 }[event.key];
      if (!sign) return;
      event.preventDefault();
      const stand = standOf(this.moving);
      if (stand !== null) this.move(stand + sign);
    });
    this.stops = numberField("stops", { low: FLOOR_STOPS, high: 0, step: 0.1, take: (value) => this.move(value) });
    this.stops.element.querySelector("label").className = "unseen";
    this.stops.field.setAttribute("aria-label", `${label}, stops under the first lamp's limit`);
    this.lit = !switched ? null : made("button", { type: "button", class: "toggle", onclick: () => this.toggle() }, "On");
    this.lit?.setAttribute("aria-label", `${label} on`);
    this.held = made("p", { class: "note" });
    this.element = made("div", { class: "group-row", role: "group", "aria-label": label,
      title: "Lamps that are on move together in stops; their ratios stay. 0.0 is where the first of them can give no more." },
    made("div", { class: "line" }, made("span", { class: "name" }, name), this.lit, buttons),
    made("div", { class: "line" }, slide(this.level), this.stops.element,
      made("span", { class: "unit", "aria-hidden": "true" }, "stops")), this.held);
  }

  get moving() {
    const known = new Set(this.store.lamps.map((each) => each.name));
    return movingLamps(this.store, this.lamps().filter((name) => known.has(name)));
  }

  move(stand) {
    const { store, moving } = this;
    if (!moving.length) return;
    this.set(movedLevels(moving, stand), "level");
  }

  toggle() {
    const on = !this.lamps().some((name) => this.store.lamp(name).on);
    this.set(new Map(this.lamps().map((name) => [name, on])), "on");
  }

  /** Give each lamp a value of one field, as one step. */
  set(values, field) {
    const { store } = this;
    store.set(Object.fromEntries([...values].map(([name, value]) => {
      const key = lampKey(store.option, name);
      return [key, store.with(key, { [field]: value }, store.lamps.find((each) => each.name === name))];
    })), `${field} of ${this.name}`);
  }

  show() {
    const { moving } = this, stand = standOf(moving);
    this.level.disabled = this.stops.field.disabled = stand === null;
    const at = stand ?? FLOOR_STOPS;
    this.level.value = String(Math.max(FLOOR_STOPS, rounded(at, 1)));
    this.level.style.setProperty("--at", String(Math.max(0, 1 - at / FLOOR_STOPS)));
    fill(this.stops.field, stand === null ? "out" : stopsText(stand));
    const full = moving.filter((lamp) => underLimit(lamp) > -AT_LIMIT).map((lamp) => lamp.name);
    const low = moving.filter((lamp) => stopsOf(lamp.level) < FLOOR_STOPS).map((lamp) => lamp.name);
    const words = [stand === null ? "None of them is lit." : "",
      full.length ? `${namesText(full)} at full: none can rise without another ratio.` : "",
      low.length ? `${namesText(low)} under ${stopsText(FLOOR_STOPS)} stops, as good as out.` : ""].filter(Boolean).join(" ");
    say(this.held, words);
    this.level.setAttribute("aria-valuetext", stand === null ? "none lit" : `${stopsText(stand)} stops. ${words}`);
    if (this.lit) this.lit.setAttribute("aria-pressed", String(this.lamps().some((name) => this.store.lamp(name).on)));
  }
}

/** 'key', 'key and fill', 'key, fill and 3 more'. */
function namesText(names) {
  if (names.length > 3) return `${names.slice(0, 2).join(", ")} and ${names.length - 2} more`;
  return names.length < 2 ? names.join("") : `${names.slice(0, -1).join(", ")} and ${names.at(-1)}`;
}
