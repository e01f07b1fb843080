// Small pictures of the looks that are kept, as the program has them.

export const SMALL_WIDTH = 240;
const SMALL_AT_ONCE = 2;

/** Small pictures of looks, by what they are of: each is asked for once, and again when better frames come. */
export class SmallPictures {
  constructor(source, told) {
    this.source = source;
    this.told = told;
    this.known = new Map();
    this.waiting = [];
    this.asking = 0;
  }

  keyOf({ option, camera, look }) {
    return JSON.stringify([option, camera, look]);
  }

  /** What there is of a look: {address}, {words} where it cannot be had, {} while it is on its way. */
  of(kept) {
    const key = this.keyOf(kept);
    if (!this.known.has(key)) this.ask(key, kept);
    return this.known.get(key);
  }

  ask(key, { option, camera, look }) {
    const before = this.known.get(key);
    if (!before) this.known.set(key, { option, camera });
    this.waiting = this.waiting.filter((each) => each.key !== key);
    this.waiting.push({ key, query: { option, camera, look, quick: 1, width: SMALL_WIDTH } });
    this.next();
  }

  async next() {
    if (this.asking >= SMALL_AT_ONCE || !this.waiting.length) return;
    const { key, query } = this.waiting.shift(), entry = this.known.get(key);
    this.asking += 1;
    try {
      const { option, camera, look } = query, stop = look.cameras?.[camera]?.stop;
      const { key: there } = await this.source.json("frames.json", { option, camera, stop, look: { moves: look.moves ?? {} } });
      if (!there) entry.words = "not rendered yet";
      else {
        const picture = await this.source.picture("still.png", query);
        if (entry.address) URL.revokeObjectURL(entry.address);
        // The look may have gone meanwhile.
        if (this.known.get(key) === entry) Object.assign(entry, { address: URL.createObjectURL(picture), words: "" });
      }
    } catch (fault) {
      entry.words = fault.message;
    }
    this.asking -= 1;
    this.told();
    this.next();
  }

  /** Better frames have come of a camera. */
  better(option, camera) {
    for (const [key, entry] of this.known)
      if (entry.option === option && entry.camera === camera) {
        const [, , look] = JSON.parse(key);
        this.ask(key, { option, camera, look });
      }
  }

  /** Let go of pictures that are of no look any more, or of all: the scene was read again. */
  keepOnly(looks) {
    const keys = new Set(looks.map((each) => this.keyOf(each)));
    this.waiting = this.waiting.filter((each) => keys.has(each.key));
    for (const [key, entry] of this.known)
      if (!keys.has(key)) {
        if (entry.address) URL.revokeObjectURL(entry.address);
        this.known.delete(key);
      }
  }
}
