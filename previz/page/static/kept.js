// Looks that are kept, as plain values: what is in one, and what of the page's changes it stands for.

import { addedKey, cameraKey, lampKey, placeKey, removedKey, spotsKey, wantsKey } from "./store.js";

/** Side by side there are at most so many. */
export const MOST_BESIDE = 4;

/** What of an option goes by its name: all that a look sets anew. */
const OF_A_LOOK = ["lamp", "camera", "place", "added", "removed", "wants"];

export function lookKey(id) {
  return `look|${id}`;
}

export function referenceKey(id) {
  return `reference|${id}`;
}

function keptUnder(start, changes) {
  return Object.entries(changes).filter(([key, value]) => key.startsWith(start) && value && typeof value === "object")
    .map(([key, value]) => ({ ...value, id: key.slice(start.length), key }))
    .sort((one, other) => (one.at ?? 0) - (other.at ?? 0) || (one.key < other.key ? -1 : 1));
}

/** The kept looks, in the order of the strip. */
export function keptLooks(changes) {
  return keptUnder("look|", changes).filter((each) => each.look && typeof each.option === "string");
}

/** The reference pictures, in their order. */
export function keptReferences(changes) {
  return keptUnder("reference|", changes).filter((each) => typeof each.file === "string");
}

/** An id that no other look has. */
export function newId() {
  return Array.from(crypto.getRandomValues(new Uint8Array(5)), (each) => each.toString(16).padStart(2, "0")).join("");
}

/** What the page shows now, as a look to keep. */
export function lookNow(store, name) {
  const { option, camera, changes } = store;
  const sections = Object.keys(changes).map((key) => key.split("|"))
    .filter(([of, what]) => of === option && what === "removed").map(([, , section, thing]) => [thing, section]);
  return { name, note: "", option, camera, look: store.look({ alone: false }),
    wants: changes[wantsKey(option)] ?? null, spots: changes[spotsKey(option, camera)] ?? null,
    // A look says what was taken out by its name alone.
    ...(sections.length ? { sections: Object.fromEntries(sections) } : {}) };
}

/** The changes that a look stands for, by the page's own keys. */
export function flatLook({ option, camera, look, wants, spots, sections = {} }) {
  const flat = {}, { lamps = {}, cameras = {}, moves = {} } = look;
  for (const [name, fields] of Object.entries(lamps)) flat[lampKey(option, name)] = fields;
  for (const [name, fields] of Object.entries(cameras)) flat[cameraKey(option, name)] = fields;
  for (const [section, things] of Object.entries(moves)) {
    if (section === "remove") for (const name of things) flat[removedKey(option, sections[name] ?? "", name)] = true;
    else if (section === "add")
      for (const [of, added] of Object.entries(things))
        for (const { name, ...fields } of added) flat[addedKey(option, of, name)] = fields;
    else for (const [name, fields] of Object.entries(things)) flat[placeKey(option, section, name)] = fields;
  }
  if (wants) flat[wantsKey(option)] = wants;
  if (spots) flat[spotsKey(option, camera)] = spots;
  return flat;
}

/** Show a look and have its changes in place of those there are, as one step that can be undone. */
export function goToLook(store, kept) {
  const { option, camera } = kept, values = {};
  const held = spotsKey(option, camera), flat = flatLook(kept);
  for (const key of Object.keys(store.changes)) {
    const [of, what] = key.split("|");
    if ((of === option && OF_A_LOOK.includes(what)) || (kept.spots && key === held)) values[key] = null;
  }
  store.alone.clear();
  store.set({ ...values, ...flat }, `look ${performance.now()}`, { option, camera });
}

/** A look has its camera in the scene still. */
export function isThere(store, { option, camera }) {
  return Boolean(store.optionOf(option) && store.cameraOf(option, camera));
}

/**
 * The store as another picture sees it: of another camera, and where `changes` are given of another option
 * under those, whatever is changed on the page. All else is the store's own, and follows it.
 */
export function sideStore(store, { option, camera, changes }) {
  const side = Object.create(store);
  side.camera = camera;
  if (changes) Object.assign(side, { option, changes, alone: new Set() });
  // What is pinned or wiped is so on the one picture alone.
  const viewNow = () => ({ mode: store.view.mode === "map" ? "map" : "still", wipe: null, bands: side.bandsNow });
  Object.defineProperty(side, "viewNow", { get: viewNow });
  return side;
}

/** 'early, camera A'. */
export function placeText({ option, camera }) {
  return [option, `camera ${camera}`].filter(Boolean).join(", ");
}

/** How the view of one look differs from that of another, in words; '' where both see the same. */
export function otherView(one, now) {
  if (one.reference) return "";
  const parts = [];
  if (one.camera !== now.camera) parts.push(`camera ${one.camera}, not ${now.camera}`);
  if (one.option !== now.option) parts.push(`option ${one.option || "as written"}, not ${now.option || "as written"}`);
  return parts.join("; ");
}
