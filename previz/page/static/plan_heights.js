// Heights beside the plan: a strip from the floor up, on which the thing that is chosen is raised and lowered.

import { svgMade } from "./dom.js";
import { CENTIMETRE, MILLIMETRE, roundedTo } from "./plan_values.js";

const STRIP = 58, HEADROOM = 16, FOOT = 14;

export class PlanHeights {
  constructor(panel) {
    this.panel = panel;
    this.scale = svgMade("g", { "aria-hidden": "true" });
    this.others = svgMade("g", { "aria-hidden": "true" });
    this.knob = svgMade("g", { class: "knob-height" });
    this.element = svgMade("svg", { class: "plan-heights", role: "slider", tabindex: "0", "aria-label": "Height",
      "aria-orientation": "vertical", "aria-valuenow": "0" }, this.scale, this.others, this.knob);
    for (const [name, act] of [["pointerdown", this.down], ["pointermove", this.move], ["pointerup", this.up],
      ["pointercancel", this.up], ["keydown", this.key]])
      this.element.addEventListener(name, (event) => act.call(this, event));
    this.element.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  }

  get thing() {
    const thing = this.panel.thing(this.panel.chosen);
    return thing && !thing.fixed ? thing : null;
  }

  get height() {
    return Math.max(60, this.element.clientHeight);
  }

  y(metres) {
    return HEADROOM + (1 - metres / this.most) * (this.height - HEADROOM - FOOT);
  }

  metres(event) {
    const box = this.element.getBoundingClientRect();
    return this.most * (1 - (event.clientY - box.top - HEADROOM) / (this.height - HEADROOM - FOOT));
  }

  show() {
    const { data } = this.panel;
    if (!data) return;
    const things = data.things.filter((each) => each.section && !["pieces", "figures"].includes(each.section));
    // While something is raised past the top the strip stays as it is.
    if (!this.from) this.most = Math.max(2, data.ceiling ?? 3, ...things.map((each) => this.panel.at(each)[2])) * 1.02;
    const step = this.most > 12 ? 5 : this.most > 5 ? 1 : 0.5, parts = [];
    for (let at = 0; at <= this.most; at += step)
      parts.push(svgMade("line", { x1: 26, x2: at % 1 ? 31 : 34, y1: this.y(at), y2: this.y(at) }),
        ...(at % 1 ? [] : [svgMade("text", { x: 22, y: this.y(at) + 4, "text-anchor": "end" }, String(at))]));
    if (data.ceiling) parts.push(svgMade("line", { class: "ceiling", x1: 26, x2: STRIP, y1: this.y(data.ceiling), y2: this.y(data.ceiling) }));
    parts.push(svgMade("text", { x: 22, y: 10, "text-anchor": "end" }, "m"));
    this.scale.replaceChildren(svgMade("line", { class: "post", x1: 26, x2: 26, y1: this.y(0), y2: this.y(this.most) }), ...parts);
    this.others.replaceChildren(...things.map((each) => svgMade("line", { class: "other", x1: 36, x2: 46,
      y1: this.y(this.panel.at(each)[2]), y2: this.y(this.panel.at(each)[2]) })));
    const { thing, element } = this;
    element.setAttribute("aria-disabled", String(!thing));
    element.setAttribute("aria-valuemin", "0");
    element.setAttribute("aria-valuemax", this.most.toFixed(2));
    const z = thing ? this.panel.at(thing)[2] : 0;
    element.setAttribute("aria-valuenow", z.toFixed(2));
    element.setAttribute("aria-label", thing ? `Height of ${thing.name}` : "Height of what is chosen");
    element.setAttribute("aria-valuetext", thing ? `${z.toFixed(2)} metres` : "nothing is chosen");
    const y = this.y(z);
    this.knob.replaceChildren(...(thing ? [svgMade("path", { d: `M34 ${y}l9 -8h13v16h-13z` })] : []));
  }

  down(event) {
    const { thing } = this;
    if (!thing || event.button > 0) return;
    this.from = { thing, offset: this.panel.at(thing)[2] - this.metres(event), step: `height ${performance.now()}`,
      pixel: event.clientY, what: "at" };
    // Beside the knob the thing comes to the hand.
    if (Math.abs(this.from.offset) > 0.08 * this.most) this.from.offset = 0;
    this.panel.hold(thing);
    this.element.setPointerCapture(event.pointerId);
  }

  move(event) {
    if (!this.from || Math.abs(event.clientY - this.from.pixel) < 2 && !this.from.moved) return;
    this.from.moved = true;
    const { thing, offset, step } = this.from, at = this.panel.at(thing);
    const z = roundedTo(this.metres(event) + offset, event.shiftKey ? MILLIMETRE : CENTIMETRE);
    this.panel.move(thing, [at[0], at[1], z], step);
  }

  up() {
    const { from } = this;
    this.from = null;
    if (from) this.panel.letGo(from);
  }

  key(event) {
    const sign = { ArrowUp: 1, PageUp: 1, ArrowDown: -1, PageDown: -1 }[event.key], { thing } = this;
    if (!sign || !thing || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    const at = this.panel.at(thing), step = event.shiftKey ? 0.01 : 0.1;
    this.panel.move(thing, [at[0], at[1], roundedTo(at[2] + sign * step, MILLIMETRE)]);
  }
}
