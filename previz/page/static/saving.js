// Saving a look, and saving everything as one file.

import { byId, freshId, made, say } from "./dom.js";
import { spotsFrom } from "./held_spots.js";
import { spotsKey, wantsKey } from "./store.js";

/** Ask for a name and save the look as an option. */
export function openKeep(store, source, notice) {
  const box = byId("keep");
  const id = freshId("name");
  const name = made("input", { id, type: "text", autocomplete: "off", maxlength: "60", class: "wide", required: true });
  const { file } = store.scene, { option } = store;
  const where = [["scene", `In ${file}, as a new option`], ["own file", "In a file of its own next to it, as a new option"],
    ...(option ? [["option", `In ${file}, as what option '${option}' is from now on`]] : []),
    ["everywhere", option ? `In ${file}, where the values stand: all options that have them from there follow`
      : `In ${file}, as what the scene is from now on`]]
    .map(([value, text], i) => made("label", { class: "check" },
      made("input", { type: "radio", name: "where", value, checked: i === 0, onchange: () => {
        name.disabled = !["scene", "own file"].includes(value);
      } }), text));
  const status = made("p", { class: "note", role: "status" });
  const wrong = made("p", { class: "fault", role: "alert" });
  const form = made("form", { onsubmit: async (event) => {
    event.preventDefault();
    say(status, "Saving…");
    say(wrong, "");
    try {
      const saved = await source.save({ name: name.value, option, look: store.look({ alone: false }),
        where: form.querySelector("input[name=where]:checked").value });
      box.close();
      notice(saved.text);
    } catch (fault) {
      say(status, "");
      say(wrong, fault.message);
      name.focus();
    }
  } },
  made("h2", {}, "Save look"),
  made("p", { class: "note" }, "Lamps, camera and whatever was moved, as they are now. Nothing else in the file is "
    + "touched."),
  made("label", { class: "labelled", for: id }, "Name", name), ...where, status, wrong,
  made("div", { class: "row" }, made("button", { class: "main" }, "Save"),
    made("button", { type: "button", onclick: () => box.close() }, "Cancel")));
  box.setAttribute("aria-label", "Save look");
  box.replaceChildren(form);
  box.showModal();
  name.focus();
}

/** Make the one file, say how large it is, and hand it over. */
export function openGive(store, source, notice) {
  const box = byId("give");
  const many = store.optionNow.cameras.length > 1;
  const all = made("input", { type: "checkbox" });
  const status = made("p", { class: "note", role: "status" });
  const wrong = made("p", { class: "fault", role: "alert" });
  const form = made("form", { onsubmit: async (event) => {
    event.preventDefault();
    say(status, "Packing…");
    say(wrong, "");
    try {
      const file = await source.picture("handout.html", { option: store.option, camera: store.camera,
        look: store.look({ alone: false }), wants: store.changes[wantsKey(store.option)], map: store.changes.zones,
        all_cameras: all.checked ? 1 : undefined, spots: Object.fromEntries(store.optionNow.cameras.map(({ name }) =>
          [name, spotsFrom(store.changes[spotsKey(store.option, name)])])) });
      const stem = store.scene.file.replace(/\.[^.]*$/, "").replace(/[^\p{L}\p{N}_-]/gu, "-");
      const link = made("a", { href: URL.createObjectURL(file), download: `${stem}-lights.html` });
      link.click();
      setTimeout(() => URL.revokeObjectURL(link.href), 60000);
      const size = `${(file.size / 1e6).toFixed(1)} MB`;
      box.close();
      notice(`Saved ${link.download}, ${size}. It opens in any browser of 2023 or later, without a network.`);
    } catch (fault) {
      say(status, "");
      say(wrong, fault.message);
    }
  } },
  made("h2", {}, "Hand out"),
  made("p", { class: "note" }, "One file with this option as it stands. Whoever opens it has the lamps' "
    + "levels, the stop and the balance in hand; colours and gels stay as they are."),
  many ? made("label", { class: "check" }, all, "All cameras (larger)") : null, status, wrong,
  made("div", { class: "row" }, made("button", { class: "main" }, "Save as one file"),
    made("button", { type: "button", onclick: () => box.close() }, "Cancel")));
  box.setAttribute("aria-label", "Hand out");
  box.replaceChildren(form);
  box.showModal();
}
