// Held spots as they stand in the picture: a ring as wide as what is read, and a handle with its number.

import { made } from "./dom.js";

const FINE_STEP = 0.01, COARSE_STEP = 0.05;

/** From where a number would not fit over, or to the right of, its ring. */
const NEAR_TOP = 0.1, NEAR_RIGHT = 0.92;

const ALONG = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };

/** How far an arrow key moves a spot. */
export function stepOf(event) {
  const along = ALONG[event.key];
  return along && along.map((each) => each * (event.shiftKey ? COARSE_STEP : FINE_STEP));
}

export function heldIn(value) {
  return Math.min(1, Math.max(0, value));
}

export class SpotMarks {
  /** `acts` has what a hand does: drag(index, x, y), drop(index, x, y), step(index, dx, dy), remove(index), open(index). */
  constructor(acts) {
    this.acts = acts;
    this.element = made("div", { class: "held-marks" });
    this.marks = [];
  }

  build(count) {
    while (this.marks.length > count) {
      const { ring, handle } = this.marks.pop();
      ring.remove();
      handle.remove();
    }
    while (this.marks.length < count) {
      const mark = this.made(this.marks.length);
      this.marks.push(mark);
      this.element.append(mark.ring, mark.handle);
    }
  }

  made(index) {
    const ring = made("div", { class: "ring kept", "aria-hidden": "true" });
    const number = made("span", { class: "number" }, String(index + 1));
    const handle = made("button", { type: "button", class: "handle",
      title: "Drag it, or move it with the arrow keys; Enter names it, Delete removes it" }, number);
    const at = (event) => {
      const box = this.element.getBoundingClientRect();
      return [heldIn((event.clientX - box.left) / box.width), heldIn((event.clientY - box.top) / box.height)];
    };
    let from = null, dragged = false;
    handle.addEventListener("pointerdown", (event) => {
      if (event.button) return;
      handle.setPointerCapture(event.pointerId);
      from = [event.clientX, event.clientY];
      dragged = false;
    });
    handle.addEventListener("pointermove", (event) => {
      if (!from) return;
      dragged ||= Math.hypot(event.clientX - from[0], event.clientY - from[1]) > 3;
      if (dragged) this.acts.drag(index, ...at(event));
    });
    handle.addEventListener("pointerup", (event) => {
      if (from && dragged) this.acts.drop(index, ...at(event));
      from = null;
    });
    handle.addEventListener("pointercancel", () => {
      if (from && dragged) this.acts.drop(index);
      from = null;
    });
    // By key, or by two clicks: one takes it in hand, for the arrow keys.
    handle.addEventListener("click", ({ detail }) => {
      if (detail === 1) handle.focus({ preventScroll: true });
      else this.acts.open(index);
    });
    handle.addEventListener("keydown", (event) => {
      const step = stepOf(event);
      if (step) this.acts.step(index, ...step);
      else if (event.key === "Delete" || event.key === "Backspace") this.acts.remove(index);
      else return;
      event.preventDefault();
    });
    return { ring, handle, number };
  }

  /** Show spots: {x, y, name, width, known}. */
  show(spots) {
    this.build(spots.length);
    spots.forEach(({ x, y, name, width, known }, index) => {
      const { ring, handle } = this.marks[index];
      for (const each of [ring, handle]) {
        each.style.left = `${100 * x}%`;
        each.style.top = `${100 * y}%`;
      }
      ring.style.width = `${100 * (width ?? 0)}%`;
      handle.classList.toggle("below", y < NEAR_TOP);
      handle.classList.toggle("before", x > NEAR_RIGHT);
      ring.classList.toggle("waiting", !known);
      const label = `Spot ${index + 1}${name ? `, ${name}` : ""}`;
      if (handle.ariaLabel !== label) handle.ariaLabel = label;
    });
  }

  /** Go to a mark, or to the one before it where there is no such any more; false where there is none. */
  focus(index) {
    const mark = this.marks[Math.min(index, this.marks.length - 1)];
    mark?.handle.focus();
    return Boolean(mark);
  }
}
