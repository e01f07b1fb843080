// The picture follows the hand: a coarse picture of what was moved, again and again, until frames of it come.

const DROPPED_MS = 60;
const STILL_MS = 250;
const READY_MS = 50000;

/** Asks for coarse pictures of what is moved, and says when the hand rests. */
export class Hand {
  constructor(store, source, table, hooks) {
    this.store = store;
    this.source = source;
    this.table = table;
    this.hooks = hooks;
    this.page = Math.random().toString(36).slice(2);
    this.movesOf = this.moves;
    this.asking = false;
    this.rest = null;
    this.able = source.live;
  }

  get moves() {
    return JSON.stringify([this.store.option, this.store.moves]);
  }

  /** What a coarse picture is of; a page with a GPU mixes levels and exposes for itself. */
  get wish() {
    const { option, camera, moves, lamps } = this.store;
    const mixed = this.table.gpu ? lamps.map((each) => this.table.colourOf(each.name)) : this.store.look();
    return JSON.stringify([option, camera, moves, mixed]);
  }

  /** True from a move until frames of it can be looked for. */
  get busy() {
    return this.asking || this.rest !== null;
  }

  /** Something on the page has changed; true where the hand has moved something, and is followed. */
  follow() {
    const moved = this.movesOf !== this.moves;
    this.movesOf = this.moves;
    // Moved back: that is there.
    if (this.table.stands && this.table.coarse) this.table.dropCoarse();
    if (!this.able || this.table.stands || !(moved || this.table.coarse)) return false;
    if (!moved && this.wish === this.shown) return false;
    clearTimeout(this.rest);
    this.rest = null;
    if (!this.asking) this.ask();
    return moved;
  }

  /** There are no frames yet of things as they stand: a coarse picture serves until then. */
  begin() {
    if (this.able && !this.busy && !this.table.coarse) this.ask();
  }

  /** Another option or camera is looked at. */
  placed() {
    this.movesOf = this.moves;
    this.shown = undefined;
    if (this.rest === null) return;
    clearTimeout(this.rest);
    this.rest = null;
    this.source.holding(null);
  }

  /** Something is taken in hand on the plan, or let go. */
  held() {
    const { holding } = this.store;
    if (!this.able) {
      // Nothing follows the hand; what was moved is looked at once it is let go.
      if (!holding) this.hooks.rested();
      return;
    }
    if (holding) this.getReady(holding.section === "lights" ? [holding.name] : [], true);
    else if (!this.asking) this.restSoon();
  }

  /** Get ready when a hand comes near what things are moved on; the renderer ends when nothing is moved for long. */
  watch(element) {
    for (const near of ["pointerenter", "focusin"])
      element.addEventListener(near, () => {
        const now = performance.now();
        if (now - (this.readyAt ?? -Infinity) < READY_MS || this.busy) return;
        this.readyAt = now;
        this.getReady();
      });
  }

  /** Have the renderer begin: what takes it longest is done before anything is moved. */
  getReady(lamps = [], held = false) {
    const { option, camera } = this.store;
    if (this.able) this.source.holding(option, camera, this.store.look({ alone: false }), lamps, held);
  }

  /** Ask, round after round, for as long as there is anything new to come. */
  async ask() {
    this.asking = true;
    let of, rounds = 0;
    try {
      for (;;) {
        const { wish, place } = this;
        if (this.table.stands) break;
        if (wish !== of) rounds = 0;
        of = wish;
        const got = await this.askOnce(rounds);
        // What is moved there has its own turn, if there are no frames of it.
        if (this.place !== place) break;
        if (got.dropped) await new Promise((done) => setTimeout(done, DROPPED_MS));
        else {
          rounds = got.rounds;
          if (!this.table.stands) this.table.putCoarse(got);
          this.shown = of;
          if (got.last && this.wish === of) break;
        }
      }
    } catch (fault) {
      // There may be no such scene; what is shown is then as things stood before.
      if (this.table.coarse) this.table.coarse.past = true;
      this.shown = undefined;
      this.hooks.notice(fault.message);
    }
    this.asking = false;
    this.restSoon();
  }

  get place() {
    return `${this.store.option}\n${this.store.camera}`;
  }

  askOnce(rounds) {
    const { option, camera } = this.store;
    const query = { option, camera, look: this.store.look(), base: this.table.base, rounds, page: this.page };
    return this.source.numbers("coarse", this.table.gpu ? query : { ...query, png: 1 });
  }

  /** Frames can be looked for once nothing has been moved for a moment, and nothing is held. */
  restSoon() {
    clearTimeout(this.rest);
    this.rest = setTimeout(() => {
      this.rest = null;
      if (this.store.holding || this.asking) return;
      this.source.holding(null);
      this.hooks.rested();
    }, STILL_MS);
  }
}
