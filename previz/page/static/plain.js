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
    const { store } = this, { mode, wipe } = store.view, pin = store.pin;
    const query = { option: store.option, camera: store.camera, look: store.look() };
    const than = pin && { than: pin.look, than_option: pin.option, than_camera: pin.camera };
    const path = mode === "map" ? "map.png" : mode === "difference" && pin ? "difference.png" : "still.png";
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
    if (wiping && this.underOf !== JSON.stringify([pin, path])) {
      await this.put(this.under, path, { option: pin.option, camera: pin.camera, look: pin.look });
      this.underOf = JSON.stringify([pin, path]);
    }
    this.under.hidden = !wiping;
    this.under.style.clipPath = wiping ? `inset(0 ${100 * (1 - wipe)}% 0 0)` : "";
    return !moving;
  }

  async put(image, path, query, options) {
    const blob = await this.source.picture(path, query, options);
    const address = URL.createObjectURL(blob);
    const before = image.src;
    image.src = address;
    await image.decode();
    if (before) URL.revokeObjectURL(before);
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
