// Where the page gets what it shows: from the program's server, or from the file that it is in.

import { halfOf } from "./light.js";

/** Takes apart an answer that is a note followed by numbers. */
function unframed(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const note = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 4, length)));
  return { ...note, halves: new Uint16Array(buffer, 4 + length) };
}

/** The program's server: answers over HTTP, changes and progress over one socket. */
export class LiveSource {
  constructor() {
    this.live = true;
    this.pending = new Map();
    this.number = 0;
    this.socket = null;
    this.wait = 500;
    this.hear = () => {};
  }

  async ask(path, query = {}, options = {}) {
    const given = Object.entries(query).filter(([, value]) => value !== undefined && value !== null);
    const text = new URLSearchParams(given.map(([key, value]) =>
      [key, typeof value === "object" ? JSON.stringify(value) : String(value)]));
    const answer = await fetch(`${path}?${text}`, { cache: "no-store", ...options }).catch((fault) => {
      // The socket lets the person know that the program is gone; once is enough.
      throw fault.name === "AbortError" ? fault : new Error("");
    });
    if (!answer.ok) throw new Error(await answer.text());
    return answer;
  }

  async json(path, query, options) {
    return (await this.ask(path, query, options)).json();
  }

  async numbers(path, query, options) {
    return unframed(await (await this.ask(path, query, options)).arrayBuffer());
  }

  async picture(path, query, options) {
    return (await this.ask(path, query, options)).blob();
  }

  async save(body) {
    const answer = await fetch("save", { method: "POST", body: JSON.stringify(body),
      headers: { "content-type": "application/json" } });
    if (!answer.ok) throw new Error(await answer.text());
    return answer.json();
  }

  // The socket

  open(hear) {
    this.hear = hear;
    const address = new URL("link", location.href);
    address.protocol = "ws:";
    address.search = address.hash = "";
    this.socket = new WebSocket(address);
    this.socket.addEventListener("open", () => {
      this.wait = 500;
      this.hear({ event: "linked" });
    });
    this.socket.addEventListener("message", (event) => {
      const message = JSON.parse(event.data);
      if (message.event === "kept") this.pending.delete(message.number);
      if (message.refused !== undefined) this.pending.delete(message.refused);
      if (message.event === "changes") {
        // What the server has not yet confirmed goes on top, and is sent once more, as one.
        const waiting = Object.assign({}, ...this.pending.values());
        this.pending.clear();
        Object.assign(message.changes, waiting);
        if (Object.keys(waiting).length) this.keep(waiting);
      }
      // Another page's value has come before this page's own, which is still on its way there.
      if (message.event === "change")
        for (const changes of this.pending.values())
          for (const key of Object.keys(changes)) delete message.changes[key];
      this.hear(message);
    });
    this.socket.addEventListener("close", () => {
      this.hear({ event: "unlinked" });
      setTimeout(() => this.open(this.hear), this.wait);
      this.wait = Math.min(8000, this.wait * 2);
    });
  }

  say(message) {
    if (this.socket?.readyState === WebSocket.OPEN) this.socket.send(JSON.stringify(message));
  }

  /** Send changes; they stay pending until the server has them on disk. */
  keep(changes) {
    this.number += 1;
    this.pending.set(this.number, changes);
    this.say({ say: "change", number: this.number, changes });
  }

  lookingAt(option, camera, stop, moves) {
    this.say({ say: "looking", option, camera, stop, moves });
  }

  /** Something is held to be moved, these lamps of it, or soon will be; null for the option: nothing is any more. */
  holding(option, camera, look, lamps, held) {
    this.say({ say: "holding", option, camera, look, lamps, held });
  }
}

async function inflated(text) {
  const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

/**
 * Undo the packing of one lamp: for each of Y, X - Y and Z - Y the low bytes of all pixels and then
 * the high ones. They say by how much a pixel misses the plane through its neighbours to the left,
 * above, and left above (of the first row and column: its one neighbour), the sign in the lowest
 * bit. X, Y and Z are the bits of half floats over a power of two.
 */
export function unpacked(bytes, width, height, shift) {
  const pixels = width * height, halves = new Uint16Array(3 * pixels);
  const planes = [new Int32Array(pixels), new Int32Array(pixels), new Int32Array(pixels)];
  for (let plane = 0; plane < 3; plane++) {
    const values = planes[plane], from = 2 * plane * pixels;
    for (let i = 0, row = 0; row < height; row++)
      for (let column = 0; column < width; column++, i++) {
        const folded = bytes[from + i] | (bytes[from + pixels + i] << 8);
        let expected = 0;
        if (row && column) expected = values[i - 1] + values[i - width] - values[i - width - 1];
        else if (column) expected = values[i - 1];
        else if (row) expected = values[i - width];
        values[i] = expected + ((folded >> 1) ^ -(folded & 1));
      }
  }
  const [y, x, z] = planes;
  for (let i = 0; i < pixels; i++) {
    halves[3 * i] = (y[i] + x[i]) << shift;
    halves[3 * i + 1] = y[i] << shift;
    halves[3 * i + 2] = (y[i] + z[i]) << shift;
  }
  return halves;
}

/** A page that was saved as one file: everything is in it. */
export class FileSource {
  constructor(handout) {
    this.live = false;
    this.handout = handout;
    this.unpackedOf = null;
    this.unpackedLamps = new Map();
  }

  async json(path, query = {}) {
    const { scene, view, meters, wants, shots, changes } = this.handout;
    if (path === "scene.json") return scene;
    if (path === "view.json") return view;
    if (path === "meters.json") return meters;
    if (path === "wants.json") return wants;
    if (path === "changes.json") return changes;
    if (path === "frames.json") return shots.find((shot) => shot.camera === query.camera).frames;
    if (path === "spot.json") {
      const { spots: [spot], ...head } = this.spotsAt(query.camera, [[query.x, query.y]]);
      return { ...head, ...spot };
    }
    if (path === "spots.json") return this.spotsAt(query.camera, query.at);
    throw new Error(`This file holds no ${path}.`);
  }

  /** Spots as the program answers them: held ones as they were packed, others read off the pictures. */
  spotsAt(camera, places) {
    const shot = this.handout.shots.find((each) => each.camera === camera);
    const { width } = shot.spots, fades = new Map(shot.lamps.map((each) => [each.name, each.fade]));
    const spots = places.map(([x, y]) => {
      const held = shot.spots.held.find((each) => each.x === x && each.y === y);
      const { thing, parts } = held ?? { thing: null, parts: this.partsAt(camera, shot, x, y, width) };
      return { thing, parts: parts.map((part) => ({ ...part, fade: fades.get(part.lamp) })) };
    });
    return { key: shot.frames.key, width, spots };
  }

  /** What each lamp gives at a spot at full level, off its packed picture, whose noise is not known. [cd/m²] */
  partsAt(camera, shot, x, y, share) {
    if (this.unpackedOf !== camera || this.unpackedLamps.size < shot.lamps.length) throw new Error("not unpacked yet");
    const { width, height } = shot.frames, { reference } = this.handout.scene.options[0].cameras.find((each) => each.name === camera);
    const across = x * (width - 1), down = y * (height - 1), radius = Math.max(1.5, (share / 2) * width);
    const pixels = [];
    for (let row = Math.max(0, Math.ceil(down - radius)); row <= Math.min(height - 1, down + radius); row++)
      for (let column = Math.max(0, Math.ceil(across - radius)); column <= Math.min(width - 1, across + radius); column++)
        if ((row - down) ** 2 + (column - across) ** 2 <= radius ** 2) pixels.push(3 * (row * width + column));
    return shot.lamps.map(({ name }) => {
      const halves = this.unpackedLamps.get(name);
      const xyz = [0, 1, 2].map((c) => pixels.reduce((sum, at) => sum + halfOf(halves[at + c]), 0)
        / (pixels.length * this.handout.gain * reference));
      return { lamp: name, xyz, stderr: null, bands: null };
    });
  }

  async numbers(path, query) {
    const shot = this.handout.shots.find((each) => each.camera === query.camera);
    const lamp = shot.lamps.find((each) => each.name === query.lamp);
    const bytes = await inflated(document.getElementById(lamp.id).textContent.trim());
    const { width, height } = shot.frames, halves = unpacked(bytes, width, height, this.handout.shift);
    // Spots are read off the pictures of one camera at a time.
    if (this.unpackedOf !== query.camera) this.unpackedLamps.clear();
    this.unpackedOf = query.camera;
    this.unpackedLamps.set(query.lamp, halves);
    return { width, height, fade: lamp.fade, clean: true, key: shot.frames.key, gain: this.handout.gain, halves };
  }

  open(hear) {
    hear({ event: "changes", changes: { ...this.handout.changes }, edition: this.handout.scene.edition });
  }

  keep() {}

  lookingAt() {}
}
