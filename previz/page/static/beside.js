// Panels beside the picture: what lies below it is brought next to it, one at a time.

import { byId, made } from "./dom.js";

/** The panels, in the order in which they lie below the picture, and how wide they are beside it. */
const PANELS = [["plan", "Plan", "32rem"], ["wants", "Wanted", "26rem"], ["camera", "Camera", "19rem"],
  ["faces", "Meters", "30rem"], ["spot", "Spots", "32rem"], ["wave", "Waveform", "24rem"], ["walk", "Walk", "34rem"]];

export class Beside {
  constructor() {
    this.box = byId("beside");
    this.now = null;
    this.wide = matchMedia("(min-width: 1121px)");
    this.buttons = new Map(PANELS.map(([id, text]) => [id, made("button", { type: "button", class: "toggle",
      "aria-pressed": "false", "aria-controls": id, onclick: () => this.toggle(id) }, text)]));
    byId("panels").replaceChildren(...this.buttons.values());
    this.wide.addEventListener("change", () => this.put(null));
    this.show();
  }

  /** Only panels that are there can be asked for. */
  show() {
    for (const [id] of PANELS) this.buttons.get(id).hidden = byId(id).hidden;
    for (const [id, button] of this.buttons) {
      button.setAttribute("aria-pressed", String(id === this.now));
      button.title = !this.wide.matches ? "Go to it, under the picture" : id === this.now
        ? "Back under the picture, which gets larger" : "Beside the picture, which gets smaller";
    }
    if (this.now && byId(this.now).hidden) this.put(null);
  }

  /** Bring a panel beside the picture, or back; where there is no room beside it, go to it. */
  toggle(id) {
    if (this.wide.matches) {
      this.put(id === this.now ? null : id);
      return;
    }
    byId(id).tabIndex = -1;
    byId(id).focus({ preventScroll: true });
    byId(id).scrollIntoView({ block: "start" });
  }

  /** The next panel beside the picture, after the last none. */
  next() {
    const there = PANELS.map(([id]) => id).filter((id) => !byId(id).hidden);
    this.toggle(this.wide.matches ? there[there.indexOf(this.now) + 1] ?? this.now : there[0]);
  }

  put(id) {
    if (id === this.now) return;
    const bench = byId("bench");
    for (const section of [...this.box.children]) {
      const after = PANELS.slice(PANELS.findIndex(([each]) => each === section.id) + 1)
        .map(([each]) => byId(each)).find((each) => each.parentElement === bench);
      bench.insertBefore(section, after ?? null);
    }
    this.now = id;
    this.box.hidden = !id;
    if (id) {
      this.box.style.setProperty("--wide", PANELS.find(([each]) => each === id)[2]);
      this.box.append(byId(id));
    }
    this.show();
  }
}
