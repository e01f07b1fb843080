// The lamps: one row each, level first, colour behind a button.

import { differencesOf, putBack } from "./differs.js";
import { byId, fill, freshId, made, numberField, say } from "./dom.js";
import { FLOOR_STOPS, levelOf, rounded, signed, stopsOf, stopsText } from "./light.js";
import { lampKey } from "./store.js";
import { slide } from "./touch.js";

const MIRED_STEP = 5;

/** How long a second figure is waited for, which makes 12 of 1 and 2. [ms] */
const FIGURES_TOGETHER_MS = 900;

export class LampPanel {
  constructor(store, source) {
    this.store = store;
    this.source = source;
    this.list = byId("lamp-list");
    this.rows = new Map();
    this.key = "";
  }

  show() {
    const key = `${this.store.option}\n${this.store.lamps.map((each) => each.name).join("\n")}`;
    if (key !== this.key) this.build();
    this.key = key;
    const differing = grouped(differencesOf(this.store));
    for (const [name, row] of this.rows)
      row.show(this.store.lamp(name), this.store, differing.get(lampKey(this.store.option, name)) ?? []);
  }

  build() {
    this.rows.clear();
    const items = this.store.lamps.map((lamp, number) => {
      const row = new LampRow(this.store, this.source, lamp, number + 1);
      this.rows.set(lamp.name, row);
      return row.element;
    });
    this.list.replaceChildren(made("ol", { class: "lamps" }, items));
  }

  /** Put the hand on a lamp's level, by its number. */
  focus(number) {
    const level = [...this.rows.values()][number - 1]?.level;
    level?.focus();
    return Boolean(level);
  }

  /** A figure was typed: the lamp of that number, or of the number that it makes with the one before. */
  figure(figure, focus = (number) => this.focus(number)) {
    const now = performance.now(), before = now - (this.figureAt ?? -Infinity) < FIGURES_TOGETHER_MS ? this.figures : "";
    this.figureAt = now;
    this.figures = before && Number(before + figure) <= this.store.lamps.length ? before + figure : figure;
    if (this.figures !== "0") focus(Number(this.figures));
  }

  /** The lamp whose row has the focus. */
  get held() {
    const row = document.activeElement?.closest?.("[data-lamp]");
    return row ? row.dataset.lamp : null;
  }

  /** Show each lamp's share at the spot, 0 to 1. */
  shares(shares) {
    for (const [name, row] of this.rows) row.share(shares?.get(name));
  }
}

class LampRow {
  constructor(store, source, lamp, number) {
    this.name = lamp.name;
    this.store = store;
    const id = freshId("lamp");
    const top = Math.log2(lamp.most), steps = top - FLOOR_STOPS;
    const change = (fields) => store.changeLamp(lamp.name, fields);
    this.lit = made("button", { type: "button", class: "toggle", onclick: () =>
      change({ on: !store.lamp(lamp.name).on }) }, "On");
    this.alone = made("button", { type: "button", class: "toggle", onclick: () =>
      store.toggleAlone(lamp.name) }, "Alone");
    this.level = made("input", { type: "range", id, min: String(FLOOR_STOPS), max: String(top),
      step: "0.1", class: "level", style: `--steps: ${steps}`,
      oninput: () => change({ level: levelOf(Number(this.level.value)) }) });
    this.level.addEventListener("keydown", (event) => {
      // A stop at a time; the arrows move a tenth.
      const sign = { PageUp: 1, PageDown: -1 }[event.key];
      if (!sign) return;
      event.preventDefault();
      const from = Math.max(FLOOR_STOPS, stopsOf(store.lamp(lamp.name).level));
      change({ level: levelOf(Math.min(top, Math.max(FLOOR_STOPS, from + sign))) });
    });
    this.stops = numberField("stops", { low: FLOOR_STOPS, high: top, step: 0.1, words: { out: FLOOR_STOPS },
      take: (value) => change({ level: levelOf(value) }) });
    this.percent = numberField("level in percent", { low: 0, high: 100 * lamp.most, step: 1, unit: "%",
      take: (value) => change({ level: rounded(value / 100, 6) }) });
    for (const field of [this.stops, this.percent]) {
      field.element.querySelector("label").className = "unseen";
      const unit = field === this.stops ? "stops" : "percent";
      field.field.setAttribute("aria-label", `${lamp.name}, level in ${unit}`);
    }
    const tunable = source.live && (lamp.cct !== null || lamp.gel !== null);
    this.colour = made(tunable ? "summary" : "p", { class: "colour" });
    this.words = made("span", {});
    this.atSpot = made("span", { class: "at-spot" });
    this.colour.append(this.words, this.atSpot);
    this.differs = made("button", { type: "button", class: "differs", hidden: true,
      onclick: () => {
        this.level.focus();
        putBack(store, this.differences);
      } });
    const label = made("label", { for: id, class: "name", title: lamp.name },
      made("span", { class: "count", "aria-hidden": "true" }, String(number)), lamp.name);
    const more = source.live ? this.colourGroup(lamp, change) : null;
    this.element = made("li", { class: "lamp", "data-lamp": lamp.name },
      made("div", { class: "line" }, label, this.differs, this.lit, this.alone),
      made("div", { class: "line" }, slide(this.level), this.stops.element, this.percent.element),
      more ?? this.colour);
  }

  /** What sets a lamp's colour, made when it is first opened: hundreds of gels for each lamp take their time. */
  colourGroup(lamp, change) {
    const whole = made("details", { class: "more" }, this.colour);
    if (lamp.cct === null && lamp.duv === null && lamp.gel === null) return null;
    const open = () => {
      if (this.opened) return;
      this.opened = true;
      whole.append(...this.colourParts(lamp, change));
      this.showColour(this.store.lamp(lamp.name));
    };
    // By the click, as the browser says so only once it has opened.
    this.colour.addEventListener("click", open);
    whole.addEventListener("toggle", open);
    return whole;
  }

  colourParts(lamp, change) {
    const { limits, gels, most_gels: mostGels } = this.store.scene, parts = [];
    const [warmest, coolest] = lamp.ccts ?? limits.cct;
    const set = (fields) => change(this.reachable(lamp, fields));
    if (lamp.cct !== null) {
      const from = Math.floor(1e6 / warmest / MIRED_STEP) * MIRED_STEP;
      const to = Math.ceil(1e6 / Math.min(12000, coolest) / MIRED_STEP) * MIRED_STEP;
      this.cctRange = made("input", { type: "range", min: String(-from), max: String(-to), step: String(MIRED_STEP),
        class: "warmth", "aria-label": `${lamp.name}, colour temperature, warm to cool`,
        oninput: () => set({ cct: Math.round(-1e6 / Number(this.cctRange.value) / 10) * 10 }) });
      this.cct = numberField("Colour temperature", { low: warmest, high: coolest, step: 50,
        unit: "K", take: (value) => set({ cct: Math.round(value) }) });
      parts.push(made("div", { class: "line" }, this.cct.element, slide(this.cctRange)));
    }
    if (lamp.duv !== null) {
      this.duvRange = made("input", { type: "range", min: "-0.02", max: "0.02", step: "0.001",
        class: "tint", "aria-label": `${lamp.name}, tint, magenta to green`,
        oninput: () => set({ duv: rounded(Number(this.duvRange.value), 4) }) });
      this.duv = numberField("Tint", { low: limits.duv[0], high: limits.duv[1], step: 0.001,
        unit: "Duv", take: (value) => set({ duv: rounded(value, 5) }) });
      parts.push(made("div", { class: "line" }, this.duv.element, slide(this.duvRange)));
    }
    this.why = made("p", { class: "note hold", role: "status" });
    parts.push(this.why);
    if (lamp.gel !== null) {
      const own = lamp.gel.filter((each) => typeof each !== "string");
      this.gels = Array.from({ length: mostGels }, (_, i) => {
        const options = [made("option", { value: "" }, "none"),
          ...own.map((each) => made("option", { value: JSON.stringify(each) }, each.label)),
          ...gels.map((each) => made("option", { value: each }, each))];
        return made("select", { "aria-label": `${lamp.name}, gel ${i + 1}`, onchange: () =>
          change({ gel: this.gels.flatMap((each) => (each.value === "" ? [] :
            [each.value.startsWith("{") ? JSON.parse(each.value) : each.value])) }) }, options);
      });
      parts.push(made("div", { class: "line" }, made("span", { class: "word" }, "Gel"), ...this.gels));
    }
    return [...parts, made("button", { type: "button", class: "quiet", onclick: () => {
      say(this.why, "");
      this.store.changeLamp(lamp.name, { cct: lamp.cct, duv: lamp.duv, gel: lamp.gel });
    } }, "Colour as written")];
  }

  /** Colours that a lamp is asked for, held to what its light can be; the row says where and why. */
  reachable(lamp, fields) {
    const now = { ...this.store.lamp(lamp.name), ...fields };
    const most = greenestOf(now.greenest, now.cct);
    // What is written beyond that stays as it is until a hand is on it.
    const over = most !== null && now.duv > most;
    say(this.why, over ? `Held at Duv ${signed(most)}: ${lamp.fades_warm
      ? "dimmed it gets warmer, and then no light is greener" : `at ${Math.round(now.cct)} K no light is greener`} than that.` : "");
    if (!over) return fields;
    // Also in the field that a hand is still in.
    if (this.duv) this.duv.field.value = String(most);
    return { ...fields, duv: most };
  }

  show(lamp, store, differences) {
    this.differences = differences;
    this.differs.hidden = !differences.length;
    if (differences.length) {
      const words = differences.map((each) => each.text).join("; ");
      this.differs.setAttribute("aria-label", `${lamp.name} differs: ${words}. Put it back as written`);
      this.differs.title = `${words}. Click: as written`;
    }
    const stops = stopsOf(lamp.level);
    const out = !lamp.on || lamp.level === 0 || (store.alone.size && !store.alone.has(lamp.name));
    this.element.classList.toggle("out", Boolean(out));
    this.lit.setAttribute("aria-pressed", String(lamp.on));
    this.lit.setAttribute("aria-label", `${lamp.name} on`);
    const alone = store.alone.has(lamp.name);
    this.alone.setAttribute("aria-pressed", String(alone));
    this.alone.setAttribute("aria-label", `${lamp.name} alone`);
    const at = String(Math.max(FLOOR_STOPS, rounded(stops, 1)));
    if (Number(this.level.value) !== Number(at)) this.level.value = at;
    const spoken = stops === -Infinity ? "out" : `${stopsText(stops)} stops, ${percentText(lamp.level)} percent`;
    this.level.setAttribute("aria-valuetext", spoken);
    fill(this.stops.field, stops === -Infinity ? "out" : stopsText(stops));
    fill(this.percent.field, percentText(lamp.level));
    const gels = (lamp.gel ?? []).map((each) => (typeof each === "string" ? each : each.label));
    const words = [lamp.kind, lamp.cct ? `${Math.round(lamp.cct)} K` : null,
      lamp.duv ? `tint ${lamp.duv > 0 ? "+" : "−"}${Math.abs(lamp.duv)}` : null, ...gels];
    say(this.words, words.filter(Boolean).join(" · "));
    const part = (stops - FLOOR_STOPS) / (Math.log2(lamp.most) - FLOOR_STOPS);
    this.level.style.setProperty("--at", String(Math.max(0, part)));
    this.showColour(lamp);
  }

  showColour(lamp) {
    if (this.cct && lamp.cct !== null) {
      fill(this.cct.field, Math.round(lamp.cct));
      this.cctRange.value = String(-1e6 / lamp.cct);
      this.cctRange.setAttribute("aria-valuetext", `${Math.round(lamp.cct)} kelvin`);
    }
    if (this.duv) {
      fill(this.duv.field, lamp.duv);
      this.duvRange.value = String(lamp.duv);
    }
    this.gels?.forEach((field, i) => {
      const gel = lamp.gel[i];
      field.value = gel === undefined ? "" : typeof gel === "string" ? gel : JSON.stringify(gel);
      field.hidden = i > lamp.gel.length;
    });
  }

  share(share) {
    say(this.atSpot, share === undefined ? "" : `${(100 * share).toFixed(0)} % at the spot`);
  }
}

/** Differences by the key of their change. */
function grouped(differences) {
  const found = new Map();
  for (const each of differences) found.set(each.key, [...found.get(each.key) ?? [], each]);
  return found;
}

/** Most Duv at a colour temperature, from rows of K and Duv that rise in K; null for no limit. */
function greenestOf(rows, cct) {
  if (!rows?.length) return null;
  const i = rows.findIndex(([kelvin]) => kelvin >= cct);
  if (i < 0) return null;
  // The lesser of its neighbours, so that what lies between them can be made for sure.
  return i === 0 || rows[i][0] === cct ? rows[i][1] : Math.min(rows[i - 1][1], rows[i][1]);
}

function percentText(level) {
  const percent = 100 * level;
  return percent >= 10 || percent === 0 ? String(Math.round(percent)) : percent.toFixed(1);
}
