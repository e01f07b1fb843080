// The picture where a browser cannot mix: the server draws it, small under a moving hand.

import { made } from "./dom.js";

const SMALL = 320;

export class PlainPicture {
  constructor(source, store) {
    this.kind = "plain";
    this.source = source;
    this.store = store;
    this.image = made("img", { alt: "" });
    this.under = made("img", { alt: "", class: "under", hidden: true });
    this.element = made("div", { class: "plain" }, this.image, this.under);
    this.pin = null;
    this.coarse = false;
    // Whether there are frames of things as they stand; without them there is nothing to draw.
    this.stands = () => true;
    this.size = [0, 0];
    this.now = this.next = this.slow = null;
    /** Frames that the picture is of, by their key. */
    this.key = null;
    this.scratch = document.createElement("canvas");
  }

  get width() {
    return this.size[0];
  }

  get height() {
    return this.size[1];
  }

  /**
   * Draw what is looked at; resolves when that is on screen, to true where it is the picture at rest.
   * One after the other: the last wish wins, and a moving hand does not wait for a picture at rest.
   */
  draw(moving) {
    if (this.now) {
      if (moving) this.slow?.abort();
      this.next ??= this.now.catch(() => {}).then(() => {
        this.next = null;
        return this.draw(this.nextMoves);
      });
      this.nextMoves = moving;
      return this.next;
    }
    this.now = this.drawOnce(moving).finally(() => {
      this.now = null;
    });
    return this.now;
  }

  async drawOnce(moving) {
    // The coarse picture stays until there are frames of what was moved.
    if (this.coarse || !this.stands()) return;
    const { store } = this, { mode, wipe } = store.viewNow, pin = store.pin?.look ? store.pin : null;
    const query = { option: store.option, camera: store.camera, look: store.look() };
    const than = pin && { than: pin.look, than_option: pin.option, than_camera: pin.camera };
    const path = mode === "map" ? "map.png" : mode === "difference" && pin ? "difference.png" : "still.png";
    if (path === "map.png") query.map = store.changes.zones;
    const whole = { ...query, ...(path === "difference.png" ? than : {}), ...(moving ? { quick: 1 } : {}) };
    // A picture at rest takes the program a second: it is not asked for twice.
    const shownAs = JSON.stringify([path, whole, this.key, store.scene.edition]);
    if (moving || shownAs !== this.shownAs) {
      const slow = moving ? null : new AbortController();
      this.slow = slow;
      try {
        await this.put(this.image, path, whole, { signal: slow?.signal });
      } catch (fault) {
        if (slow?.signal.aborted) return false;
        throw fault;
      } finally {
        this.slow = null;
      }
      this.shownAs = shownAs;
    }
    this.size = [this.image.naturalWidth, this.image.naturalHeight];
    const wiping = wipe !== null && pin && mode !== "difference";
    if (wiping && this.underOf !== JSON.stringify([pin, path, query.map])) {
      await this.put(this.under, path, { option: pin.option, camera: pin.camera, look: pin.look, map: query.map });
      this.underOf = JSON.stringify([pin, path, query.map]);
    }
    this.under.hidden = !wiping;
    this.under.style.clipPath = wiping ? `inset(0 ${100 * (1 - wipe)}% 0 0)` : "";
    return !moving;
  }

  /** Show a small picture that has come. */
  async putCoarse({ kind, halves }) {
    this.coarse = true;
    this.shownAs = null;
    await this.putBlob(this.image, new Blob([halves], { type: kind }));
    this.size = [this.image.naturalWidth, this.image.naturalHeight];
  }

  dropCoarse() {
    this.coarse = false;
  }

  async put(image, path, query, options) {
    await this.putBlob(image, await this.source.picture(path, query, options));
  }

  async putBlob(image, blob) {
    const address = URL.createObjectURL(blob);
    const before = image.src;
    image.src = address;
    await image.decode();
    if (before) URL.revokeObjectURL(before);
  }

  close() {
    for (const image of [this.image, this.under]) if (image.src) URL.revokeObjectURL(image.src);
    this.element.remove();
  }

  /** Screen codes in a small size, RGBA rows. */
  small(width, height) {
    if (!this.size[0] || this.store.view.mode !== "still") return null;
    this.scratch.width = Math.min(SMALL, width);
    this.scratch.height = height;
    const pen = this.scratch.getContext("2d", { willReadFrequently: true });
    pen.drawImage(this.image, 0, 0, width, height);
    return pen.getImageData(0, 0, width, height).data;
  }
}
