// The strip of looks that are kept: named, noted, put in order, gone to, compared with.

import { byId, fill, made, say } from "./dom.js";
import {
  MOST_BESIDE, goToLook, isThere, keptLooks, keptReferences, lookKey, lookNow, newId, otherView, placeText,
  referenceKey,
} from "./kept.js";
import { SMALL_WIDTH, SmallPictures } from "./small.js";

/** A key that is held longer than this shows the other look only while it is held. */
const HELD_MS = 350;

export class LookStrip {
  constructor(store, source, notice, fault) {
    this.store = store;
    this.source = source;
    this.notice = notice;
    this.fault = fault;
    this.box = byId("looks");
    this.cards = new Map();
    this.chosen = new Set();
    this.small = new SmallPictures(source, () => this.showAll());
    // A small picture of things that are moved takes a stage of its own, so none is asked for out of sight.
    this.sight = new IntersectionObserver((all) => {
      for (const { target, isIntersecting } of all)
        if (isIntersecting) {
          const card = this.cards.get(target.dataset.key);
          if (card) card.seen = true;
          this.sight.unobserve(target);
        }
      this.showAll();
    });
    const button = (text, title, act, more = {}) => made("button", { type: "button", title, onclick: act, ...more }, text);
    this.twos = button("Side by side", "The looks that are ticked, two to four (J)", () => this.beside(), { class: "toggle" });
    this.all = button("All cameras", "All cameras of this option under the same dimmers (A)", () => this.cameras(),
      { class: "toggle" });
    this.flicks = button("Flick", "This look and the one compared with, in turn; hold H or tap it", () => this.flick(),
      { class: "toggle" });
    this.file = made("input", { type: "file", accept: "image/png,image/jpeg", hidden: true,
      "aria-label": "Reference picture, PNG or JPEG", onchange: () => this.takeFile() });
    this.lying = made("select", { "aria-label": "Picture beside the scene, as a reference", hidden: true, onchange: () => {
      const name = this.lying.value;
      this.lying.value = "";
      if (name) this.takeReference(name, `reference?name=${encodeURIComponent(name)}`, "");
    } });
    if (source.live) source.json("beside.json").then((names) => {
      this.lying.replaceChildren(made("option", { value: "" }, "Beside the scene…"),
        ...names.map((name) => made("option", { value: name }, name)));
      this.lying.hidden = !names.length;
    }).catch(() => {});
    const sheets = ["pdf", "png"].map((kind) => made("a", { href: `strip.${kind}`, download: "" }, kind.toUpperCase()));
    this.sheet = made("span", { class: "word sheets" }, "As a sheet: ", sheets[0], " ", sheets[1]);
    this.list = made("ol", { class: "kept", "aria-label": "Looks that are kept" });
    this.none = made("p", { class: "note", role: "status" });
    const live = [button("Keep this look", "With its levels, colours, moves and wants (L)", () => this.keep(), { class: "keep" }),
      this.flicks, this.twos, this.all, button("Reference…", "Set a picture beside the looks: PNG or JPEG", () => this.file.click()),
      this.file, this.lying, this.sheet];
    this.numbers = made("div", { id: "beside-numbers", hidden: true });
    this.box.append(this.numbers, made("div", { class: "row" }, made("h2", {}, "Looks"), ...(source.live ? live : [this.flicks])),
      this.list, this.none);
    // Over the picture: a reference that is compared with, and whose picture is where.
    this.over = made("img", { class: "reference-over", alt: "The reference picture", hidden: true });
    this.left = made("p", { class: "whose", hidden: true });
    this.right = made("p", { class: "whose right", hidden: true });
    this.parts = [this.over, this.left, this.right];
  }

  get looks() {
    return keptLooks(this.store.changes);
  }

  get references() {
    return keptReferences(this.store.changes);
  }

  // Doing

  keep() {
    const { store } = this, all = [...this.looks, ...this.references];
    const names = new Set(all.map((each) => each.name));
    let number = this.looks.length + 1;
    while (names.has(`Look ${number}`)) number += 1;
    const at = 1 + Math.max(0, ...all.map((each) => each.at ?? 0)), id = newId();
    store.set({ [lookKey(id)]: { ...lookNow(store, `Look ${number}`), at } }, `keep ${id}`);
    this.show();
    this.list.scrollLeft = this.list.scrollWidth;
    say(this.none, `Kept as 'Look ${number}'.`);
  }

  change(kept, fields, what) {
    const value = { ...this.store.changes[kept.key], ...fields };
    this.store.set({ [kept.key]: value }, `${what} ${performance.now()}`);
  }

  drop(kept) {
    const values = { [kept.key]: null }, { pin } = this.store;
    if (pin && (pin.id === kept.id || pin.reference === kept.id)) values.pin = null;
    this.chosen.delete(kept.key);
    this.store.set(values, `drop ${kept.key}`);
    say(this.none, `'${kept.name}' is taken out; Undo brings it back.`);
    this.box.querySelector("button.keep")?.focus();
  }

  /** Put a look one place on, or back. */
  move(kept, step) {
    const all = this.inOrder(), from = all.findIndex((each) => each.key === kept.key), to = from + step;
    if (to < 0 || to >= all.length) return;
    all.splice(to, 0, ...all.splice(from, 1));
    const values = {};
    all.forEach((each, at) => {
      if (each.at !== at) values[each.key] = { ...this.store.changes[each.key], at };
    });
    this.store.set(values, `order ${performance.now()}`);
    this.show();
    this.cards.get(kept.key)?.steps[step < 0 ? 0 : 1].focus();
  }

  go(kept) {
    if (!isThere(this.store, kept)) this.notice(`${placeText(kept)} is not in the scene any more.`);
    else goToLook(this.store, kept);
  }

  /** Compare with a kept look or a reference, or no more where it is that one already. */
  compare(kept) {
    const { store } = this;
    const is = this.comparedIs(kept);
    const pin = kept.file ? { reference: kept.id, name: kept.name }
      : { id: kept.id, name: kept.name, option: kept.option, camera: kept.camera, look: kept.look };
    store.set({ pin: is ? null : pin }, `pin ${performance.now()}`);
    if (!is && kept.file && store.view.wipe === null && !store.view.flick) store.setView({ wipe: 0.5 });
  }

  comparedIs(kept) {
    const { pin } = this.store;
    return Boolean(pin && (kept.file ? pin.reference === kept.id : pin.id === kept.id));
  }

  /** Show the look compared with in the same place, or this one again; a key that is held does so while it is. */
  flick(event) {
    const { store } = this;
    if (event?.repeat) return;
    if (!store.pin) {
      this.notice("Choose a look to compare with first: Compare, in the strip, or P for this one.");
      return;
    }
    store.setView({ flick: !store.view.flick });
    if (!event?.key || !store.view.flick) return;
    const began = performance.now();
    const up = (end) => {
      if (end.type === "keyup" && end.key.toLowerCase() !== event.key.toLowerCase()) return;
      removeEventListener("keyup", up);
      removeEventListener("blur", up);
      if (performance.now() - began > HELD_MS || end.type === "blur") store.setView({ flick: false });
    };
    addEventListener("keyup", up);
    addEventListener("blur", up);
  }

  /** The looks that are ticked side by side; one alone beside the look of now, none ticked the first of them. */
  beside() {
    const { store } = this;
    if (store.view.side?.of === "looks") {
      store.setView({ side: null });
      return;
    }
    let keys = this.inOrder().map((each) => each.key).filter((key) => this.chosen.has(key));
    if (!keys.length) keys = this.inOrder().slice(0, MOST_BESIDE).map((each) => each.key);
    if (!keys.length) {
      this.notice("Keep a look first (L), to set it beside this one.");
      return;
    }
    if (keys.length === 1) keys = ["now", ...keys];
    store.setView({ side: { of: "looks", keys }, flick: false });
  }

  cameras() {
    const { store } = this, on = store.view.side?.of === "cameras";
    const count = store.optionNow.cameras.length;
    if (!on && count > MOST_BESIDE) this.notice(`The first ${MOST_BESIDE} of ${count} cameras are shown.`);
    if (!on && count < 2) this.notice("This option has one camera alone.");
    else store.setView({ side: on ? null : { of: "cameras" }, flick: false });
  }

  choose(kept, on) {
    if (on && this.chosen.size >= MOST_BESIDE) this.notice(`Side by side there is room for ${MOST_BESIDE}.`);
    else this.chosen[on ? "add" : "delete"](kept.key);
    if (this.store.view.side?.of === "looks") {
      this.store.setView({ side: null });
      if (this.chosen.size) this.beside();
    }
    this.showAll();
  }

  async takeFile() {
    const [file] = this.file.files;
    this.file.value = "";
    if (file) await this.takeReference(file.name, "reference", file);
  }

  /** Take a picture that was picked, or one of those that lie beside the scene. */
  async takeReference(title, path, body) {
    try {
      const kept = await this.source.send(path, body);
      const id = newId(), name = title.replace(/\.[^.]*$/, "").slice(0, 60) || "Reference";
      const at = 1 + Math.max(0, ...this.inOrder().map((each) => each.at ?? 0));
      this.store.set({ [referenceKey(id)]: { name, note: "", at, ...kept } }, `reference ${id}`);
    } catch (fault) {
      this.fault(fault.message);
    }
  }

  // Showing

  /** Looks and references as they stand in the strip. */
  inOrder() {
    return [...this.looks, ...this.references].sort((one, other) => (one.at ?? 0) - (other.at ?? 0)
      || (one.key < other.key ? -1 : 1));
  }

  /** Better frames have come of a camera. */
  better(option, camera) {
    this.small.better(option, camera);
  }

  /** Draw the small pictures by a function (look, width, height) -> codes, where there is no program to ask. */
  mixHere(mixed) {
    const canvas = made("canvas", { width: SMALL_WIDTH, height: Math.round(SMALL_WIDTH / this.store.cameraNow.aspect) });
    const pen = canvas.getContext("2d"), { width, height } = canvas;
    for (const kept of this.looks) {
      const codes = mixed(kept, width, height);
      if (!codes) continue;
      const shown = pen.createImageData(width, height);
      for (let row = 0; row < height; row++)
        shown.data.set(codes.subarray(4 * width * (height - 1 - row), 4 * width * (height - row)), 4 * width * row);
      pen.putImageData(shown, 0, 0);
      this.cardOf(kept).mixed = { address: canvas.toDataURL("image/png") };
    }
    this.showAll();
  }

  /** The scene was read again. */
  forget() {
    this.small.keepOnly([]);
  }

  /** What the strip shows, each part the very same where nothing has changed of it. */
  get standing() {
    const { changes, view, scene, option, camera } = this.store;
    const kept = Object.entries(changes).filter(([key]) => /^(look\||reference\||pin$)/.test(key)).flat();
    return [scene, option, camera, view.flick, view.side, ...kept];
  }

  /** Show the strip where something of it has changed: under a moving hand nothing has. */
  show() {
    const now = this.standing, before = this.shown;
    if (before?.length === now.length && now.every((each, i) => each === before[i])) this.showOver();
    else this.showAll();
  }

  showAll() {
    this.shown = this.standing;
    const { store } = this, all = this.inOrder();
    this.box.hidden = !this.source.live && !all.length;
    const gone = [...this.cards.keys()].filter((key) => !all.some((each) => each.key === key));
    for (const key of gone) {
      this.sight.unobserve(this.cards.get(key).element);
      this.cards.delete(key);
      this.chosen.delete(key);
    }
    this.small.keepOnly(all.filter((each) => !each.file));
    const cards = all.map((kept) => this.cardOf(kept));
    const inPlace = cards.length === this.list.children.length
      && cards.every((card, i) => this.list.children[i] === card.element);
    if (!inPlace) this.list.replaceChildren(...cards.map((card) => card.element));
    all.forEach((kept, i) => this.showCard(cards[i], kept, i, all.length));
    if (!all.length) say(this.none, "None is kept yet. L keeps the look in the picture, with its camera.");
    this.sheet.hidden = !all.length;
    this.flicks.disabled = !store.pin;
    this.flicks.setAttribute("aria-pressed", String(store.view.flick && Boolean(store.pin)));
    this.twos.disabled = !all.length;
    this.twos.setAttribute("aria-pressed", String(store.view.side?.of === "looks"));
    this.all.disabled = store.optionNow.cameras.length < 2;
    this.all.setAttribute("aria-pressed", String(store.view.side?.of === "cameras"));
    this.showOver();
  }

  cardOf(kept) {
    const known = this.cards.get(kept.key);
    if (known) return known;
    const { live } = this.source, card = { kept }, now = () => card.kept;
    const small = (text, title, act, more = {}) => made("button", { type: "button", class: "quiet step", title, onclick: act, ...more }, text);
    card.image = made("img", { alt: "", hidden: true, width: 160, height: 90 });
    card.words = made("span", { class: "word" });
    card.go = kept.file ? made("div", { class: "thumb" }, card.image, card.words)
      : made("button", { type: "button", class: "thumb", onclick: () => this.go(now()) }, card.image, card.words);
    card.name = made("input", { type: "text", class: "wide name", maxlength: "60", autocomplete: "off", "aria-label": "Name of the look",
      readonly: !live, onchange: () => this.rename(now(), card) });
    card.note = made("textarea", { class: "wide", rows: "1", maxlength: "1000", placeholder: live ? "Note" : "",
      readonly: !live, "aria-label": "Note", onchange: () => this.change(now(), { note: card.note.value.trim() }, "note") });
    card.place = made("p", { class: "word place" });
    card.compare = small("Compare", "Compare with this one: wipe (W), difference (D), flick (H)", () => this.compare(now()),
      { class: "toggle step" });
    card.tick = made("input", { type: "checkbox", onchange: () => this.choose(now(), card.tick.checked) });
    card.steps = [small("←", "Further to the front", () => this.move(now(), -1)), small("→", "Further back", () => this.move(now(), 1))];
    const drop = small("×", "Take it out of the strip", () => this.drop(now()), { "aria-label": "Take this look out" });
    card.element = made("li", { class: "kept-look", "data-key": kept.key },
      made("div", {}, card.go, card.place),
      made("div", { class: "words" }, card.name, card.note, made("div", { class: "row" }, card.compare,
        ...(live ? [...card.steps, drop, made("label", { class: "check" }, card.tick, "beside")] : []))));
    this.cards.set(kept.key, card);
    this.sight.observe(card.element);
    return card;
  }

  rename(kept, card) {
    const name = card.name.value.trim();
    if (name) this.change(kept, { name }, "name");
    else card.name.value = kept.name;
  }

  showCard(card, kept, at, count) {
    const { store } = this;
    card.kept = kept;
    fill(card.name, kept.name ?? "");
    fill(card.note, kept.note ?? "");
    const there = kept.file || isThere(store, kept);
    say(card.place, kept.file ? "reference picture" : placeText(kept));
    if (!kept.file) {
      const label = `Go to '${kept.name}'`;
      card.go.setAttribute("aria-label", label);
      card.go.title = `${label}: its levels, colours, camera and moves`;
    }
    card.compare.setAttribute("aria-pressed", String(this.comparedIs(kept)));
    card.compare.setAttribute("aria-label", `Compare with '${kept.name}'`);
    card.tick.checked = this.chosen.has(kept.key);
    card.tick.setAttribute("aria-label", `Set '${kept.name}' side by side`);
    card.steps[0].disabled = at === 0;
    card.steps[1].disabled = at === count - 1;
    const found = kept.file ? { address: `reference.jpg?file=${encodeURIComponent(kept.file)}` }
      : !there ? { words: "not in the scene any more" } : this.source.live && card.seen ? this.small.of(kept) : card.mixed ?? {};
    card.image.hidden = !found.address;
    if (found.address && card.image.getAttribute("src") !== found.address) card.image.src = found.address;
    say(card.words, found.words ?? (found.address || !this.source.live ? "" : "…"));
  }

  /** What lies over the picture: the reference, and whose picture is where while it is wiped or flicked. */
  showOver() {
    const { store } = this, { pin } = store, view = store.viewNow;
    const wiped = Boolean(pin) && view.wipe !== null && view.mode !== "difference" && !store.view.side;
    const reference = wiped && pin.reference && this.references.find((each) => each.id === pin.reference);
    this.over.hidden = !reference;
    if (reference) {
      const address = `reference.jpg?file=${encodeURIComponent(reference.file)}`;
      if (this.over.getAttribute("src") !== address) this.over.src = address;
      this.over.style.clipPath = `inset(0 ${100 * (1 - view.wipe)}% 0 0)`;
    }
    const other = pin ? otherView(pin, store) : "";
    // A difference of two views has its words over it too: it is none of light alone.
    const apart = Boolean(other) && view.mode === "difference" && !store.view.side;
    this.left.hidden = !wiped && !apart;
    this.right.hidden = !wiped || store.view.flick;
    if (this.left.hidden) return;
    const place = pin.reference ? "" : `, ${placeText(pin)}`;
    say(this.left, `${pinName(store)}${place}${other ? ` – another view: ${other}` : ""}`);
    this.left.dataset.other = String(Boolean(other));
    say(this.right, other ? `this one now, ${placeText(store)}` : "this one now");
  }
}

/** What the look that is compared with is called now. */
export function pinName(store) {
  const { pin } = store;
  if (!pin) return "";
  const kept = store.changes[pin.reference ? referenceKey(pin.reference) : lookKey(pin.id)];
  return kept?.name ?? pin.name ?? "how it was";
}
