// The drawing of the plan: what is drawn, how it is looked at, and what a hand does on it.

import { made, svgMade } from "./dom.js";
import { boundsOf, markDrawn } from "./plan_draw.js";
import { CENTIMETRE, MILLIMETRE, bearing, roundedTo } from "./plan_values.js";

/** A mm of paper on the screen, so that names can be read. [px] */
const PAPER_MM = 4.8;

const NEAREST = 3000, FARTHEST = 1;
const MARGIN_PX = 34;

/** A hand that trembles moves nothing. [px] */
const TREMOR = 4;

const HANDLE = 8, TURN_ARM = 44;

export class PlanView {
  /** `panel` knows what stands where and moves it. */
  constructor(panel) {
    this.panel = panel;
    this.layers = Object.fromEntries(["walls", "ghosts", "staying", "things", "names", "over"].map((name) =>
      [name, svgMade("g", { class: `layer-${name}` })]));
    this.root = svgMade("g", {}, ...Object.values(this.layers));
    this.compass = svgMade("g", { class: "compass", "aria-hidden": "true" });
    this.svg = svgMade("svg", { class: "plan-drawing", role: "group", "aria-label": "Plan, from above",
      "aria-describedby": "plan-help" }, this.root, this.compass);
    this.layers.over.setAttribute("aria-hidden", "true");
    this.bar = made("div", { class: "plan-bar" }, made("span", { "aria-hidden": "true" }), made("span", {}));
    this.element = made("div", { class: "plan-sheet" }, this.svg, this.bar);
    this.groups = new Map();
    this.pointers = new Map();
    this.drag = null;
    this.scale = 100;
    // Whether a hand has chosen what is looked at.
    this.chosen = false;
    this.middle = [0, 0];
    for (const [name, act] of [["pointerdown", this.down], ["pointermove", this.move], ["pointerup", this.up],
      ["pointercancel", this.up], ["keydown", this.key]])
      this.svg.addEventListener(name, (event) => act.call(this, event));
    // Beside things a finger scrolls the page.
    this.svg.addEventListener("touchstart", (event) => {
      if (event.target.closest("[data-thing], [data-handle]") || this.panel.aiming || event.touches.length > 1)
        event.preventDefault();
    }, { passive: false });
    this.svg.addEventListener("wheel", (event) => {
      if (!event.ctrlKey && !event.metaKey) return;
      event.preventDefault();
      this.zoom(2 ** (-event.deltaY / 240), this.place(event));
    }, { passive: false });
  }

  // How it is looked at

  get size() {
    return [this.svg.clientWidth, this.svg.clientHeight];
  }

  /** What a mm of paper is on the set, for symbols and names of one size at every scale. [m] */
  get unit() {
    return PAPER_MM / this.scale;
  }

  fit([low, high]) {
    const [width, height] = this.size;
    const room = [high[0] - low[0], high[1] - low[1]].map((each) => Math.max(each, 0.5));
    this.scale = Math.min((width - 2 * MARGIN_PX) / room[0], (height - 2 * MARGIN_PX) / room[1]);
    this.scale = Math.min(NEAREST, Math.max(FARTHEST, this.scale));
    this.middle = [(low[0] + high[0]) / 2, (low[1] + high[1]) / 2];
    this.chosen = false;
    this.looked();
  }

  zoom(factor, about = this.middle) {
    const scale = Math.min(NEAREST, Math.max(FARTHEST, this.scale * factor)), by = scale / this.scale;
    this.middle = this.middle.map((each, axis) => about[axis] + (each - about[axis]) / by);
    this.scale = scale;
    this.chosen = true;
    this.looked();
  }

  looked() {
    this.placeRoot();
    this.panel.looked();
  }

  placeRoot() {
    const [width, height] = this.size, shown = this.shownScale ?? this.scale, by = this.scale / shown;
    const x = width / 2 - this.middle[0] * this.scale, y = height / 2 + this.middle[1] * this.scale;
    this.root.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)}) scale(${by.toFixed(5)})`);
    this.showBar();
  }

  /** A length that can be read off, of 40 to 120 px. */
  showBar() {
    const metres = [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50].find((each) => each * this.scale >= 40) ?? 100;
    const [line, text] = this.bar.children;
    line.style.width = `${(metres * this.scale).toFixed(0)}px`;
    text.textContent = `${metres} m`;
  }

  /** Where an event is on the set. [m] */
  place(event) {
    const box = this.svg.getBoundingClientRect(), [width, height] = this.size;
    return [this.middle[0] + (event.clientX - box.left - width / 2) / this.scale,
      this.middle[1] - (event.clientY - box.top - height / 2) / this.scale];
  }

  // Drawing

  draw(data) {
    this.shownScale = PAPER_MM / data.unit;
    const marks = (list) => list.map((each) => markDrawn(each, this.shownScale, PAPER_MM));
    this.layers.walls.replaceChildren(...marks(data.walls));
    this.layers.ghosts.replaceChildren(...data.ghosts.map((each) =>
      svgMade("g", { class: each.gone ? "ghost gone" : "ghost" }, ...marks(each.marks))));
    this.layers.staying.replaceChildren(...data.things.map((each) =>
      svgMade("g", { "data-of": each.of ?? each.name }, ...marks(each.staying))));
    const groups = data.things.map((thing) => this.group(thing, marks));
    const stays = this.layers.things.children.length === groups.length
      && groups.every((each, i) => each === this.layers.things.children[i]);
    // What has the focus would lose it by being put in anew.
    if (!stays) this.layers.things.replaceChildren(...groups);
    const names = namesByThing(data.names);
    this.layers.names.replaceChildren(...[...names].map(([name, list]) =>
      svgMade("g", { "data-of": name }, ...marks(list))));
    this.compass.replaceChildren(...data.north.map((each) => markDrawn(each, 0.8 * PAPER_MM, 0.8 * PAPER_MM)));
    this.compass.setAttribute("transform", `translate(${this.size[0] - 24} 34)`);
    this.placeRoot();
    this.show();
  }

  /** One thing's group, the same for as long as there is the thing. */
  group(thing, marks) {
    const key = `${thing.section} ${thing.name}`;
    let group = this.groups.get(key);
    if (!group) {
      group = thing.section ? svgMade("g", { "data-thing": thing.name, "data-section": thing.section, tabindex: "0",
        role: "button", class: `thing ${thing.section}` }) : svgMade("g", { class: "thing beside" });
      this.groups.set(key, group);
    }
    const drawn = marks(thing.marks);
    if (thing.section) {
      // Something to take hold of also where what is drawn is thin.
      const scale = this.shownScale;
      const bounds = boundsOf(thing.marks) ?? [thing.at, thing.at];
      const small = thing.section !== "pieces";
      drawn.unshift(svgMade("circle", { class: "grab", cx: thing.at[0] * scale, cy: -thing.at[1] * scale,
        r: small ? Math.max(13, Math.min(20, 0.5 * scale * (bounds[1][0] - bounds[0][0]))) : 6 }));
      drawn.push(...thing.marks.filter((each) => each.points && !each.closed).map((each) => {
        const line = markDrawn(each, scale, PAPER_MM);
        line.setAttribute("class", "grab line");
        return line;
      }));
    }
    group.replaceChildren(...drawn);
    return group;
  }

  /** Where things are in the hand, what is chosen, what cannot be. */
  show() {
    const { panel } = this, { data } = panel, k = this.shownScale;
    if (!data) return;
    this.svg.classList.toggle("aiming", panel.aiming);
    const away = new Map();
    for (const thing of data.things.filter((each) => each.section)) {
      const group = this.groups.get(`${thing.section} ${thing.name}`), at = panel.at(thing);
      const by = [(at[0] - thing.at[0]) * k, -(at[1] - thing.at[1]) * k];
      if (panel.isAway(thing)) away.set(thing.name, by);
      group.setAttribute("transform", `translate(${by[0].toFixed(2)} ${by[1].toFixed(2)})`);
      group.classList.toggle("chosen", panel.chosen === thing.name);
      group.classList.toggle("refused", panel.refused === thing.name);
      group.classList.toggle("fixed", Boolean(thing.fixed));
      group.setAttribute("aria-pressed", String(panel.chosen === thing.name));
      group.setAttribute("aria-label", panel.spoken(thing));
    }
    for (const each of this.layers.names.children) {
      const by = away.get(each.dataset.of);
      each.setAttribute("transform", by ? `translate(${by[0].toFixed(2)} ${by[1].toFixed(2)})` : "");
    }
    for (const each of this.layers.staying.children) each.classList.toggle("behind", away.has(each.dataset.of));
    this.showHandles();
  }

  /** What the thing that is chosen can be aimed and turned by. */
  showHandles() {
    const { panel } = this, thing = panel.thing(panel.chosen), parts = [], k = this.shownScale;
    const by = this.scale / k, place = ([x, y]) => [x * k, -y * k];
    if (thing && !thing.fixed) {
      const from = place(panel.at(thing)), point = panel.point(thing), deg = panel.turned(thing);
      const line = (to, name) => svgMade("line", { x1: from[0], y1: from[1], x2: to[0], y2: to[1], class: name });
      const handle = (to, name, kind) => svgMade("g", { "data-handle": name, class: `handle ${kind}` },
        svgMade("circle", { class: "grab", cx: to[0], cy: to[1], r: 16 / by }),
        svgMade("circle", { cx: to[0], cy: to[1], r: HANDLE / by, class: "knob" }),
        svgMade("circle", { cx: to[0], cy: to[1], r: 1.5 / by, class: "dot" }));
      if (point) parts.push(line(place(point), "aim-line"), handle(place(point), "aim", panel.text(thing) ? "of-thing" : ""));
      if (deg !== null) {
        const way = [Math.cos(deg * Math.PI / 180), -Math.sin(deg * Math.PI / 180)];
        const to = [from[0] + way[0] * TURN_ARM / by, from[1] + way[1] * TURN_ARM / by];
        parts.push(line(to, "turn-line"), handle(to, "turn", ""));
      }
    }
    this.layers.over.replaceChildren(...parts);
  }

  // A hand

  down(event) {
    if (event.button > 0) return;
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    if (this.pointers.size === 2) {
      this.letGo();
      this.drag = { what: "pinch", from: this.spread() };
      return;
    }
    const { panel } = this, start = this.place(event);
    const handle = event.target.closest("[data-handle]"), group = event.target.closest("[data-thing]");
    const base = { start, pixel: [event.clientX, event.clientY], step: `hand ${performance.now()}`, moved: false };
    if (panel.aiming) {
      event.preventDefault();
      panel.aimAt(start.map((each) => roundedTo(each, CENTIMETRE)));
      return;
    }
    if (handle) this.drag = { ...base, what: handle.dataset.handle, thing: panel.thing(panel.chosen) };
    else if (group) {
      panel.choose(group.dataset.thing);
      const thing = panel.thing(group.dataset.thing);
      this.drag = { ...base, what: thing.fixed ? "fixed" : "at", thing };
    } else if (event.pointerType === "touch") {
      // The page scrolls.
      this.drag = null;
      return;
    } else this.drag = { ...base, what: "look", middle: this.middle };
    const { thing } = this.drag;
    if (thing) {
      this.drag.at = panel.at(thing);
      this.drag.point = panel.point(thing);
      if (this.drag.what !== "fixed") panel.hold(thing);
    }
    this.svg.setPointerCapture(event.pointerId);
  }

  move(event) {
    if (!this.pointers.has(event.pointerId)) return;
    this.pointers.set(event.pointerId, [event.clientX, event.clientY]);
    const { drag, panel } = this;
    if (!drag) return;
    if (drag.what === "pinch") {
      this.pinch(drag);
      return;
    }
    const far = Math.hypot(event.clientX - drag.pixel[0], event.clientY - drag.pixel[1]);
    if (!drag.moved && far < TREMOR) return;
    drag.moved = true;
    const here = this.place(event), by = [here[0] - drag.start[0], here[1] - drag.start[1]];
    const fine = event.shiftKey ? MILLIMETRE : CENTIMETRE;
    const shifted = (from) => [roundedTo(from[0] + by[0], fine), roundedTo(from[1] + by[1], fine), from[2]];
    if (drag.what === "at") panel.move(drag.thing, shifted(drag.at), drag.step);
    if (drag.what === "aim") panel.aim(drag.thing, shifted(drag.point), drag.step);
    if (drag.what === "turn")
      panel.turn(drag.thing, roundedTo(bearing(panel.at(drag.thing), here), event.shiftKey ? 0.1 : 1), drag.step);
    if (drag.what === "look") {
      this.middle = [drag.middle[0] - (event.clientX - drag.pixel[0]) / this.scale,
        drag.middle[1] + (event.clientY - drag.pixel[1]) / this.scale];
      this.chosen = true;
      this.placeRoot();
    }
  }

  up(event) {
    this.pointers.delete(event.pointerId);
    this.letGo();
  }

  letGo() {
    const { drag, panel } = this;
    this.drag = null;
    if (drag?.thing && drag.what !== "fixed") panel.letGo(drag);
  }

  spread() {
    const [[x, y], [u, v]] = [...this.pointers.values()];
    return { far: Math.max(20, Math.hypot(u - x, v - y)), at: { clientX: (x + u) / 2, clientY: (y + v) / 2 } };
  }

  pinch(drag) {
    if (this.pointers.size < 2) return;
    const now = this.spread(), about = this.place(drag.from.at);
    this.middle = this.middle.map((each, axis) => each + about[axis] - this.place(now.at)[axis]);
    this.zoom(now.far / drag.from.far, about);
    drag.from = now;
  }

  // Keys

  key(event) {
    if (event.key === "Escape" && this.panel.aiming) {
      event.preventDefault();
      this.panel.aiming = false;
      this.panel.show();
      return;
    }
    const name = event.target.closest("[data-thing]")?.dataset.thing, thing = this.panel.thing(name);
    if (!thing || event.ctrlKey || event.metaKey || event.altKey) return;
    const way = { ArrowLeft: [-1, 0, 0], ArrowRight: [1, 0, 0], ArrowDown: [0, -1, 0], ArrowUp: [0, 1, 0],
      PageDown: [0, 0, -1], PageUp: [0, 0, 1] }[event.key];
    const turn = { ",": 5, ".": -5, "<": 1, ">": -1, ";": 1, ":": -1 }[event.key];
    const { panel } = this;
    if (way || turn || ["Enter", " "].includes(event.key)) panel.choose(name);
    if (way) {
      const step = event.shiftKey ? 0.01 : 0.1, at = panel.at(thing);
      if (!thing.fixed) panel.move(thing, at.map((each, axis) => (way[axis] ? roundedTo(each + way[axis] * step, MILLIMETRE) : each)));
    } else if (turn) panel.swing(thing, turn);
    else if (event.key === "Delete" || event.key === "Backspace") panel.takeOut(thing);
    else if (event.key === "Enter" || event.key === " ") panel.toFields();
    else return;
    event.preventDefault();
  }

  /** Put the focus on a thing. */
  focus(name) {
    const thing = this.panel.thing(name);
    if (thing) this.groups.get(`${thing.section} ${name}`)?.focus({ preventScroll: true });
  }
}

function namesByThing(names) {
  const found = new Map();
  for (const each of names) found.set(each.name, [...(found.get(each.name) ?? []), each]);
  return found;
}
