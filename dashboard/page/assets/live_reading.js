// The reading as it comes in while a standard is being connected: its size over frequency, and its
// place in the unit circle. The last few sweeps stay behind it, paler: where they are one line, it
// is steady.

import { say, svg } from "./element.js";
import { METRICS, curve } from "./metrics.js";
import { Axis, ALL, GAP_MHZ, roundTicks, sweptStretches } from "./plot_axis.js";
import { pathOf } from "./strip_scale.js";

const KEPT = 6; // sweeps drawn, the newest included
const [LEFT, TOP, BOTTOM] = [40, 8, 20];
const METRIC = { ...METRICS.loss, bottom: 40, top: -2, ticks: [0, 10, 20, 30, 40] };

export class LiveReading {
  #root;
  #words;
  #kept = []; // {sequence, loss, trace}, oldest first
  #grid = null;
  #standard = "";

  constructor(root, words) {
    this.#root = root;
    this.#words = words;
    this.svg = svg("svg", { role: "img", "aria-label": "The reading now" });
    root.replaceChildren(this.svg);
  }

  show({ header, gridMhz, trace }) {
    if (!gridMhz || !trace) return;
    const standard = header.session?.step?.standard ?? "";
    if (gridMhz !== this.#grid || standard !== this.#standard) [this.#kept, this.#grid, this.#standard] = [[], gridMhz, standard];
    if (this.#kept.at(-1)?.sequence !== header.sequence) {
      this.#kept = [...this.#kept, { sequence: header.sequence, loss: curve(trace, METRIC), trace }].slice(-KEPT);
    }
    const [width, height] = [this.#root.clientWidth, this.#root.clientHeight];
    if (width < 160 || height < 80) return;
    this.#draw(width, height);
    const what = header.plane === "raw" ? "The reading now, as the analyzer sends it" : "The reading now, by the calibration in use";
    say(this.#words, `${what}: return loss in dB, and its place in the unit circle. One thin line: it is steady.`);
  }

  #draw(width, height) {
    const round = Math.min(height - 8, width * 0.3);
    const right = width - round - 18;
    const bottom = height - BOTTOM;
    const axis = new Axis(sweptStretches(this.#grid, []), ALL, LEFT, right);
    const y = (value) => TOP + ((Math.min(Math.max(value, METRIC.top), METRIC.bottom) - METRIC.top) / (METRIC.bottom - METRIC.top)) * (bottom - TOP);
    const text = (label, at) => {
      const made = svg("text", at);
      made.textContent = label;
      return made;
    };
    const [cx, cy, r] = [width - round / 2 - 4, height / 2, round / 2 - 2];
    const place = (g, i) => `${(cx + r * g[2 * i]).toFixed(1)} ${(cy - r * g[2 * i + 1]).toFixed(1)}`;
    const turn = (g) => Array.from(this.#grid, (mhz, i) => `${i === 0 || mhz - this.#grid[i - 1] > GAP_MHZ ? "M" : "L"}${place(g, i)}`).join("");
    const age = (i) => (i === this.#kept.length - 1 ? "now" : "before");
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.replaceChildren(
      ...METRIC.ticks.flatMap((value) => [
        ...axis.pieces.map((piece) => svg("line", { class: "grid", x1: piece.left, x2: piece.right, y1: y(value), y2: y(value) })),
        text(`${value}`, { x: LEFT - 6, y: y(value) + 4, "text-anchor": "end" }),
      ]),
      ...axis.pieces.flatMap((piece) => roundTicks(piece.low, piece.high, Math.max(Math.floor((piece.right - piece.left) / 80), 1)).map((mhz) => text(`${mhz}`, { x: piece.x(mhz), y: bottom + 15, "text-anchor": "middle" }))),
      svg("circle", { class: "frame", cx, cy, r }),
      svg("path", { class: "grid", d: `M${cx - r} ${cy}H${cx + r}M${cx} ${cy - r}V${cy + r}` }),
      ...this.#kept.map(({ loss }, i) => svg("path", { class: `trace ${age(i)}`, d: axis.pieces.map((piece) => pathOf(this.#grid, loss, piece, y)).join("") })),
      ...this.#kept.map(({ trace }, i) => svg("path", { class: `trace ${age(i)}`, d: turn(trace) })),
    );
  }
}
