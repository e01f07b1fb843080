// What differs from the scene file: counted, listed, and put back one by one or all at once.

import { byId, made } from "./dom.js";
import { signed, stopsOf, stopsText } from "./light.js";
import { placeKey } from "./store.js";

function percent(level) {
  return level > 0 ? `${+(100 * level).toPrecision(3)} %, ${stopsText(stopsOf(level))} stops` : "out";
}

function gelText(sheets) {
  return sheets.map((each) => (typeof each === "string" ? each : each.label ?? "its own sheet")).join(" + ") || "no gel";
}

/** Each field that can differ: what it is called, and how its values are written. */
const FIELDS = {
  level: ["level", percent], on: ["", (on) => (on ? "on" : "off")], cct: ["", (cct) => `${Math.round(cct)} K`],
  duv: ["tint", (duv) => `${signed(duv)} Duv`], gel: ["", gelText],
  stop: ["stop", (stop) => `T${+stop.toFixed(2)}`], iso: ["ISO", String], shutter: ["shutter", (shutter) => `${+shutter.toFixed(2)}°`],
  nd: ["ND", String], white_balance: ["white balance", (kelvin) => `${Math.round(kelvin)} K`],
  green: ["green", (duv) => `${signed(duv)} Duv`],
};

const FIELD_WORDS = { at: "moved", aim: "aimed", facing: "turned", turn: "turned", mark: "on another mark" };

/** What is done to a thing of the plan, of fields of the scene file: 'moved, aimed'. */
export function fieldWords(fields) {
  return [...new Set(Object.keys(fields).map((name) => FIELD_WORDS[name] ?? `${name.replace("_", " ")} changed`))].join(", ");
}

/** A field as 'level 50 %' or '3200 K'. */
export function fieldText(field, value) {
  const [name, text] = FIELDS[field] ?? [field, String];
  return [name, text(value)].filter(Boolean).join(" ");
}

/**
 * Everything in which an option differs from the scene file.
 *
 * Each is { key, field, of, what, text }: the key of the change and the field of it, '' for the whole; whose it is
 * ("key", "camera A"), what sort of thing ("lamp", "camera", "place", "added", "removed", "wants", "gone"), and
 * what differs in words.
 */
export function differencesOf(store, option = store.option) {
  const written = store.optionOf(option), found = [];
  if (!written) return found;
  const sorts = { lamp: written.lamps, camera: written.cameras };
  for (const [key, value] of Object.entries(store.changes)) {
    const [of, what, ...rest] = key.split("|");
    if (of !== option || value === null) continue;
    if (what in sorts) {
      const name = rest.join("|"), each = sorts[what].find((one) => one.name === name);
      const whose = what === "camera" ? `camera ${name}` : name;
      if (!each) found.push({ key, field: "", of: whose, what: "gone", text: "is in the scene no more" });
      else for (const [field, now] of Object.entries(value))
        found.push({ key, field, of: whose, what,
          text: `${fieldText(field, now)}, written ${fieldText(field, each[field])}` });
    } else if (what === "place") {
      found.push({ key, field: "", of: rest.slice(1).join("|"), what, text: fieldWords(value) });
    } else if (what === "added") found.push({ key, field: "", of: rest.slice(1).join("|"), what, text: "put in" });
    else if (what === "removed") found.push({ key, field: "", of: rest.slice(1).join("|"), what, text: "taken out" });
    else if (what === "wants") value.forEach((line) => found.push({ key, field: line, of: "wanted", what, text: line }));
  }
  return found;
}

/** What a change is once one difference is put back; null for nothing left of it. */
function without(store, { key, field, what }) {
  const value = store.changes[key];
  if (value === undefined || field === "") return null;
  if (what === "wants") {
    const lines = value.filter((line) => line !== field);
    return lines.length ? lines : null;
  }
  const { [field]: gone, ...rest } = value;
  return Object.keys(rest).length ? rest : null;
}

/** Put some differences back as the scene file has them, as one step that can be undone. */
export function putBack(store, differences) {
  const values = {}, laid = { changes: { ...store.changes } };
  for (const each of differences) {
    laid.changes[each.key] = values[each.key] = without(laid, each);
    if (values[each.key] === null) delete laid.changes[each.key];
  }
  // What is taken out again must not leave its place behind.
  for (const each of differences.filter((one) => one.what === "added")) {
    const [option, , section, ...name] = each.key.split("|");
    const key = placeKey(option, section, name.join("|"));
    if (key in store.changes) values[key] = null;
  }
  if (Object.keys(values).length) store.set(values, `put back ${performance.now()}`);
}

/** '5 changes', '1 change', 'As written'. */
export function countText(count) {
  return count ? `${count} ${count === 1 ? "change" : "changes"}` : "As written";
}

/** The list of what differs, as a question that stays up to date while it is open. */
export class DifferList {
  constructor(store) {
    this.store = store;
    this.box = byId("differs");
    this.box.setAttribute("aria-label", "What differs from the scene file");
    this.list = made("ul", { class: "differ-list" });
    this.others = made("p", { class: "note" });
    this.all = made("button", { type: "button", onclick: () => putBack(store, differencesOf(store)) }, "All as written");
    this.undo = made("button", { type: "button", onclick: () => store.undo() }, "Undo");
    this.box.replaceChildren(made("h2", {}, `What differs from ${store.scene.file}`), this.list, this.others,
      made("form", { method: "dialog", class: "row" }, made("button", { class: "main" }, "Close"), this.all, this.undo));
  }

  open() {
    this.key = "";
    this.box.showModal();
    this.show();
  }

  show() {
    if (!this.box.open) return;
    const { store } = this, found = differencesOf(store);
    this.undo.disabled = !store.done.length;
    this.all.disabled = !found.length;
    const key = JSON.stringify([store.option, found]);
    if (key === this.key) return;
    this.key = key;
    const held = this.box.contains(document.activeElement) && document.activeElement.dataset.row;
    this.list.replaceChildren(...found.map((each, i) => made("li", { class: "line" },
      made("span", { class: "differ-what" }, made("strong", {}, each.of), ` ${each.text}`),
      made("button", { type: "button", class: "quiet", "data-row": String(i),
        "aria-label": `Put back ${each.of}: ${each.text}`, onclick: () => putBack(store, [each]) }, "Put back"))));
    if (!found.length) this.list.replaceChildren(made("li", {}, "Nothing: this option is as it is written."));
    // The hand stays where it was in the list.
    if (held !== false && held !== undefined)
      (this.list.querySelectorAll("button")[Math.min(Number(held), found.length - 1)] ?? this.all).focus();
    const others = store.scene.options.filter((each) => each.name !== store.option)
      .map((each) => [each.name || "as written", differencesOf(store, each.name).length]).filter(([, count]) => count);
    this.others.textContent = others.map(([name, count]) => `Option ${name}: ${countText(count)}.`).join(" ");
  }
}
