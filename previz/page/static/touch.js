// Fingers: a swipe down the page goes past a slider, which is taken by its thumb or by drawing it aside.

import { made } from "./dom.js";

/** How far from a thumb a finger still holds it, and how far it has to go aside to take a slider. [px] */
const NEAR_PX = 24, AWAY_PX = 14, HELD_PX = 4;

/** How much more a finger has to go along a slider than across it to mean it. */
const MEANT = 1.5;

/** Lay the page out for fingers on narrow screens and where there are any, from the first touch on at the latest. */
export function watchTouch() {
  const fingers = matchMedia("(any-pointer: coarse), (max-width: 1120px)");
  let touched = false;
  const set = () => document.documentElement.classList.toggle("touch", touched || fingers.matches);
  fingers.addEventListener("change", set);
  addEventListener("pointerdown", (event) => {
    touched ||= event.pointerType === "touch";
    set();
  }, true);
  set();
}

/** A slider in a box of its own, which moves it under a finger; a tap, or a swipe across, leaves it alone. */
export function slide(input) {
  const box = made("span", { class: "slide" }, input);
  const number = (name) => Number(input[name]);
  let hand = null;
  const letGo = () => {
    if (hand?.taken) input.dispatchEvent(new Event("change", { bubbles: true }));
    hand = null;
  };
  const put = (value) => {
    const before = input.value;
    input.value = String(Math.min(number("max"), Math.max(number("min"), value)));
    if (input.value !== before) input.dispatchEvent(new Event("input", { bubbles: true }));
  };
  box.addEventListener("pointerdown", (event) => {
    // Without fingers about, or where the slider itself is hit, the browser's own way is the best.
    if (event.button || event.target === input) return;
    const { left, width } = input.getBoundingClientRect();
    const thumb = parseFloat(getComputedStyle(input).getPropertyValue("--thumb")) || 16;
    const span = number("max") - number("min"), way = Math.max(1, width - thumb);
    const at = left + thumb / 2 + (way * (number("value") - number("min"))) / span;
    hand = { id: event.pointerId, x: event.clientX, y: event.clientY, scale: span / way, from: number("value"),
      near: Math.abs(event.clientX - at) <= NEAR_PX, taken: false };
    if (event.pointerType !== "mouse") return;
    take(event);
    hand.from = number("min") + (event.clientX - left - thumb / 2) * hand.scale;
    put(hand.from);
    event.preventDefault();
  });
  const take = (event) => {
    hand.taken = true;
    hand.x = event.clientX;
    box.setPointerCapture(event.pointerId);
    input.focus({ preventScroll: true });
  };
  box.addEventListener("pointermove", (event) => {
    if (event.pointerId !== hand?.id) return;
    if (!hand.taken) {
      const along = Math.abs(event.clientX - hand.x), across = Math.abs(event.clientY - hand.y);
      if (across > AWAY_PX) hand = null;
      if (!hand || along < (hand.near ? HELD_PX : AWAY_PX) || along < MEANT * across) return;
      take(event);
    }
    put(hand.from + (event.clientX - hand.x) * hand.scale);
  });
  box.addEventListener("pointerup", letGo);
  box.addEventListener("pointercancel", letGo);
  return box;
}
