// A look as text: taken out of a page or a hand-out, sent in a mail, and taken in again.

import { fieldText } from "./differs.js";
import { byId, made, say } from "./dom.js";
import { cameraKey, lampKey } from "./store.js";

const LONGEST_SENT = 1 << 18;

/** What is set of the option that is shown, in words, for whoever reads the mail. */
function lookWords(store) {
  const { option } = store, parts = [];
  const tell = (name, set) => set && parts.push(
    `${name} ${Object.entries(set).map(([field, value]) => fieldText(field, value)).join(", ")}`);
  for (const { name } of store.lamps) tell(name, store.changes[lampKey(option, name)]);
  for (const { name } of store.optionNow.cameras) tell(`camera ${name}`, store.changes[cameraKey(option, name)]);
  if (Object.keys(store.moves).length) parts.push("and what is moved");
  return parts.join("; ") || "as written";
}

/** A text in lines so short that no mail program wraps them; broken between values alone. */
function inLines(text, widest = 68) {
  const lines = [""];
  for (const part of text.split(/(?<=[\]}"\de],)(?=[{"])/)) {
    if (lines.at(-1) && lines.at(-1).length + part.length > widest) lines.push("");
    lines[lines.length - 1] += part;
  }
  return lines.join("\n");
}

/** The look as text: words, and the lines that `previz page` takes in. */
function lookAsText(store) {
  const { option, camera, scene } = store;
  const line = JSON.stringify({ ...scene.look_mark, file: scene.file, option, camera, look: store.look({ alone: false }) });
  return `${[scene.title, option].filter(Boolean).join(", ")}: ${lookWords(store)}.\n`
    + `What follows sets it: on the page by "Take in a look", or by\npreviz page ${scene.file} --look FILE\n\n${inLines(line)}\n`;
}

/** Show the look as text, to be copied or saved. */
export function openSend(store, source, notice) {
  const box = byId("give"), text = lookAsText(store);
  const field = made("textarea", { readOnly: true, rows: 9, spellcheck: false, "aria-label": "The look as text" });
  field.value = text;
  const copy = async () => {
    field.select();
    // A page that was opened from a file may not write to the clipboard by itself.
    const done = await navigator.clipboard?.writeText(text).then(() => true, () => false)
      ?? document.execCommand("copy");
    say(status, done ? "Copied." : "Copy what is selected with Ctrl+C.");
  };
  const save = () => {
    const stem = store.scene.file.replace(/\.[^.]*$/, "").replace(/[^\p{L}\p{N}_-]/gu, "-");
    const link = made("a", { href: URL.createObjectURL(new Blob([text], { type: "text/plain" })), download: `${stem}-look.txt` });
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    say(status, `Saved as ${link.download}.`);
  };
  const status = made("p", { class: "note", role: "status" });
  box.setAttribute("aria-label", "Look as text");
  box.replaceChildren(made("h2", {}, "Look as text"),
    made("p", { class: "note" }, "Put it into a mail. Whoever has the scene takes it in, and has the lamps and the camera as they are here."),
    field, status, made("div", { class: "row" },
      made("button", { type: "button", class: "main", onclick: copy }, "Copy"),
      made("button", { type: "button", onclick: save }, "Save as a file"),
      made("button", { type: "button", onclick: () => box.close() }, "Close")));
  box.showModal();
  field.focus();
  field.setSelectionRange(0, 0);
  field.scrollTop = 0;
}

/** Take in a look from a text, a file or a mail; it is set as one step that can be undone. */
export function openTake(store, source, notice, given = "") {
  const box = byId("give");
  const field = made("textarea", { rows: 9, spellcheck: false, "aria-label": "Text with the look" });
  field.value = given;
  const file = made("input", { type: "file", "aria-label": "File with the look", onchange: async () => {
    if (file.files[0]) field.value = await textOf(file.files[0]);
  } });
  const status = made("p", { class: "fault", role: "alert" });
  const form = made("form", { onsubmit: async (event) => {
    event.preventDefault();
    try {
      const taken = await source.takeIn({ text: field.value, option: store.option });
      const { option, camera, values } = taken;
      store.showPlace({ option, camera: camera || undefined });
      store.set(values, `look ${performance.now()}`);
      box.close();
      notice([taken.text, ...taken.said].join("\n"));
    } catch (fault) {
      say(status, fault.message);
      field.focus();
    }
  } },
  made("h2", {}, "Take in a look"),
  made("p", { class: "note" }, "Paste the mail or the text, or choose the file that was sent. What is set of its option now "
    + "gives way to it; Undo brings that back."),
  field, file, status,
  made("div", { class: "row" }, made("button", { class: "main" }, "Set this look"),
    made("button", { type: "button", onclick: () => box.close() }, "Cancel")));
  box.setAttribute("aria-label", "Take in a look");
  box.replaceChildren(form);
  if (!box.open) box.showModal();
  field.focus();
}

async function textOf(file) {
  return file.size > LONGEST_SENT ? "" : file.text();
}

/** Files of text that are dropped anywhere on the page are looks that were sent. */
export function catchDrops(take) {
  const isText = (file) => file && !file.type.startsWith("image/");
  addEventListener("dragover", (event) => {
    if ([...event.dataTransfer?.items ?? []].some((each) => each.kind === "file" && isText(each))) event.preventDefault();
  });
  addEventListener("drop", async (event) => {
    const file = event.dataTransfer?.files[0];
    if (!isText(file)) return;
    event.preventDefault();
    take(await textOf(file));
  });
}
