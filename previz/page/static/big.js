// Full screen: the picture alone, with levels and readings over it that fade while nothing is touched.

import { byId, made, say } from "./dom.js";
import { movedLevels, movingLamps, standOf } from "./groups.js";
import { FLOOR_STOPS, levelOf, rounded, stopsOf, stopsText } from "./light.js";
import { readingLines } from "./overlay_readings.js";
import { lampKey } from "./store.js";
import { slide } from "./touch.js";

/** Without a pointer or a key for so long, what lies over the picture fades. [ms] */
const FADE_MS = 4000;

export class Big {
  constructor(page) {
    this.page = page;
    this.on = false;
    this.fadeMs = FADE_MS;
    this.key = "";
    this.readings = made("ul", { class: "over-readings", "aria-label": "Readings" });
    this.levels = made("ol", { class: "over-levels", "aria-label": "Levels" });
    this.caution = made("p", { class: "over-caution", hidden: true });
    this.leave = made("button", { type: "button", title: "Leave the full screen (F, Escape)", onclick: () => this.end() },
      "Leave");
    byId("over").replaceChildren(made("div", { class: "over-top fading" }, this.readings, this.leave),
      made("div", { class: "over-foot" }, made("div", { class: "fading" }, this.levels), this.caution));
    for (const kind of ["pointermove", "pointerdown", "keydown", "wheel", "focusin"])
      addEventListener(kind, () => this.wake(), { capture: true, passive: true });
    document.addEventListener("fullscreenchange", () => {
      if (!document.fullscreenElement && this.whole) this.end();
    });
    document.addEventListener("keydown", (event) => {
      if (event.key !== "Escape" || !this.on || event.defaultPrevented || document.querySelector("dialog[open]")) return;
      event.preventDefault();
      this.end();
    });
  }

  toggle() {
    if (this.on) this.end();
    else this.begin();
  }

  async begin() {
    const held = this.page.lamps.held;
    this.from = document.activeElement;
    this.on = true;
    document.documentElement.classList.add("big");
    byId("over").hidden = false;
    this.show();
    this.showReadings();
    this.wake();
    if (held) this.row(held)?.level.focus();
    this.page.table.touch();
    try {
      await document.documentElement.requestFullscreen?.({ navigationUI: "hide" });
      this.whole = Boolean(document.fullscreenElement);
    } catch {
      // Where the browser gives no screen, the whole window does.
      this.whole = false;
    }
    if (!this.on && document.fullscreenElement) document.exitFullscreen();
  }

  end() {
    if (!this.on) return;
    const { held } = this.page.lamps;
    this.on = this.whole = false;
    clearTimeout(this.timer);
    document.documentElement.classList.remove("big", "idle");
    byId("over").hidden = true;
    if (document.fullscreenElement) document.exitFullscreen();
    if (held) this.page.lamps.rows.get(held)?.level.focus();
    else if (this.from?.isConnected) this.from.focus();
    this.page.table.touch();
  }

  /** Something was touched: what lies over the picture comes back, and fades again later. */
  wake() {
    if (!this.on) return;
    document.documentElement.classList.remove("idle");
    clearTimeout(this.timer);
    this.timer = setTimeout(() => {
      if (document.querySelector("dialog[open]")) this.wake();
      else document.documentElement.classList.add("idle");
    }, this.fadeMs);
  }

  row(name) {
    return this.rows?.find((each) => each.name === name);
  }

  /** Put the hand on a lamp's level by its number; 0 is the master. */
  focus(number) {
    const row = number ? this.row(this.page.store.lamps[number - 1]?.name) : this.rows?.[0];
    row?.level.focus();
  }

  show() {
    if (!this.on) return;
    const { store } = this.page, names = store.lamps.map((each) => each.name);
    const key = JSON.stringify([store.option, names]);
    if (key !== this.key) {
      this.key = key;
      this.rows = [new OverMaster(store), ...store.lamps.map((lamp, i) => new OverLamp(store, lamp, i + 1))];
      this.levels.replaceChildren(...this.rows.map((each) => each.element));
    }
    for (const row of this.rows) row.show();
  }

  showReadings() {
    if (!this.on) return;
    const lines = readingLines(this.page);
    this.readings.hidden = !lines.length;
    if (JSON.stringify(lines) === this.lines) return;
    this.lines = JSON.stringify(lines);
    this.readings.replaceChildren(...lines.map((line) => made("li", { class: line.behind ? "behind" : "" },
      made("span", { class: "name" }, line.label),
      [0, 1].map((i) => made("span", { class: "value" }, line.numbers[i] ?? "")))));
  }

  /** Cautions stay on the screen, the most urgent first, as at the foot of the page. */
  showCautions(line) {
    say(this.caution, line && `Cautions: ${line}`);
    this.caution.hidden = !line;
  }
}

class OverLamp {
  constructor(store, lamp, number) {
    this.store = store;
    this.name = lamp.name;
    this.top = Math.log2(lamp.most);
    const set = (stops) => store.changeLamp(lamp.name, { level: levelOf(Math.min(this.top, Math.max(FLOOR_STOPS, stops))) });
    this.level = overLevel(`${lamp.name}, level`, this.top, set,
      () => Math.max(FLOOR_STOPS, stopsOf(store.lamp(lamp.name).level)));
    this.value = made("span", { class: "figure" });
    this.element = made("li", { "data-lamp": lamp.name },
      made("span", { class: "name", title: lamp.name }, made("span", { class: "count", "aria-hidden": "true" }, String(number)), lamp.name),
      this.value, slide(this.level));
  }

  show() {
    const lamp = this.store.lamp(this.name), stops = stopsOf(lamp.level);
    const dark = !this.store.gain(this.name);
    this.element.classList.toggle("out", dark);
    const text = lamp.on ? stopsText(stops) : "off";
    say(this.value, text);
    showAt(this.level, Math.max(FLOOR_STOPS, stops), this.top, text);
  }
}

class OverMaster {
  constructor(store) {
    this.store = store;
    this.name = null;
    this.level = overLevel("Master, all lamps", 0, (stand) => {
      const lamps = this.lamps;
      if (!lamps.length) return;
      store.set(Object.fromEntries([...movedLevels(lamps, stand)].map(([name, level]) => {
        const key = lampKey(store.option, name);
        return [key, store.with(key, { level }, store.lamps.find((each) => each.name === name))];
      })), "level of Master");
    }, () => standOf(this.lamps) ?? FLOOR_STOPS);
    this.value = made("span", { class: "figure" });
    this.element = made("li", { class: "master" }, made("span", { class: "name" }, "Master"), this.value, slide(this.level));
  }

  get lamps() {
    return movingLamps(this.store, this.store.lamps.filter((each) => each.sort === "lamp").map((each) => each.name));
  }

  show() {
    const stand = standOf(this.lamps), text = stand === null ? "out" : stopsText(stand);
    say(this.value, text);
    this.level.disabled = stand === null;
    showAt(this.level, Math.max(FLOOR_STOPS, stand ?? FLOOR_STOPS), 0, text);
  }
}

/** A small level; arrows move it a tenth of a stop, page up and down a whole one. */
function overLevel(label, top, set, now) {
  const level = made("input", { type: "range", min: String(FLOOR_STOPS), max: String(top), step: "0.1", class: "level bare",
    "aria-label": label, oninput: () => set(Number(level.value)) });
  level.addEventListener("keydown", (event) => {
    const sign = { PageUp: 1, PageDown: -1 }[event.key];
    if (!sign) return;
    event.preventDefault();
    set(now() + sign);
  });
  return level;
}

function showAt(level, stops, top, text) {
  level.value = String(rounded(stops, 1));
  level.style.setProperty("--at", String(Math.max(0, (stops - FLOOR_STOPS) / (top - FLOOR_STOPS))));
  level.setAttribute("aria-valuetext", `${text} stops`);
}
