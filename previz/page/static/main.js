// The page: puts the parts together and lets them know of each other.

import { actsOf, keysOf } from "./acts.js";
import { byId, made, say } from "./dom.js";
import { Keys } from "./keys.js";
import { CameraPanel } from "./panel_camera.js";
import { LampPanel } from "./panel_lamps.js";
import { WalkPanel } from "./panel_walk.js";
import { WantPanel } from "./panel_wants.js";
import { GpuPicture } from "./picture.js";
import { PlainPicture } from "./plain.js";
import { ReadingPanel } from "./readings.js";
import { FileSource, LiveSource } from "./source.js";
import { SpotPanel } from "./spot.js";
import { Store } from "./store.js";
import { Table } from "./table.js";
import { TopRow, ViewRow } from "./rows.js";
import { WavePanel } from "./waveform.js";

const METERS_MS = 150;
const WAVE_MS = 120;
const FIGURES_MS = 100;
const NOTICE_MS = 12000, LONG_NOTICE = 90;

class Page {
  constructor(source) {
    this.source = source;
    this.standing = { event: "idle" };
    this.linked = true;
  }

  async start() {
    const { source } = this;
    const [scene, changes] = await Promise.all(
      ["scene.json", "changes.json"].map((path) => source.json(path)));
    this.store = new Store(scene);
    this.store.apply(changes);
    this.readAddress();
    const { option, camera, moves } = this.store;
    this.view = await source.json("view.json", { option, camera, look: { moves } });
    this.store.send = (values) => {
      source.keep(values);
      if (!this.linked) this.showWork();
    };
    byId("notice-close").addEventListener("click", () => this.closeNotice());
    this.makePicture();
    this.lamps = new LampPanel(this.store, source);
    this.camera = new CameraPanel(this.store, source);
    this.readings = new ReadingPanel(this.store);
    this.spot = new SpotPanel(this.store, source, (shares) => this.lamps.shares(shares));
    this.wave = new WavePanel(this.store);
    this.wants = new WantPanel(this.store, source);
    this.walk = new WalkPanel(this.store, source);
    const acts = actsOf(this);
    this.top = new TopRow(this.store, source, acts);
    this.views = new ViewRow(this.store, source, acts);
    this.keys = new Keys(keysOf(this, acts));
    byId("frame").append(this.picture.element, this.spot.ring, this.views.line);
    this.pointing();
    // How much of the window what is always in sight takes up.
    const sizes = new ResizeObserver((all) => {
      for (const { target, borderBoxSize: [{ blockSize }] } of all)
        document.documentElement.style.setProperty(`--${target.id}`, `${Math.ceil(blockSize)}px`);
    });
    for (const id of ["sight", "foot"]) sizes.observe(byId(id));
    this.store.listen((what) => this.heard(what));
    this.heardPlace();
    source.open((message) => this.receive(message).catch((fault) => this.notice(fault.message)));
    addEventListener("beforeunload", (event) => {
      if (!this.linked && source.pending?.size) event.preventDefault();
    });
    window.previz = this;
  }

  makePicture() {
    const plain = new URLSearchParams(location.search).has("plain");
    const gpu = plain ? null : GpuPicture.make(this.view, this.store.scene.tables);
    if (!gpu && !this.source.live)
      throw new Error("This browser has no WebGL 2, which the dimmers need. Open the file in another one.");
    this.picture = gpu ?? new PlainPicture(this.source, this.store);
    this.picture.element.tabIndex = 0;
    this.picture.element.setAttribute("role", "img");
    this.picture.element.setAttribute("aria-label", "The picture. Arrow keys move the spot meter.");
    this.picture.element.classList.add("picture");
    this.table = new Table(this.store, this.source, this.picture, {
      notice: (text) => this.notice(text),
      frames: (frames) => this.showFrames(frames),
      loaded: () => this.showLoaded(),
      drawn: (moving, rate) => this.showDrawn(moving, rate),
      resting: () => this.rested(),
      settled: (note) => this.showState("settled", note),
    });
    this.picture.element.addEventListener("picturelost", () => setTimeout(() => {
      const before = this.picture.element;
      this.table.close();
      this.makePicture();
      before.replaceWith(this.picture.element);
      this.pointing();
      this.table.load();
      this.table.followPin();
    }, 500));
  }

  // Hearing

  /** Something in the store has changed. */
  heard(what) {
    if (what === "place") {
      this.heardPlace();
      return;
    }
    if (what === "changes") {
      if (this.looksAt !== this.lookedAt) this.showPlace();
      this.table.changed();
      this.table.followPin(this.pinningHere);
      this.metersSoon();
      this.walk.askSoon();
    } else this.table.touch();
    this.show();
  }

  /** What decides which frames are shown. */
  get looksAt() {
    const { option, camera, cameraNow, moves } = this.store;
    return JSON.stringify([option, camera, cameraNow.stop, moves]);
  }

  heardPlace() {
    const place = new URLSearchParams({ option: this.store.option, camera: this.store.camera });
    history.replaceState(null, "", `#${place}`);
    this.showPlace();
    this.show();
    this.table.placed();
    this.table.followPin();
    this.loadMeters();
    this.walk.ask();
    this.spot.ask();
  }

  readAddress() {
    const place = new URLSearchParams(location.hash.slice(1));
    this.store.showPlace({ option: place.get("option") ?? undefined, camera: place.get("camera") ?? undefined });
  }

  showPlace() {
    const first = this.lookedAt === undefined, { option, camera, moves } = this.store;
    this.lookedAt = this.looksAt;
    this.source.lookingAt(option, camera, this.store.cameraNow.stop, moves);
    // Frames of another stop may be there already.
    if (!first) this.table.loadSoon(400);
  }

  /** The server, or the file, has something to say. */
  async receive(message) {
    if (message.event === "linked" || message.event === "unlinked") {
      this.linked = message.event === "linked";
      if (this.linked) this.showPlace();
      this.showWork();
    } else if (message.event === "changes") {
      // If the file is spoilt, that message follows.
      this.spoilt("");
      const gone = Object.keys(this.store.changes).filter((key) => !(key in message.changes));
      this.store.apply({ ...Object.fromEntries(gone.map((key) => [key, null])), ...message.changes });
      // The scene may have been read again while this page had no line.
      if (message.edition !== this.store.scene.edition) await this.sceneAgain();
    } else if (message.event === "change") this.store.apply(message.changes);
    else if (message.event === "notice") this.notice(message.text);
    else if (message.event === "spoilt") this.spoilt(message.text);
    else if (message.event === "scene") {
      this.spoilt("");
      await this.sceneAgain();
    } else if (["progress", "done", "paused", "failed", "idle", "off"].includes(message.event)) this.showWorkOf(message);
  }

  showWorkOf(message) {
    this.standing = message;
    this.showWork();
    const { order } = message;
    if (message.event === "failed") this.notice(message.text);
    const done = message.event === "done", here = order?.option === this.store.option;
    if (order?.do === "frames" && here && order.camera === this.store.camera
        && (done || ["rendered", "cleaning"].includes(message.step))) this.table.loadSoon(done ? 0 : 300);
    if (order?.do === "meters" && here && (done || message.share > 0)) this.metersSoon(400);
    if (order?.do === "wants" && here && (done || message.share > 0)) this.metersSoon(400);
    if (order?.do === "walk" && here && done) this.walk.ask();
    if (message.event === "idle") this.table.loadSoon(0);
    const { pin } = this.store;
    if (done && order?.do === "frames" && order.option === pin?.option && order.camera === pin.camera)
      this.table.repin();
  }

  /** Take over a scene that was read again; of several answers that of the last request counts. */
  async sceneAgain() {
    const request = this.sceneRequest = {};
    const scene = await this.source.json("scene.json");
    if (request !== this.sceneRequest) return;
    this.store.take(scene);
    this.lamps.key = "";
    this.camera.build();
    this.top.build();
    this.table.forget();
    this.heardPlace();
  }

  /** Say for as long as it is so that the scene file cannot be read. */
  spoilt(text) {
    say(byId("spoilt"), text && `The page shows the scene as it was before:\n${text}`);
  }

  // Meters

  /** What the meters' light and the wants depend on: levels need no asking, but tungsten changes colour as it fades. */
  get coloursNow() {
    return JSON.stringify([this.store.option, this.wants.lines, this.store.lamps.map((each) => {
      const lamp = this.store.lamp(each.name);
      return [lamp.cct, lamp.duv, lamp.gel, lamp.fades_warm && lamp.level];
    })]);
  }

  metersSoon(wait = METERS_MS) {
    if (!this.source.live) return;
    if (wait === METERS_MS && !this.metersTimer && this.coloursNow === this.metersOf) return;
    clearTimeout(this.metersTimer);
    this.metersTimer = setTimeout(() => {
      this.loadMeters();
      this.spot.ask();
    }, wait);
  }

  /** Ask for the meters' light in the colours of now; only the answer to the last request counts. */
  async loadMeters() {
    clearTimeout(this.metersTimer);
    this.metersTimer = undefined;
    this.metersOf = this.coloursNow;
    const request = this.metersRequest = {};
    this.wants.load();
    const { option } = this.store;
    try {
      const meters = await this.source.json("meters.json", { option, look: this.store.look({ alone: false }) });
      if (request !== this.metersRequest) return;
      this.readings.take(meters);
    } catch (fault) {
      if (request !== this.metersRequest) return;
      this.metersOf = undefined;
      this.notice(fault.message);
    }
    this.metersAsked = null;
    this.showFigures();
  }

  // Showing

  /** Show what has changed with the next picture; figures follow a moving hand a little slower. */
  show() {
    this.readings.behind(true);
    this.showing ??= requestAnimationFrame(() => {
      this.showing = undefined;
      this.lamps.show();
      this.camera.show(this.table.frames);
      this.top.show();
      this.views.show();
      this.figuresTimer ??= setTimeout(() => {
        this.figuresTimer = undefined;
        this.showFigures();
      }, this.table.moving ? FIGURES_MS : 0);
    });
  }

  showFigures() {
    this.readings.show();
    this.wants.show();
    this.walk.show();
    this.spot.show();
    this.readings.behind(Boolean(this.showing || this.figuresTimer || this.metersTimer || this.metersAsked));
  }

  showFrames(frames) {
    const waiting = byId("waiting");
    const there = Boolean(frames.key);
    waiting.hidden = there && this.table.shownPlace !== undefined;
    if (!there) say(waiting, "The first draft is being rendered…");
    byId("frame").style.setProperty("--aspect", String(this.store.cameraNow.aspect));
    this.picture.element.hidden = !there;
    this.showCautions(frames);
    this.camera.show(frames);
    this.showState("live");
  }

  /** The line at the foot has the most urgent first; it opens to all that is said of each, and its source. */
  showCautions({ briefs = [], cautions = [] }) {
    byId("cautions").hidden = !briefs.length;
    const line = briefs.join(" ");
    if (byId("cautions-brief").textContent === line) return;
    say(byId("cautions-brief"), line);
    byId("cautions-whole").replaceChildren(...cautions.map((each) => made("li", {}, each)));
  }

  showLoaded() {
    byId("waiting").hidden = true;
    this.picture.element.hidden = false;
  }

  showDrawn(moving, rate) {
    byId("waiting").hidden = true;
    const box = byId("rate");
    if (moving && rate !== null) {
      say(box, `${Math.round(rate)} pictures a second`);
      box.dataset.rate = rate.toFixed(1);
    }
    if (!this.table.settledAs) this.showState("live");
    const now = performance.now();
    if (!moving || now - (this.wavedAt ?? 0) > WAVE_MS) {
      this.wavedAt = now;
      this.drawWave(moving);
    }
  }

  drawWave(moving) {
    if (this.store.view.waveform === "off" || (moving && this.picture.ease > 2)) {
      if (!moving) this.wave.draw(null);
      return;
    }
    const [width, height] = this.wave.size;
    const codes = this.picture.kind === "gpu"
      ? this.table.set && this.picture.small(this.table.exposure(), width, height)
      : this.picture.small(width, height);
    this.wave.draw(codes);
  }

  rested() {
    byId("rate").textContent = "";
    this.spot.ask();
  }

  showState(state, note = "") {
    const { frames } = this.table;
    if (!frames?.key) {
      say(byId("drawn"), "");
      return;
    }
    const raw = frames.clean.filter((each) => !each).length;
    const clean = !raw || this.picture.kind !== "gpu" ? ""
      : `; ${raw} of ${frames.clean.length} lamps not yet cleaned for mixing`;
    const how = !this.source.live ? "mixed here" : this.picture.kind === "plain" ? "drawn by the program"
      : state === "settled" ? "as `previz render` makes it" : "mixed here";
    byId("drawn").dataset.state = state;
    const what = `${frames.quality}, ${frames.width} × ${frames.height}, ${frames.samples} samples`;
    const seen = frames.seen ? `; ${frames.seen}` : "";
    say(byId("drawn"), `${what}; ${how}${seen}${clean}. ${note}`);
  }

  showWork() {
    const box = byId("work");
    if (!this.linked) {
      const only = this.source.pending.size ? "what you change from now on is on this page alone"
        : "everything so far is kept";
      say(box, `The program has stopped; ${only}. Start \`previz page\` again to go on.`);
      box.setAttribute("aria-live", "polite");
      box.dataset.state = "unlinked";
      return;
    }
    const { event, order, step, share, left_s: left } = this.standing;
    box.dataset.state = event;
    // A count that runs on would be read out again and again.
    box.setAttribute("aria-live", event === "progress" ? "off" : "polite");
    if (event !== "progress") {
      const words = { idle: "Everything is rendered.", off: "Nothing is rendered while this runs." };
      say(box, this.source.live ? words[event] ?? "" : "");
      return;
    }
    const whose = { meters: "meters", wants: "what is wanted", walk: `walk of ${order.figure}` }[order.do]
      ?? `camera ${order.camera}`;
    const what = [order.option, whose, order.quality].filter(Boolean).join(", ");
    const time = left ? `, about ${left < 90 ? `${Math.ceil(left)} s` : `${Math.ceil(left / 60)} min`} left` : "";
    say(box, `${what}: ${step} ${Math.round(100 * share)} %${time}`);
  }

  /** Tell the person something; what takes time to read stays until it is closed. */
  notice(text) {
    if (!text) return;
    byId("notice").textContent = text;
    byId("notice-close").hidden = false;
    clearTimeout(this.noticeTimer);
    if (text.length < LONG_NOTICE) this.noticeTimer = setTimeout(() => this.closeNotice(), NOTICE_MS);
  }

  closeNotice() {
    byId("notice").textContent = "";
    byId("notice-close").hidden = true;
  }

  // Doing

  pointing() {
    const { element } = this.picture;
    const at = (event) => {
      const box = element.getBoundingClientRect();
      return [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
    };
    element.addEventListener("pointermove", (event) => {
      if (this.source.live && (event.pointerType === "mouse" || event.buttons)) this.spot.point(...at(event));
    });
    element.addEventListener("pointerdown", (event) => this.source.live && this.spot.point(...at(event)));
    element.addEventListener("keydown", (event) => {
      const along = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (!along || !this.source.live) return;
      event.preventDefault();
      const step = event.shiftKey ? 0.05 : 0.01, from = this.store.view.spot ?? { x: 0.5, y: 0.5 };
      this.spot.point(from.x + along[0] * step, from.y + along[1] * step);
    });
  }
}

const handout = byId("handout");
const source = handout ? new FileSource(JSON.parse(handout.textContent)) : new LiveSource();
document.documentElement.classList.toggle("handed", Boolean(handout));
new Page(source).start().catch((fault) => {
  console.error(fault);
  byId("waiting").replaceChildren(made("strong", {}, "The page could not begin. "), fault.message);
});
