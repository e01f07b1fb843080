// The page: puts the parts together and lets them know of each other.

import { actsOf, keysOf } from "./acts.js";
import { byId, made, say } from "./dom.js";
import { Beside } from "./beside.js";
import { Big } from "./big.js";
import { DifferList } from "./differs.js";
import { Finder } from "./finder.js";
import { GroupPanel } from "./groups.js";
import { Hand } from "./hand.js";
import { HeldSpots } from "./held_spots.js";
import { Keys } from "./keys.js";
import { LookStrip } from "./looks.js";
import { CameraPanel } from "./panel_camera.js";
import { LampPanel } from "./panel_lamps.js";
import { PlanPanel } from "./panel_plan.js";
import { SpotTable } from "./panel_spots.js";
import { WalkPanel } from "./panel_walk.js";
import { WantPanel } from "./panel_wants.js";
import { GpuPicture } from "./picture.js";
import { PlainPicture } from "./plain.js";
import { listenToHand } from "./pointing.js";
import { ReadingPanel } from "./readings.js";
import { catchDrops, openTake } from "./sending.js";
import { SidePanel } from "./sides.js";
import { FileSource, LiveSource } from "./source.js";
import { SpotPanel } from "./spot.js";
import { Store } from "./store.js";
import { Table } from "./table.js";
import { TopRow, ViewRow } from "./rows.js";
import { watchTouch } from "./touch.js";
import { WavePanel } from "./waveform.js";
import { ZonePanel } from "./zones.js";

const METERS_MS = 150;
const WAVE_MS = 120;
const FIGURES_MS = 100;
const NOTICE_MS = 12000, LONG_NOTICE = 90;

class Page {
  constructor(source) {
    this.source = source;
    this.standing = { event: "looking" };
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
    // What was moved may not fit an edit of the file; the plan says so.
    this.view = await source.json("view.json", { option, camera, look: { moves } })
      .catch(() => source.json("view.json", { option }));
    this.store.send = (values) => {
      source.keep(values);
      if (!this.linked || !source.live) this.showWork();
    };
    for (const id of ["notice", "fault"]) byId(`${id}-close`).addEventListener("click", () => this.hush(id));
    this.store.left = (keys) => this.notice(`Another page has changed ${keys.map(keyText).join(" and ")} since; `
      + "that stays as it is.");
    watchTouch();
    if (source.live) catchDrops((text) => openTake(this.store, source, (said) => this.notice(said), text));
    this.makePicture();
    this.hand = new Hand(this.store, source, this.table, {
      notice: (text) => this.fault(text), rested: () => this.handRested() });
    this.lamps = new LampPanel(this.store, source);
    this.groups = new GroupPanel(this.store, () => this.finder.open());
    this.differs = new DifferList(this.store);
    this.finder = new Finder(this.store, (number) => this.goToLamp(number), () => this.goToMaster());
    this.camera = new CameraPanel(this.store, source);
    this.readings = new ReadingPanel(this.store);
    const framesNow = () => this.table.framesNow;
    this.spot = new SpotPanel(this.store, source, framesNow, (shares) => this.lamps.shares(shares));
    this.spots = new HeldSpots(this.store, source, { framesNow, coloursNow: () => this.lampColours,
      changed: () => this.spotTable.show(), notice: (text) => this.notice(text) });
    this.spotTable = new SpotTable(this.store, this.spots, () => this.picture.element.focus({ preventScroll: true }));
    this.wave = new WavePanel(this.store);
    this.wants = new WantPanel(this.store, source);
    this.walk = new WalkPanel(this.store, source);
    this.looks = new LookStrip(this.store, source, (text) => this.notice(text), (text) => this.fault(text));
    this.sides = new SidePanel(this);
    this.plan = new PlanPanel(this.store, source);
    this.hand.watch(byId("plan"));
    const acts = actsOf(this);
    this.top = new TopRow(this.store, source, acts);
    this.views = new ViewRow(this.store, source, acts);
    this.beside = new Beside();
    this.big = new Big(this);
    this.zones = new ZonePanel(this.store, source, {
      count: () => this.countZones(),
      redraw: () => {
        this.table.touch();
        this.show();
      },
    });
    this.keys = new Keys(keysOf(this, acts));
    byId("frame").append(this.picture.element, this.spot.ring, this.spotTable.marks.element, ...this.looks.parts,
      this.views.line, this.sides.box);
    listenToHand(this.picture.element, this.spot, this.spots);
    // How much of the window what is always in sight takes up.
    const sizes = new ResizeObserver((all) => {
      for (const { target, borderBoxSize: [{ blockSize }] } of all)
        document.documentElement.style.setProperty(`--${target.id}`, `${Math.ceil(blockSize)}px`);
    });
    for (const id of ["sight", "frame", "foot", "news", "head", "tools"]) sizes.observe(byId(id));
    this.store.listen((what, keys) => this.heard(what, keys));
    this.heardPlace();
    source.open((message) => this.receive(message).catch((fault) => this.fault(fault.message)));
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
    this.picture.element.setAttribute("aria-label", "The picture. Arrow keys move the spot meter, Enter holds a spot.");
    this.picture.element.classList.add("picture");
    this.table = new Table(this.store, this.source, this.picture, {
      notice: (text) => this.fault(text),
      frames: (frames) => this.showFrames(frames),
      loaded: () => this.showLoaded(),
      drawn: (moving, rate) => this.showDrawn(moving, rate),
      resting: () => this.rested(),
      settled: (note) => {
        this.settledNote = note;
        this.showState("settled", note);
        this.countZones();
      },
      coarse: () => this.showLoaded(),
    });
    if (this.hand) this.hand.table = this.table;
    this.table.covered = Boolean(this.sides?.cells.length);
    this.picture.element.addEventListener("picturelost", () => setTimeout(() => {
      const before = this.picture.element;
      this.table.close();
      this.makePicture();
      before.replaceWith(this.picture.element);
      listenToHand(this.picture.element, this.spot, this.spots);
      this.table.load();
      this.table.followPin();
    }, 500));
  }

  // Hearing

  /** Something in the store has changed; of changes which, null for all. */
  heard(what, keys) {
    if (what === "place") {
      this.heardPlace();
      return;
    }
    if (what === "holding") {
      this.hand.held();
      return;
    }
    // Spots change nothing of the picture.
    if (what === "changes" && keys?.length && keys.every((key) => key.startsWith("spots|"))) this.spots.ask();
    else if (what === "changes") {
      this.store.zoneShares = null;
      // What is in the hand is followed; frames are looked for when it rests.
      const busy = this.hand.follow() || this.hand.busy || this.store.holding;
      if (!busy && this.looksAt !== this.lookedAt) this.showPlace();
      this.table.changed();
      this.table.followPin(this.pinningHere);
      this.sides.changed();
      this.zones.ask();
      if (!this.hand.busy && !this.store.holding) this.askAfterChange();
      if (!keys || keys.some((key) => key.startsWith("spots|"))) this.spots.ask();
    } else {
      this.table.touch();
      this.sides.viewed();
      this.countZones();
    }
    this.show();
  }

  /** What is read of the set takes work that the hand needs; it is asked for when that rests. */
  askAfterChange() {
    this.metersSoon();
    this.walk.askSoon();
  }

  /** What was moved rests: frames of it are looked for. */
  handRested() {
    if (this.looksAt !== this.lookedAt) this.showPlace();
    else this.table.loadSoon(0);
    this.askAfterChange();
    this.show();
  }

  /** Count the zones of the picture once it is the one that stays. */
  countZones() {
    const settled = this.table.settledAs || (!this.source.live && !this.table.moving);
    if (settled && !this.store.zoneShares) this.zones.count(this.table);
  }

  /** What decides which frames are shown. */
  get looksAt() {
    const { option, camera, cameraNow, moves } = this.store;
    return JSON.stringify([option, camera, cameraNow.stop, moves]);
  }

  heardPlace() {
    this.store.zoneShares = null;
    const place = new URLSearchParams({ option: this.store.option, camera: this.store.camera });
    history.replaceState(null, "", `#${place}`);
    this.hand.placed();
    this.showPlace();
    this.show();
    this.table.placed();
    this.table.followPin();
    this.loadMeters();
    this.walk.ask();
    this.zones.ask();
    this.askSpots();
  }

  /** Read all spots again that are not of what is shown. */
  askSpots() {
    this.spot.show();
    this.spotTable.show();
    this.spot.ask();
    this.spots.ask();
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
    } else if (message.event === "change") {
      this.store.apply(message.changes);
      // The file says now what these said: to undo them here would say it once more.
      if (message.taken) this.store.forget(Object.keys(message.changes));
    } else if (message.event === "notice") this.fault(message.text);
    else if (message.event === "spoilt") this.spoilt(message.text);
    else if (message.event === "scene") {
      this.spoilt("");
      // What went wrong with the scene of before is not wrong with this one.
      this.hush("fault");
      await this.sceneAgain();
    } else if (["progress", "done", "paused", "failed", "idle", "off", "held", "looking"].includes(message.event)) this.showWorkOf(message);
  }

  showWorkOf(message) {
    this.standing = message;
    if (message.event === "off" && this.hand) this.hand.able = false;
    this.showWork();
    const { order } = message;
    if (message.event === "failed") this.fault(message.text);
    if (message.event === "held" && !byId("spoilt").textContent) this.spoilt(message.text, true);
    else if (message.event !== "held" && this.spoiltByRenders) this.spoilt("");
    if (this.table.frames && (!this.table.frames.key || this.table.behind)) this.showFrames(this.table.frames);
    const done = message.event === "done", here = order?.option === this.store.option && !this.hand?.busy;
    if (order?.do === "frames" && here && order.camera === this.store.camera
        && (done || ["rendered", "cleaning"].includes(message.step))) this.table.loadSoon(done ? 0 : 300);
    if (order?.do === "frames" && (done || ["rendered", "cleaning"].includes(message.step))) {
      if (message.step !== "cleaning") this.looks.better(order.option, order.camera);
      this.sides.better(order.option, order.camera, done ? 0 : 300);
    }
    if (order?.do === "meters" && done) this.sides.loadMeters();
    if (order?.do === "meters" && here && (done || message.share > 0)) this.metersSoon(400);
    if (order?.do === "wants" && here && (done || message.share > 0)) this.metersSoon(400);
    if (order?.do === "walk" && here && done) this.walk.ask();
    if (message.event === "idle" && !this.hand?.busy) this.table.loadSoon(0);
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
    this.looks.forget();
    this.lamps.key = "";
    this.camera.build();
    this.plan.forget();
    this.top.build();
    this.table.forget();
    this.heardPlace();
  }

  /** Say for as long as it is so that the scene file cannot be read. */
  spoilt(text, byRenders = false) {
    this.spoiltByRenders = byRenders;
    say(byId("spoilt"), text && `The page shows the scene as it was before:\n${text}`);
  }

  // Meters

  /** What the meters' light and the wants depend on: levels need no asking, but tungsten changes colour as it fades. */
  get coloursNow() {
    return JSON.stringify([this.store.option, this.store.moves, this.wants.lines, this.lampColours]);
  }

  /** Colours of the lamps as what is asked of the program depends on them; a file has those that it was made with. */
  get lampColours() {
    return !this.source.live ? "" : JSON.stringify(this.store.lamps.map((each) => {
      const lamp = this.store.lamp(each.name);
      return [lamp.cct, lamp.duv, lamp.gel, lamp.fades_warm && lamp.level];
    }));
  }

  metersSoon(wait = METERS_MS) {
    if (!this.source.live) return;
    if (wait === METERS_MS && !this.metersTimer && this.coloursNow === this.metersOf) return;
    clearTimeout(this.metersTimer);
    this.metersTimer = setTimeout(() => {
      this.loadMeters();
      this.askSpots();
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
      // Figures that stay as they were are no longer on their way, and are asked for again with the next change.
      this.metersOf = undefined;
      this.fault(fault.message);
    }
    this.metersRequest = null;
    this.showFigures();
  }

  // Showing

  /** Show what has changed with the next picture; figures follow a moving hand a little slower. */
  show() {
    this.readings.behind(true, Boolean(this.metersTimer || this.metersRequest));
    this.showing ??= requestAnimationFrame(() => {
      this.showing = undefined;
      this.lamps.show();
      this.groups.show();
      this.differs.show();
      this.beside.show();
      this.big.show();
      this.camera.show(this.table.frames);
      this.top.show();
      this.views.show();
      this.looks.show();
      this.sides.show();
      this.zones.show();
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
    this.spotTable.show();
    const waits = Boolean(this.metersTimer || this.metersRequest);
    this.readings.behind(Boolean(this.showing || this.figuresTimer || waits), waits);
    // Lines over the picture ask the readings whether they wait.
    this.big.showReadings();
  }

  showFrames(frames) {
    const there = Boolean(frames.key || this.table.coarse);
    if (!there && Object.keys(this.store.moves).length) this.hand?.begin();
    this.showAspect();
    this.picture.element.hidden = !there && !this.table.behind;
    this.showWaiting(there && this.table.shownPlace !== undefined);
    this.showCautions(frames);
    this.camera.show(frames);
    this.askSpots();
    // Frames that are looked for again leave the picture at rest as it is.
    if (this.table.isSettled) this.showState("settled", this.settledNote);
    else this.showState("live");
  }

  /** Say over the picture what is still to come, or that what is shown is from before. */
  showWaiting(shown) {
    const box = byId("waiting"), behind = this.table.behind ?? "";
    box.hidden = shown && !behind;
    box.dataset.behind = behind;
    const coming = { off: "Nothing is rendered while this runs.", failed: "That could not be rendered.",
      held: "Rendering waits until the scene file can be read." }[this.standing.event];
    if (behind) {
      const what = behind === "edit" ? "This is the scene before the edit." : "This is the set before the last move.";
      say(box, `${what} ${coming ?? "The picture of it as it is now is being rendered…"}`);
    } else if (!shown) say(box, coming ?? "The first picture is being rendered…");
  }

  showAspect() {
    document.documentElement.style.setProperty("--aspect", String(this.sides.aspect ?? this.store.cameraNow.aspect));
  }

  /** The line at the foot has the most urgent first; it opens to all that is said of each, and its source. */
  showCautions({ briefs = [], cautions = [] }) {
    byId("cautions").hidden = !briefs.length;
    const line = briefs.join(" ");
    if (byId("cautions-brief").textContent === line) return;
    say(byId("cautions-brief"), line);
    this.big.showCautions(line);
    byId("cautions-whole").replaceChildren(...cautions.map((each) => made("li", {}, each)));
  }

  showLoaded() {
    this.showWaiting(true);
    // Without a program the look compared with is mixed from the lamps that have come now.
    if (!this.source.live) {
      this.table.repin();
      this.looks.mixHere((look, width, height) => this.table.smallHere(look, width, height));
    }
    this.picture.element.hidden = false;
    this.askSpots();
  }

  showDrawn(moving, rate) {
    this.showWaiting(true);
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
    this.countZones();
    byId("rate").textContent = "";
    if (this.table.stands) this.askSpots();
  }

  showState(state, note = "") {
    const { frames } = this.table;
    if (this.table.short) {
      this.showShort();
      return;
    }
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

  /** Say what a picture is that is not, or not yet, of frames of things as they stand. */
  showShort() {
    const { coarse, short } = this.table;
    byId("drawn").dataset.state = short;
    if (short === "behind") {
      say(byId("drawn"), "As it stood before the last move.");
      return;
    }
    const { lamps, whole, width, height, samples } = coarse;
    const which = whole ? "all lamps" : lamps.length ? `${lamps.join(", ")}; the other lamps as they stood`
      : "the lamps that are left as they stood";
    say(byId("drawn"), `Coarse, follows the hand: ${width} × ${height}, ${samples} ${samples === 1 ? "sample" : "samples"}, ${which}.`);
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
      const words = { idle: "Everything is rendered.", off: "Nothing is rendered while this runs.",
        looking: "Seeing what is still to be rendered…",
        held: "Rendering waits until the scene file can be read." };
      say(box, this.source.live ? words[event] ?? "" : this.source.words);
      return;
    }
    const whose = { meters: "meters", wants: "what is wanted", walk: `walk of ${order.figure}` }[order.do]
      ?? `camera ${order.camera}`;
    const what = [order.option, whose, order.quality].filter(Boolean).join(", ");
    const time = left ? `, about ${left < 90 ? `${Math.ceil(left)} s` : `${Math.ceil(left / 60)} min`} left` : "";
    say(box, `${what}: ${step} ${Math.round(100 * share)} %${time}`);
  }

  /** Tell the person something that went well or is to be known; what takes time to read stays until it is closed. */
  notice(text) {
    this.tell("notice", text, text?.length < LONG_NOTICE ? NOTICE_MS : 0);
  }

  /** Tell the person what went wrong, at once and until it is closed. */
  fault(text) {
    this.tell("fault", text, 0);
  }

  tell(id, text, ms) {
    if (!text) return;
    byId(id).textContent = text;
    byId(`${id}-close`).hidden = false;
    clearTimeout(this.timers?.[id]);
    if (ms) (this.timers ??= {})[id] = setTimeout(() => this.hush(id), ms);
  }

  hush(id) {
    byId(id).textContent = "";
    byId(`${id}-close`).hidden = true;
  }

  // Doing

  /** Where the hand finds a lamp's level: over the picture in full screen, else in its column. */
  goToLamp(number) {
    (this.big.on ? this.big : this.lamps).focus(number);
  }

  goToMaster() {
    if (this.big.on) this.big.focus(0);
    else this.groups.focus();
  }

  figure(figure) {
    this.lamps.figure(figure, (number) => this.goToLamp(number));
  }
}

/** Whose change it is, of its key: 'key', 'camera A', 'group front'. */
function keyText(key) {
  const parts = key.split("|");
  if (parts.length < 2) return key === "pin" ? "the look compared with" : key;
  const name = parts.at(-1);
  return { camera: `camera ${name}`, wants: "what is wanted" }[parts[1]] ?? (parts[0] === "group" ? `group ${name}` : name);
}

const handout = byId("handout");
const source = handout ? new FileSource(JSON.parse(handout.textContent)) : new LiveSource();
document.documentElement.classList.toggle("handed", Boolean(handout));
new Page(source).start().catch((fault) => {
  console.error(fault);
  byId("waiting").replaceChildren(made("strong", {}, "The page could not begin. "), fault.message);
});
