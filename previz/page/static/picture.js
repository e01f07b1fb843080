// The picture, mixed and shown on this machine's GPU.
//
// Every lamp's light at full level lies in one layer of a half-float texture. Mixing adds them,
// each by its level; the sum stays linear, and one pass turns it into what is looked at: the still,
// the exposure map, the difference. While one lamp moves, the sum of the others is kept, so a drag
// costs one lamp.

import { Gpu } from "./gpu.js";
import { UNIT, inverse, scaled } from "./light.js";
import {
  COPY_SHADER, CUBE, QUICK_SHADER, bandShader, coarseShader, mixShader, stillShader,
} from "./shaders.js";

const AT_ONCE = 12;
const MOST_BANDS = 48;
const MOST_VIEWS = 4;
const SLOW_MS = 40, FAST_MS = 6;
const NOTHING = [0, 0, 0, 0, 0, 0, 0, 0, 0];

/** What to leave off, step by step, where a hand is not followed: [transform, parts of the size]. */
const EASES = [["whole", 1], ["cube", 1], ["cube", 2], ["cube", 3], ["cube", 4]];

export class GpuPicture extends Gpu {
  /** The picture, or null where this browser cannot mix. */
  static make(view, tables) {
    const canvas = document.createElement("canvas");
    const gl = canvas.getContext("webgl2", { alpha: false, antialias: false, depth: false,
      powerPreference: "high-performance", preserveDrawingBuffer: false });
    if (!gl) return null;
    const whole = gl.getExtension("EXT_color_buffer_float");
    if (!whole && !gl.getExtension("EXT_color_buffer_half_float")) return null;
    try {
      return new GpuPicture(canvas, gl, whole ? gl.RGBA32F : gl.RGBA16F, view, tables);
    } catch (fault) {
      console.warn("The GPU cannot draw the picture:", fault);
      return null;
    }
  }

  constructor(canvas, gl, format, view, tables) {
    super(gl, format);
    this.kind = "gpu";
    this.element = canvas;
    this.tables = tables;
    this.quick = this.program("quick", QUICK_SHADER);
    this.bands = this.program("bands", bandShader(MOST_BANDS));
    this.views = new Map();
    this.addView(view);
    this.useView(view.key);
    this.lamps = null;
    this.coarse = null;
    this.sums = null;
    this.settled = null;
    this.pin = null;
    this.others = { lamp: null, key: "" };
    this.ease = 0;
    this.stride = 1;
    canvas.addEventListener("webglcontextlost", (event) => {
      if (this.lost) return;
      event.preventDefault();
      this.lost = true;
      canvas.dispatchEvent(new CustomEvent("picturelost", { bubbles: true }));
    });
  }

  // How pictures are shown: each camera may have a view of its own

  hasView(key) {
    return this.views.has(key);
  }

  /** Make a view ready; those that were not used for longest go. */
  addView(view) {
    const still = this.program(`still ${view.key}`, stillShader(view));
    const tables = [...view.tables.map((each) => this.tableTexture(each)),
      ...view.cubes.map((each) => this.cubeTexture(each))];
    this.views.set(view.key, { key: view.key, still, tables, cube: this.drawnCube(still, tables) });
    for (const [key, old] of this.views) {
      if (this.views.size <= MOST_VIEWS) break;
      if (key === view.key || key === this.shown?.key || key === this.pin?.view) continue;
      [old.cube, ...old.tables.map((each) => each.texture)].forEach((each) => this.gl.deleteTexture(each));
      this.gl.deleteProgram(old.still.made);
      this.programs.delete(`still ${key}`);
      this.views.delete(key);
    }
  }

  /** Show what is looked at by a view that is ready. */
  useView(key) {
    if (!this.views.has(key)) return;
    this.shown = this.views.get(key);
    this.views.delete(key);
    this.views.set(key, this.shown);
  }

  /** The transform as a cube, for machines that are too slow for the whole of it. */
  drawnCube({ made, at }, tables) {
    const gl = this.gl, texture = this.texture(gl.TEXTURE_3D, gl.LINEAR);
    gl.texParameteri(gl.TEXTURE_3D, gl.TEXTURE_WRAP_R, gl.CLAMP_TO_EDGE);
    gl.texStorage3D(gl.TEXTURE_3D, 1, gl.RGBA8, CUBE, CUBE, CUBE);
    const frame = gl.createFramebuffer();
    gl.useProgram(made);
    this.bindTables(at, tables);
    [at("nowLight"), at("pinLight")].forEach((place, i) => this.bind(place, i, gl.TEXTURE_2D, this.nothing()));
    gl.viewport(0, 0, CUBE, CUBE);
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    for (let layer = 0; layer < CUBE; layer++) {
      gl.framebufferTextureLayer(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, texture, 0, layer);
      gl.uniform1f(at("layer"), layer);
      gl.drawArrays(gl.TRIANGLES, 0, 3);
    }
    gl.deleteFramebuffer(frame);
    return texture;
  }

  bindTables(at, tables) {
    tables.forEach((table, i) => this.bind(at(table.sampler), 8 + i, table.target, table.texture));
  }

  // Lamps

  /** Begin a set of lamps of a size; it takes the place of the one before when all are there. */
  newLamps(names, width, height) {
    const gl = this.gl, texture = this.texture(gl.TEXTURE_2D_ARRAY);
    gl.texStorage3D(gl.TEXTURE_2D_ARRAY, 1, gl.RGB16F, width, height, Math.max(1, names.length));
    return { texture, names, width, height, gain: 1, fades: names.map(() => []) };
  }

  /** Put one lamp's light into a set. */
  putLamp(set, name, halves, fade) {
    const gl = this.gl, layer = set.names.indexOf(name);
    gl.activeTexture(gl.TEXTURE15);
    gl.bindTexture(gl.TEXTURE_2D_ARRAY, set.texture);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 2);
    gl.texSubImage3D(gl.TEXTURE_2D_ARRAY, 0, 0, 0, layer, set.width, set.height, 1, gl.RGB,
      gl.HALF_FLOAT, halves);
    set.fades[layer] = fade ?? [];
    this.others.key = "";
  }

  /** Put lamps' light in a small size in the place of what there is of them, until `useLamps`. */
  putCoarse({ lamps, width, height, halves, fades }) {
    const gl = this.gl;
    this.dropCoarse();
    const texture = this.texture(gl.TEXTURE_2D_ARRAY, gl.LINEAR);
    gl.texStorage3D(gl.TEXTURE_2D_ARRAY, 1, gl.RGB16F, width, height, Math.max(1, lamps.length));
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 2);
    if (lamps.length)
      gl.texSubImage3D(gl.TEXTURE_2D_ARRAY, 0, 0, 0, 0, width, height, lamps.length, gl.RGB, gl.HALF_FLOAT, halves);
    this.coarse = { texture, names: lamps, fades };
    this.dropSettled();
    this.others.key = this.mixedOf = "";
  }

  dropCoarse() {
    if (this.coarse) this.gl.deleteTexture(this.coarse.texture);
    this.coarse = null;
    this.others.key = this.mixedOf = "";
  }

  /** Names of the lamps that `mix` has matrices for: those of the set, and those that are new since. */
  get mixed() {
    const { names } = this.lamps, more = this.coarse?.names ?? [];
    return [...names, ...more.filter((name) => !names.includes(name))];
  }

  /** How a lamp's colour changes as it fades. */
  fadeOf(name) {
    const { names, fades } = this.lamps, own = fades[names.indexOf(name)];
    return own ?? this.coarse?.fades[this.coarse.names.indexOf(name)] ?? [];
  }

  useLamps(set) {
    this.dropCoarse();
    if (this.lamps && this.lamps !== set) this.gl.deleteTexture(this.lamps.texture);
    this.lamps = set;
    this.dropSettled();
    if (!this.sums || this.sums[0].width !== set.width || this.sums[0].height !== set.height) {
      this.sums?.forEach((each) => this.freed(each));
      this.sums = [0, 1, 2].map(() => this.target(set.width, set.height));
    }
    this.others = { lamp: null, key: "" };
    this.mixedOf = "";
    this.last = null;
    this.stride = 1;
  }

  get width() {
    return this.lamps?.width ?? 0;
  }

  get height() {
    return this.lamps?.height ?? 0;
  }

  // Mixing

  /**
   * Sum the lamps, each through its matrix (nine numbers, row by row; null for none of it). Under a
   * `moving` hand a slow machine may sum fewer pixels.
   */
  mix(matrices, moving = false) {
    if (!this.lamps) return;
    this.stride = moving ? EASES[this.ease][1] : 1;
    const key = JSON.stringify([this.stride, matrices]);
    if (key === this.mixedOf) return;
    this.dropSettled();
    const moved = this.movedLamp(matrices);
    if (moved !== null) {
      const rest = matrices.map((each, i) => (i === moved ? null : each));
      const restKey = JSON.stringify([this.stride, rest]);
      if (this.others.lamp !== moved || this.others.key !== restKey) {
        this.sum(rest, this.sums[1], this.sums[2]);
        this.others = { lamp: moved, key: restKey };
      }
      this.add([[moved, matrices[moved] ?? NOTHING]], this.sums[0], this.sums[1]);
    } else {
      this.sum(matrices, this.sums[0], this.sums[2]);
    }
    this.mixedOf = key;
    this.last = matrices;
  }

  /** Which one lamp moves: the only one that differs from the mix before, or the one that did. */
  movedLamp(matrices) {
    if (!this.last || this.last.length !== matrices.length) return null;
    const moved = matrices.flatMap((each, i) =>
      JSON.stringify(each) === JSON.stringify(this.last[i]) ? [] : [i]);
    return moved.length === 1 ? moved[0] : null;
  }

  sum(matrices, into, spare) {
    const all = matrices.flatMap((each, i) => (each ? [[i, each]] : []));
    const parts = [all.filter(([i]) => !this.isCoarse(i)), all.filter(([i]) => this.isCoarse(i))].flatMap((lit) =>
      Array.from({ length: Math.ceil(lit.length / AT_ONCE) }, (_, k) => lit.slice(k * AT_ONCE, (k + 1) * AT_ONCE)));
    if (!parts.length) parts.push([]);
    // The last round has to end in the target given; the two take turns before.
    let from = null;
    parts.forEach((lit, round) => {
      const to = (parts.length - 1 - round) % 2 === 0 ? into : spare;
      this.add(lit, to, from);
      from = to;
    });
  }

  isCoarse(i) {
    return Boolean(this.coarse?.names.includes(this.mixed[i]));
  }

  /** Add lamps, all of them of the set or all coarse, to a sum. */
  add(lit, to, from) {
    const gl = this.gl, count = Math.max(1, lit.length), coarse = lit.length > 0 && this.isCoarse(lit[0][0]);
    const { made, at } = coarse ? this.program(`coarse ${count}`, coarseShader(count))
      : this.program(`mix ${count}`, mixShader(count));
    gl.useProgram(made);
    if (coarse) gl.uniform2f(at("size"), this.lamps.width, this.lamps.height);
    gl.bindFramebuffer(gl.FRAMEBUFFER, to.frame);
    gl.viewport(0, 0, ...this.part(to));
    gl.uniform1i(at("stride"), this.stride);
    this.bind(at("lamps"), 0, gl.TEXTURE_2D_ARRAY, (coarse ? this.coarse : this.lamps).texture);
    this.bind(at("before"), 1, gl.TEXTURE_2D, from ? from.texture : this.nothing());
    gl.uniform1i(at("fresh"), from ? 0 : 1);
    const matrices = new Float32Array(9 * count), layers = new Int32Array(count);
    lit.forEach(([layer, matrix], i) => {
      matrices.set(matrix, 9 * i);
      layers[i] = coarse ? this.coarse.names.indexOf(this.mixed[layer]) : layer;
    });
    gl.uniformMatrix3fv(at("through[0]"), true, matrices);
    gl.uniform1iv(at("layer[0]"), layers);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }

  /** How much of a sum is in use. */
  part(sum) {
    return [Math.ceil(sum.width / this.stride), Math.ceil(sum.height / this.stride)];
  }

  // The picture as `previz render` makes it, and the pinned one

  /** Show a finished picture (linear ACEScg, exposed) until the next change. */
  setSettled(halves, width, height) {
    this.dropSettled();
    this.settled = this.finished(halves, width, height);
  }

  dropSettled() {
    if (this.settled) this.freed(this.settled);
    this.settled = null;
  }

  finished(halves, width, height) {
    const gl = this.gl, texture = this.texture(gl.TEXTURE_2D);
    gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGB16F, width, height);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 2);
    gl.texSubImage2D(gl.TEXTURE_2D, 0, 0, 0, width, height, gl.RGB, gl.HALF_FLOAT, halves);
    return { texture, width, height, frame: null };
  }

  /** What is shown now, as [texture, matrix to ACEScg, row to the luminance signal]. */
  sourceNow(exposure) {
    if (this.settled) {
      const back = inverse(exposure.balance);
      return { texture: this.settled.texture, matrix: UNIT, luma: back.slice(3, 6), part: [1, 1] };
    }
    const [sum] = this.sums, [width, height] = this.part(sum);
    return { texture: sum.texture, matrix: scaled(exposure.balance, exposure.gain),
      luma: [0, exposure.gain, 0], part: [width / sum.width, height / sum.height] };
  }

  /** Keep what is shown now next to it. */
  pinNow(exposure) {
    const gl = this.gl, source = this.sourceNow(exposure);
    const from = this.settled ?? this.sums[0];
    const kept = this.target(from.width, from.height);
    const { made, at } = this.program("copy", COPY_SHADER);
    gl.useProgram(made);
    gl.bindFramebuffer(gl.FRAMEBUFFER, kept.frame);
    gl.viewport(0, 0, kept.width, kept.height);
    this.bind(at("light"), 1, gl.TEXTURE_2D, from.texture);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
    this.dropPin();
    this.pin = { ...kept, matrix: source.matrix, luma: source.luma, view: this.shown.key };
  }

  /** Pin a finished picture that was requested, with the balance it was made by and the view it is shown by. */
  setPin(halves, width, height, balance, view) {
    this.dropPin();
    const luma = inverse(balance).slice(3, 6);
    this.pin = { ...this.finished(halves, width, height), matrix: UNIT, luma, view };
  }

  dropPin() {
    this.freed(this.pin);
    this.pin = null;
  }

  // Showing

  /**
   * Draw what is looked at.
   *
   * `exposure` is {balance: XYZ to ACEScg, gain: over the camera as written}; `view` has mode and
   * wipe; while `moving`, a slow machine may draw less of it.
   */
  draw(exposure, view, moving) {
    if (!this.lamps || this.lost) return;
    const transform = EASES[moving ? this.ease : 0][0];
    const source = this.settled ?? this.sums[0];
    const [width, height] = this.settled ? [source.width, source.height] : this.part(source);
    if (this.element.width !== width || this.element.height !== height) {
      this.element.width = width;
      this.element.height = height;
    }
    this.pass(null, width, height, exposure, view, transform);
  }

  pass(frame, width, height, exposure, view, transform) {
    const gl = this.gl, still = view.mode === "still" || (view.mode === "difference" && !this.pin);
    const wipe = this.pin && view.wipe !== null ? view.wipe : -1;
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    gl.viewport(0, 0, width, height);
    this.drawBy(still, width, height, exposure, view, transform, this.shown, wipe);
    const other = this.views.get(this.pin?.view);
    if (!still || wipe < 0 || !other || other === this.shown) return;
    // The pinned side of the line has a view of its own: its pixels are those whose middle is left of it.
    gl.enable(gl.SCISSOR_TEST);
    gl.scissor(0, 0, Math.max(0, Math.ceil(wipe * width - 0.5)), height);
    this.drawBy(still, width, height, exposure, view, transform, other, wipe);
    gl.disable(gl.SCISSOR_TEST);
  }

  drawBy(still, width, height, exposure, view, transform, by, wipe) {
    const gl = this.gl;
    const { made, at } = still ? (transform === "whole" ? by.still : this.quick) : this.bands;
    gl.useProgram(made);
    const now = this.sourceNow(exposure), pin = this.pin ?? now;
    this.bind(at("nowLight"), 0, gl.TEXTURE_2D, now.texture);
    this.bind(at("pinLight"), 1, gl.TEXTURE_2D, pin.texture);
    gl.uniformMatrix3fv(at("nowMatrix"), true, now.matrix);
    gl.uniformMatrix3fv(at("pinMatrix"), true, pin.matrix);
    gl.uniform3fv(at("nowLuma"), now.luma);
    gl.uniform3fv(at("pinLuma"), pin.luma);
    gl.uniform2fv(at("nowPart"), now.part);
    gl.uniform1f(at("wipe"), wipe);
    if (still && transform === "whole") {
      this.bindTables(at, by.tables);
      gl.uniform1f(at("layer"), -1);
    }
    if (still && transform === "cube") this.bind(at("cube"), 7, gl.TEXTURE_3D, by.cube);
    if (!still) this.setBands(at, view.mode === "difference", view.bands, width, height, by);
    gl.drawArrays(gl.TRIANGLES, 0, 3);
  }

  setBands(at, difference, shown, width, height, by) {
    const gl = this.gl, bands = difference ? this.tables.differences : shown;
    const edges = new Float32Array(MOST_BANDS), colours = new Float32Array(3 * (MOST_BANDS + 1));
    const marks = new Int32Array(MOST_BANDS + 1);
    bands.forEach((band, i) => {
      if (i) edges[i - 1] = difference ? band.low : this.tables.mid_grey * 2 ** band.low;
      colours.set(band.colour.map((code) => code / 255), 3 * i);
      marks[i] = { lines: 1, dots: 2, grey: 3 }[band.mark] ?? 0;
    });
    gl.uniform1fv(at("edges[0]"), edges);
    gl.uniform3fv(at("colours[0]"), colours);
    gl.uniform1iv(at("marks[0]"), marks);
    gl.uniform3fv(at("luma"), this.tables.luma);
    this.bind(at("cube"), 7, gl.TEXTURE_3D, by.cube);
    gl.uniform1i(at("count"), bands.length - 1);
    gl.uniform1i(at("difference"), difference ? 1 : 0);
    gl.uniform1f(at("pitch"), Math.max(6, Math.round(height / 60)));
    gl.uniform2f(at("size"), width, height);
  }

  /** Draw less, or more again, after what a picture has taken. [ms] */
  easeFor(took, moving) {
    if (!moving) {
      // A whole picture that took long betrays a machine without a GPU before a hand moves.
      if (took > 5 * SLOW_MS) this.ease = Math.max(this.ease, 3);
    } else if (took > SLOW_MS && this.ease < EASES.length - 1) this.ease += 1;
    else if (took < FAST_MS && this.ease > 0) this.ease -= 1;
  }

  /** Screen codes of the still in a small size, RGBA rows from the bottom. */
  small(exposure, width, height) {
    if (!this.lamps || this.lost) return null;
    if (!this.smallTarget || this.smallTarget.width !== width || this.smallTarget.height !== height) {
      this.freed(this.smallTarget);
      const gl = this.gl, texture = this.texture(gl.TEXTURE_2D);
      gl.texStorage2D(gl.TEXTURE_2D, 1, gl.RGBA8, width, height);
      const frame = gl.createFramebuffer();
      gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
      gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, texture, 0);
      this.smallTarget = { texture, frame, width, height };
    }
    this.pass(this.smallTarget.frame, width, height, exposure, { mode: "still", wipe: null }, "whole");
    return this.read(width, height);
  }

  /** Give everything back; the picture is not drawn any more. */
  close() {
    this.lost = true;
    this.gl.getExtension("WEBGL_lose_context")?.loseContext();
    this.element.remove();
  }

  /** Every pixel of what is looked at, as it is on screen, RGBA rows from the bottom. */
  pixels(exposure, view) {
    this.draw(exposure, view, false);
    this.gl.bindFramebuffer(this.gl.FRAMEBUFFER, null);
    return this.read(this.element.width, this.element.height);
  }
}
