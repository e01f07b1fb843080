// The keyboard: one letter for each thing that a hand would otherwise go to the mouse for.

import { byId, made } from "./dom.js";

const KEPT = "previz single keys";

export class Keys {
  /** `acts` is a list of [key, what it does, function]; keys are as `KeyboardEvent.key`. */
  constructor(acts) {
    this.acts = acts;
    this.on = remembered() !== "off";
    document.addEventListener("keydown", (event) => this.heard(event));
    this.build();
  }

  heard(event) {
    if (event.defaultPrevented || document.querySelector("dialog[open]")) return;
    const mod = event.ctrlKey || event.metaKey;
    if (mod && !event.altKey && event.key.toLowerCase() === "z") {
      if (writing(event.target)) return;
      event.preventDefault();
      this.do(event.shiftKey ? "Shift+Ctrl+Z" : "Ctrl+Z");
      return;
    }
    if (mod || event.altKey || !this.on || writing(event.target)) return;
    const act = this.acts.find(([key]) => key === event.key.toLowerCase() || key === event.key
      || (key === "1 – 99" && /^[0-9]$/.test(event.key)));
    if (!act) return;
    event.preventDefault();
    act[2](event);
  }

  do(key) {
    this.acts.find(([each]) => each === key)?.[2]();
  }

  build() {
    const row = ([key, what]) => made("tr", {},
      made("th", { scope: "row" }, made("kbd", {}, key)), made("td", {}, what));
    const always = [["Tab", "Go to the next field or button"],
      ["↑ ↓ ← →", "On a level: a tenth of a stop. On the picture: move the spot meter; on a held spot: move it"],
      ["Enter", "On the picture: hold the spot. On a held spot: give it a name"],
      ["Delete", "On a held spot: let it go"],
      ["Page up, page down", "On a level: a whole stop"],
      ["Home, end", "On a level: out, full"],
      ["↑ ↓ ← →, page up, page down", "On a thing of the plan: move it by 10 cm, with Shift by 1 cm; raise and lower it"],
      [", and .", "On a thing of the plan: turn it, or swing its aim, by 5°"],
      ["Enter, Delete", "On a thing of the plan: go to its figures; take it out"],
      ["Escape", "Leave the full screen, or close what asks"]];
    const rows = [...this.acts, ...always].map(row);
    const single = made("input", { type: "checkbox", checked: this.on, onchange: () => {
      this.on = single.checked;
      remember(this.on ? "on" : "off");
    } });
    byId("help").setAttribute("aria-label", "Keys");
    byId("help").replaceChildren(made("h2", {}, "Keys"), made("table", { class: "keys" }, made("tbody", {}, rows)),
      made("label", { class: "check" }, single, "Single letters and figures act as keys"),
      made("form", { method: "dialog" }, made("button", { class: "main" }, "Close")));
  }

  help() {
    byId("help").showModal();
  }
}

function writing(target) {
  return target instanceof HTMLInputElement && target.type !== "range" && target.type !== "checkbox"
    || target instanceof HTMLSelectElement || target instanceof HTMLTextAreaElement;
}

function remembered() {
  try {
    return localStorage.getItem(KEPT);
  } catch {
    return null;
  }
}

function remember(value) {
  try {
    localStorage.setItem(KEPT, value);
  } catch {
    // A page opened from a file may not keep anything; it is on again next time.
  }
}
