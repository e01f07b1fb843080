// The waveform: for every column of the picture how many of its pixels have which level on screen.

import { byId, made } from "./dom.js";

const COLUMNS = 240, ROWS = 135, HEIGHT = 128;
const WEIGHTS = [0.2126, 0.7152, 0.0722];

/** Counts by column and level: luma in one plane, or red, green and blue in three. */
export function waveform(codes, columns, rows, parade) {
  const planes = parade ? 3 : 1, counts = new Uint16Array(planes * columns * 256);
  for (let i = 0, pixel = 0; i < rows; i++)
    for (let column = 0; column < columns; column++, pixel += 4) {
      if (parade) for (let c = 0; c < 3; c++) counts[(c * columns + column) * 256 + codes[pixel + c]] += 1;
      else {
        const luma = WEIGHTS[0] * codes[pixel] + WEIGHTS[1] * codes[pixel + 1] + WEIGHTS[2] * codes[pixel + 2];
        counts[column * 256 + Math.round(luma)] += 1;
      }
    }
  return counts;
}

export class WavePanel {
  constructor(store) {
    this.store = store;
    this.canvas = made("canvas", { width: COLUMNS, height: HEIGHT, role: "img",
      "aria-label": "Waveform of the still" });
    this.choice = made("select", { "aria-label": "Waveform shows", onchange: () => {
      store.setView({ waveform: this.choice.value });
    } }, made("option", { value: "luma" }, "Luma"), made("option", { value: "rgb" }, "Red, green, blue"),
    made("option", { value: "off" }, "Off"));
    byId("wave-form").replaceChildren(this.choice, made("div", { class: "graph" }, this.canvas,
      ...[0, 25, 50, 75, 100].map((percent) =>
        made("span", { class: "mark", style: `--at: ${percent}` }, `${percent} %`))));
  }

  get size() {
    return [COLUMNS, ROWS];
  }

  draw(codes) {
    const shown = this.store.view.waveform;
    const pen = this.canvas.getContext("2d");
    const parade = shown === "rgb", wide = parade ? 3 * COLUMNS : COLUMNS;
    if (this.canvas.width !== wide) this.canvas.width = wide;
    const image = pen.createImageData(wide, HEIGHT);
    image.data.fill(255);
    if (codes && shown !== "off") {
      const counts = waveform(codes, COLUMNS, ROWS, parade);
      const inks = parade ? [[255, 110, 100], [110, 220, 120], [120, 150, 255]] : [[214, 208, 196]];
      for (let x = 0; x < wide; x++) {
        const ink = inks[Math.floor(x / COLUMNS)];
        for (let y = 0; y < HEIGHT; y++) {
          const from = x * 256 + 2 * (HEIGHT - 1 - y);
          const many = counts[from] + counts[from + 1];
          const bright = many ? Math.min(1, 0.25 + many / 12) : 0, at = 4 * (y * wide + x);
          for (let c = 0; c < 3; c++) image.data[at + c] = 16 + bright * (ink[c] - 16);
        }
      }
    } else for (let i = 0; i < image.data.length; i += 4) image.data.fill(16, i, i + 3);
    pen.putImageData(image, 0, 0);
  }
}
