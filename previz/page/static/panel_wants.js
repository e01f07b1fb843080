// What is wanted, as a list that turns from missed to met; and the levels that bring it about.

import { byId, freshId, made, say } from "./dom.js";
import { cameraKey, lampKey, wantsKey } from "./store.js";
import { missText, standingTexts, verdictText, wantReadings, wantedText } from "./wants.js";

const AIMS = [["least squares", "all of them near"], ["least worst", "the worst as near as can be"]];

export class WantPanel {
  constructor(store, source) {
    this.store = store;
    this.source = source;
    this.loaded = this.place = null;
    this.held = new Map();
    this.build();
  }

  build() {
    this.verdict = made("p", { class: "verdict", role: "status" });
    this.list = made("div", { class: "want-list" });
    this.fault = made("p", { class: "fault", role: "alert" });
    const parts = [this.verdict, this.list, this.fault];
    if (this.source.live) parts.push(this.solving(), this.adding());
    byId("want-box").replaceChildren(...parts);
  }

  solving() {
    this.work = made("button", { type: "button", class: "main", title: "Work out levels for what is wanted (B)",
      onclick: () => this.balance() }, "Work out levels");
    this.aim = made("select", { "aria-label": "Where not all can be met" },
      AIMS.map(([value, text]) => made("option", { value }, text)));
    this.few = made("input", { type: "checkbox" });
    this.keeping = made("div", { class: "keeping" });
    this.answer = made("div", { class: "answer", role: "status" });
    const how = made("details", { class: "how" }, made("summary", {}, "What may move"),
      made("label", { class: "labelled" }, "Where not all can be met", this.aim),
      made("label", { class: "check" }, this.few, "As few lamps and watts as will do"),
      made("p", { class: "note" }, "These stay as they are:"), this.keeping,
      made("p", { class: "note" }, "Levels move; colours, gels, stop and ND where the scene says so with "
        + "'may_move'. A lamp that is off stays off."));
    this.solver = made("div", { class: "solver" }, made("div", { class: "row" }, this.work), this.answer, how);
    return this.solver;
  }

  adding() {
    const id = freshId("want"), list = freshId("said");
    this.said = made("datalist", { id: list });
    this.line = made("input", { id, type: "text", class: "wide", autocomplete: "off", maxlength: "200", list });
    this.how = made("p", { class: "note" });
    return made("form", { class: "adding", onsubmit: (event) => {
      event.preventDefault();
      this.add(this.line.value.trim());
    } }, made("label", { for: id }, "Add a want"), this.line, this.said,
    made("button", {}, "Add"), this.how);
  }

  // What is wanted

  get lines() {
    return this.store.changes[wantsKey(this.store.option)] ?? [];
  }

  /** Ask for what is wanted, and what lamps give there; only the answer to the last request counts. */
  async load(lines = this.lines) {
    const request = this.request = {};
    const { option } = this.store;
    let fault = "", data = null;
    try {
      data = await this.source.json("wants.json", { option, look: this.store.look({ alone: false }), wants: lines });
    } catch (problem) {
      // The socket lets the person know that the program is gone.
      if (!problem.message) return null;
      fault = problem.message;
    }
    if (request !== this.request) return null;
    if (data || lines === this.lines) Object.assign(this, { loaded: data, place: option, shape: "" });
    say(this.fault, fault);
    this.show();
    return data;
  }

  /** Take up a line that says a want, if the program understands it. */
  async add(line) {
    if (!line) return;
    const lines = [...this.lines, line], key = wantsKey(this.store.option);
    if (await this.load(lines)) {
      this.line.value = "";
      this.store.set({ [key]: lines }, `want ${performance.now()}`);
    } else this.line.focus();
  }

  drop(line) {
    const lines = this.lines.filter((each) => each !== line);
    this.store.set({ [wantsKey(this.store.option)]: lines.length ? lines : null }, `want ${performance.now()}`);
    this.load();
    this.line.focus();
  }

  /** What is wanted of the option in view, null before it has come. */
  get data() {
    return this.place === this.store.option ? this.loaded : null;
  }

  get readings() {
    const { store, data } = this;
    const gainOf = (name) => (store.lamps.some((each) => each.name === name) ? store.gain(name) : 0);
    return wantReadings(data, gainOf, (name) => store.cameraOf(store.option, name), store.scene.tables);
  }

  // Showing

  show() {
    const { data } = this;
    const some = Boolean(data?.wants.length);
    byId("wants").hidden = !this.source.live && !some;
    if (this.source.live) this.showSolver(some);
    if (!some) {
      say(this.verdict, data ? "Nothing is wanted of this option yet." : "");
      this.showAdded();
      return;
    }
    const { readings } = this;
    say(this.verdict, verdictText(readings));
    this.verdict.dataset.met = String(readings.every((each) => each.met));
    this.showRows(readings);
  }

  /** Wants that were added and cannot be read together can still be taken out. */
  showAdded() {
    const shape = JSON.stringify(["added", this.lines]);
    if (this.shape === shape) return;
    this.shape = shape;
    this.list.replaceChildren(...this.lines.map((line) => made("p", { class: "line" }, line, this.dropButton(line))));
  }

  dropButton(line) {
    return made("button", { type: "button", class: "quiet step", "aria-label": `Take out: ${line}`,
      title: "Take this want out", onclick: () => this.drop(line) }, "×");
  }

  showRows(readings) {
    const shape = JSON.stringify(readings.map(({ want }) => [want.name, want.line]));
    if (shape !== this.shape) {
      this.shape = shape;
      this.cells = readings.map(() => Array.from({ length: 4 }, () => made("td", {})));
      const rows = readings.map(({ want }, i) => made("tr", {}, made("th", { scope: "row" }, want.name,
        // The name of one that was said here has it in it, but for the mark or the cheek.
        want.line && !/ at |cheek/.test(want.of) ? null : made("span", { class: "of" }, want.of), want.line && this.source.live ? this.dropButton(want.line) : null),
      this.cells[i]));
      this.list.replaceChildren(made("table", {}, made("thead", {}, made("tr", {}, ["Want", "Wanted", "Now", "±", ""]
        .map((head) => (head ? made("th", { scope: "col" }, head)
          : made("td", {}, made("span", { class: "unseen" }, "Met or missed")))))), made("tbody", {}, rows)));
    }
    readings.forEach((each, i) => {
      const [value, error] = standingTexts(each);
      const texts = [wantedText(each.want), value, error.replace("± ", ""), missText(each)];
      this.cells[i].forEach((cell, j) => say(cell, texts[j]));
      this.cells[i][3].dataset.met = String(each.met);
      this.cells[i][3].className = "standing";
    });
  }

  showSolver(some) {
    const { store } = this;
    this.solver.hidden = !some;
    const lamps = store.lamps.filter((each) => each.sort === "lamp").map((each) => each.name);
    const key = JSON.stringify([store.option, lamps]);
    if (key === this.keptOf) return;
    this.keptOf = key;
    this.keeping.replaceChildren(...lamps.map((name) => made("label", { class: "check" },
      made("input", { type: "checkbox", checked: this.holds.has(name), onchange: (event) =>
        this.holds[event.target.checked ? "add" : "delete"](name) }), name)));
    this.answer.replaceChildren();
    const { faces } = store.optionNow, [camera] = store.optionNow.cameras;
    const said = [...faces.flatMap((face) => [`lit side ${face} 0`, `shadow side ${face} -2`, `ratio ${face} 4:1`,
      `colour ${face} 3600 K`]), `background ${camera.name} at most -2`];
    this.said.replaceChildren(...said.map((value) => made("option", { value })));
    say(this.how, `In a line, in stops from the working stop: '${said[0]}', '${said.at(-1)}', 'thing back wall at most `
      + "-1.5', 'meter desk -1'. It stays on this page; to keep it with the scene write there for example "
      + `'wants: [{name: face, lit_side: ${faces[0] ?? "clerk"}, stops: 0}]'.`);
  }

  /** Lamps of the option that are to stay as they are, for as long as the page is open. */
  get holds() {
    const { option } = this.store;
    if (!this.held.has(option)) this.held.set(option, new Set());
    return this.held.get(option);
  }

  // Levels

  /** Have the levels worked out and set them, as one step that can be undone. */
  async balance() {
    const { store, source } = this, { option } = store;
    if (!this.data?.wants.length || this.working) return;
    this.working = true;
    this.work.disabled = true;
    this.tell(["Working out levels…"]);
    const look = store.look({ alone: false });
    try {
      const found = await source.json("balance.json", { option, look, wants: this.lines, rule: this.aim.value,
        few: this.few.checked ? 1 : undefined, hold: [...this.holds] });
      if (option !== store.option || JSON.stringify(look) !== JSON.stringify(store.look({ alone: false }))
          || found.edition !== store.scene.edition)
        this.tell(["Lamps were moved meanwhile, and nothing is set. Work it out again."]);
      else this.take(found);
    } catch (fault) {
      this.tell(fault.message ? [fault.message] : []);
    }
    this.working = false;
    this.work.disabled = false;
  }

  take(found) {
    const { store } = this, values = {};
    for (const [name, fields] of Object.entries(found.lamps))
      values[lampKey(store.option, name)] = store.with(lampKey(store.option, name), fields,
        store.lamps.find((each) => each.name === name));
    for (const [name, fields] of Object.entries(found.cameras)) {
      const written = store.optionNow.cameras.find((each) => each.name === name);
      if (written) values[cameraKey(store.option, name)] = store.with(cameraKey(store.option, name), fields, written);
    }
    store.set(values, `balance ${performance.now()}`);
    const set = found.changes ? `Set: ${found.changes}.` : "Nothing has to move.";
    // That all are met stands over the list.
    this.tell(found.met ? [set] : [found.said[0], set, ...found.said.slice(1)]);
  }

  tell(sentences) {
    this.answer.replaceChildren(...sentences.map((each) => made("p", {}, each)));
  }
}
