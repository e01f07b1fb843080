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
    this.now = this.next = null;
    this.scratch = document.createElement("canvas");
  }

  get width() {
    return this.size[0];
  }

  get height() {
    return this.size[1];
  }

  /** Draw what is looked at; resolves when that is on screen. One after the other: the last wish wins. */
  draw(moving) {
    if (this.now) {
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
    const { store } = this, { mode, wipe } = store.view, pin = store.pin;
    const query = { option: store.option, camera: store.camera, look: store.look() };
    const than = pin && { than: pin.look, than_option: pin.option, than_camera: pin.camera };
    const path = mode === "map" ? "map.png" : mode === "difference" && pin ? "difference.png" : "still.png";
    const quick = moving && path === "still.png" ? { quick: 1 } : {};
    await this.put(this.image, path, { ...query, ...(path === "difference.png" ? than : {}), ...quick });
    this.size = [this.image.naturalWidth, this.image.naturalHeight];
    const wiping = wipe !== null && pin && mode !== "difference";
    if (wiping && this.underOf !== JSON.stringify([pin, path])) {
      await this.put(this.under, path, { option: pin.option, camera: pin.camera, look: pin.look });
      this.underOf = JSON.stringify([pin, path]);
    }
    this.under.hidden = !wiping;
    this.under.style.clipPath = wiping ? `inset(0 ${100 * (1 - wipe)}% 0 0)` : "";
  }

  /** Show a small picture that has come. */
  async putCoarse({ kind, halves }) {
    this.coarse = true;
    await this.putBlob(this.image, new Blob([halves], { type: kind }));
    this.size = [this.image.naturalWidth, this.image.naturalHeight];
  }

  dropCoarse() {
    this.coarse = false;
  }

  async put(image, path, query) {
    await this.putBlob(image, await this.source.picture(path, query));
  }

  async putBlob(image, blob) {
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
