// The bands on the bench: one large, the worst or the one that was tapped, and every link a line,
// the worst first. What stands still is drawn when the plan, the metric or a size changes; a frame
// moves only paths and rings, and words change with the moment that they are taken from.

import { LargeBand, patterns } from "./large_band.js";
import { Lines } from "./lines.js";

const WORSE_DB = 0.5; // another band becomes the large one where it is worse by so much
const SEVERITY = ["fail", "conditional fail", "not measured", "conditional pass", "pass", "withheld"];

export class Strips {
  #root;
  #large = null;
  #lines = null;
  #key = "";
  #chosen = null; // a band's name, once it was tapped
  #worst = null;
  #last = null;
  #resized;

  constructor(root) {
    this.#root = root;
    this.#resized = new ResizeObserver(() => this.#again());
    root.before(patterns());
  }

  // frame : what is drawn; words : the frame that words and figures are taken from.
  show(frame, words, metricName) {
    this.#last = [frame, words, metricName];
    const bands = words.header.strips;
    const key = JSON.stringify(bands.map(fixedPart));
    if (key !== this.#key) {
      this.#key = key;
      this.#make(bands);
    }
    if (bands.length === 0) return;
    this.#worst = worstOf(bands, this.#worst);
    if (!bands.some(({ name }) => name === this.#chosen)) this.#chosen = null;
    const name = this.#chosen ?? this.#worst;
    const at = bands.findIndex((band) => band.name === name);
    this.#large.show(bands[at], frame.header.strips[at] ?? bands[at], frame, metricName, this.#chosen !== null);
    this.#lines.show(bands, frame, name);
  }

  #make(bands) {
    this.#resized.disconnect();
    this.#lines?.stop();
    this.#root.dataset.count = bands.reduce((sum, { links }) => sum + links.length, 0);
    if (bands.length === 0) return this.#root.replaceChildren();
    this.#large = new LargeBand();
    this.#lines = new Lines(bands, (name) => this.#pick(name));
    this.#root.replaceChildren(this.#large.panel, this.#lines.panel);
    this.#resized.observe(this.#large.plot);
  }

  // A tap opens a band large; a second one on the same goes back to whichever is the worst.
  #pick(name) {
    this.#chosen = this.#chosen === name ? null : name;
    this.#again();
  }

  #again() {
    if (this.#last) this.show(...this.#last);
  }
}

function fixedPart({ name, note, links }) {
  return [name, note, links.map(({ link, low_mhz, high_mhz, limit }) => [link, low_mhz, high_mhz, limit])];
}

// The band that is shortest of its limit. It stays while no other is worse by more than a little.
function worstOf(bands, before) {
  const rated = bands.map(({ name, links }) => ({ name, rate: Math.min(...links.map(rateOf)) }));
  const worst = rated.reduce((a, b) => (b.rate < a.rate ? b : a));
  const kept = rated.find(({ name }) => name === before);
  return kept && kept.rate - worst.rate < WORSE_DB ? before : worst.name;
}

// What a link is sorted by: the margin; a link without one by how severe its state is.
export function rateOf({ state, margin_db }) {
  if (margin_db !== null) return margin_db;
  return state === "not measured" ? -1 : 100 + SEVERITY.indexOf(state);
}
