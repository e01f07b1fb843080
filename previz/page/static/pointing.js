// What a hand does on the picture: point, and hold a spot.

import { stepOf } from "./spot_marks.js";

/** Farther than this a press has become a stroke, which holds nothing. [px] */
const STILL_PX = 4;

/** Let the picture hear the pointer and the keys. */
export function listenToHand(picture, spot, spots) {
  let pressed = null;
  const at = (event) => {
    const box = picture.getBoundingClientRect();
    return [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
  };
  picture.addEventListener("pointermove", (event) => {
    if (event.pointerType === "mouse" || event.buttons) spot.point(...at(event));
  });
  picture.addEventListener("pointerdown", (event) => {
    pressed = event.button ? null : [event.clientX, event.clientY];
    spot.point(...at(event));
  });
  picture.addEventListener("pointerup", (event) => {
    const still = pressed && Math.hypot(event.clientX - pressed[0], event.clientY - pressed[1]) <= STILL_PX;
    pressed = null;
    if (still) spots.hold(...at(event));
  });
  // A finger that scrolls the page holds nothing.
  picture.addEventListener("pointercancel", () => {
    pressed = null;
  });
  picture.addEventListener("keydown", (event) => {
    const step = stepOf(event), from = spot.store.view.spot ?? { x: 0.5, y: 0.5 };
    if (step) spot.point(from.x + step[0], from.y + step[1]);
    else if (event.key === "Enter" && !event.repeat) {
      if (spots.hold(from.x, from.y)) spot.point(from.x, from.y);
    } else return;
    event.preventDefault();
  });
}
