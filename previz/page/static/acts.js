// What can be done, and the keys that do it.

import { openGive, openKeep } from "./saving.js";
import { openSend, openTake } from "./sending.js";

const NOTHING_COMPARED = "Choose a look to compare with first: this one now (P), or a kept one in the strip.";

/** Everything that a button or a key of the page can do, by name. */
export function actsOf(page) {
  const { store, source } = page;
  const notice = (text) => page.notice(text);
  return {
    undo: () => store.undo(),
    redo: () => store.redo(),
    pin: () => {
      const { option, camera } = store;
      page.pinningHere = true;
      // Each pin is a step of its own, however soon it follows the one before.
      store.set({ pin: { option, camera, look: store.look() } }, `pin ${performance.now()}`);
      page.pinningHere = false;
    },
    unpin: () => store.set({ pin: null }),
    keepLook: () => page.looks.keep(),
    flick: (event) => page.looks.flick(event),
    beside: () => page.looks.beside(),
    cameras: () => page.looks.cameras(),
    difference: () => {
      if (store.pin?.reference) notice("A reference picture is compared by wipe, flick or side by side: its stops are not known.");
      else if (store.pin) store.setView({ mode: store.view.mode === "difference" ? "still" : "difference" });
      else notice(NOTHING_COMPARED);
    },
    wipe: () => {
      if (store.pin) store.setView({ wipe: store.view.wipe === null ? 0.5 : null, flick: false });
      else notice(NOTHING_COMPARED);
    },
    differs: () => page.differs.open(),
    big: () => page.big.toggle(),
    balance: () => page.wants.balance(),
    asHanded: () => store.set({ ...Object.fromEntries(Object.keys(store.changes).map((key) => [key, null])),
      ...source.handout.changes }, `handed ${performance.now()}`),
    send: () => openSend(store, source, notice),
    takeIn: () => openTake(store, source, notice),
    keep: () => openKeep(store, source, notice),
    give: () => openGive(store, source, notice),
    help: () => page.keys.help(),
  };
}

/** The keys: [key, what it does, function]. */
export function keysOf(page, acts) {
  const { store } = page;
  const held = (act) => () => {
    if (page.lamps.held) act(page.lamps.held);
    else page.notice("Go to a lamp first, with its figure, by name (/) or with Tab.");
  };
  const next = (names, now) => names[(names.indexOf(now) + 1) % names.length];
  const turnStop = (sign) => {
    const [least, most] = store.scene.limits.stop;
    const stop = Math.round(1000 * store.cameraNow.stop * 2 ** (sign / 6)) / 1000;
    store.changeCamera({ stop: Math.min(most, Math.max(least, stop)) });
  };
  const list = [
    ["1 – 99", "Go to the level of that lamp; two figures one after the other from 10 on",
      (event) => event && page.figure(event.key)],
    ["/", "Go to a lamp by its name", () => page.finder.open()],
    ["t", "Go to the master: all lamps together, in stops", () => page.goToMaster()],
    ["o", "The lamp in hand on or off",
      held((name) => store.changeLamp(name, { on: !store.lamp(name).on }))],
    ["s", "The lamp in hand alone, or all again", held((name) => store.toggleAlone(name))],
    ["e", "Exposure map, or the still again", () =>
      store.setView({ mode: store.view.mode === "map" ? "still" : "map" })],
    ["d", "Difference from the look compared with, or the still again", acts.difference],
    ["p", "Compare with this one now", acts.pin],
    ["w", "Wipe between the look compared with and this", acts.wipe],
    ["h", "Flick to the look compared with and back: while it is held, or tapped", acts.flick],
    ["l", "Keep this look in the strip", acts.keepLook],
    ["j", "Looks side by side, or one picture again", acts.beside],
    ["a", "All cameras side by side, or one picture again", acts.cameras],
    ["[", "Open the lens a third of a stop", () => turnStop(-1)],
    ["]", "Close the lens a third of a stop", () => turnStop(1)],
    ["n", "Next option", () =>
      store.showPlace({ option: next(store.scene.options.map((each) => each.name), store.option) })],
    ["c", "Next camera", () =>
      store.showPlace({ camera: next(store.optionNow.cameras.map((each) => each.name), store.camera) })],
    ["m", "Go to the picture and its spot meter", () => page.picture.element.focus()],
    ["f", "Full screen, or the page again; Escape leaves it too", acts.big],
    ["v", "The next panel beside the picture, then none", () => page.beside.next()],
    ["i", "What differs from the scene file", acts.differs],
    ["b", "Work out levels for what is wanted, and set them", acts.balance],
    ["k", "Save the look", acts.keep],
    ["g", "Save as one file to hand out", acts.give],
    ["y", "This look as text, to send it", acts.send],
    ["u", "Take in a look that was sent", acts.takeIn],
    ["Ctrl+Z", "Undo", acts.undo],
    ["Shift+Ctrl+Z", "Redo", acts.redo],
    ["?", "These keys", acts.help],
  ];
  return page.source.live ? list : list.filter(([key]) => !["b", "k", "g", "n", "u", "l", "j", "a"].includes(key));
}
