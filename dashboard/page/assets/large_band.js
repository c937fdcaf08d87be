// One band, large: the trace in its band of uncertainty, the limit as the edge of a grey block that
// the trace must hang below, and the curve expected after the step. Names stand outside the plot.

import { html, say, showing, svg } from "./element.js";
import { mark } from "./marks.js";
import { METRICS, curve, sizesCurve } from "./metrics.js";
import { pathOf, placed, stretchesOf } from "./strip_scale.js";

const [LEFT, RIGHT, TOP] = [30, 10, 8];
const [TICKS, NAME_ROW] = [18, 15]; // px beneath the plot: the edges in MHz, and each row of names
const LETTER_PX = 6.6;
const SHALLOW_DB = 30; // of the scale where limits are modest; else its own
const VSWR_ROOM = 1.75; // the scale of VSWR ends at so many times the limit
const EDGE_PX = 40;

export class LargeBand {
  #drawn = "";
  #scales = [];
  #links = [];

  constructor() {
    this.plot = svg("svg", { class: "plot", role: "img" });
    this.name = html("h2", {});
    this.overall = html("span", { class: "overall" });
    this.worst = html("span", { class: "worst" });
    this.margin = html("strong", { class: "margin" });
    this.label = html("span", { class: "metric" });
    this.legend = html("span", { class: "legend" });
    this.panel = html(
      "article",
      { class: "large" },
      html("header", {}, this.name, this.overall, this.margin, this.worst),
      html("p", { class: "key", "aria-hidden": "true" }, this.label, this.legend),
      this.plot,
    );
  }

  // band : its words and figures; drawn : the same band of the frame that is drawn.
  show(band, drawn, frame, metricName, chosen) {
    const metric = scaled(METRICS[metricName] ?? METRICS.loss, band.links);
    this.panel.dataset.state = band.state;
    this.panel.dataset.band = band.name;
    say(this.name, band.name);
    this.name.title = [band.note, chosen ? "" : "The worst band."].filter(Boolean).join(" ");
    showing(this.overall, [band.state, band.words], ([state, words]) => [mark(state, words)]);
    const worst = band.links.reduce((a, b) => ((b.margin_db ?? Infinity) < (a.margin_db ?? Infinity) ? b : a));
    const link = worst.link === "both" || band.links.length === 1 ? "" : `${worst.link}, `;
    say(this.worst, worst.worst ? `${link}${worst.worst.words}` : "");
    this.worst.title = worst.trust ?? "";
    say(this.margin, worst.margin_with_doubt ?? "");
    this.margin.title = worst.margin_words ?? "";
    say(this.label, `${metric.label}, over MHz`);
    const { width, height } = this.plot.getBoundingClientRect();
    if (width < 60 || height < 60) return;
    const layout = JSON.stringify([width, height, metric.label, metric.top, metric.bottom, band.name, band.links.map((each) => [each.low_mhz, each.high_mhz, each.limit])]);
    if (layout !== this.#drawn) {
      this.#drawn = layout;
      this.plot.setAttribute("aria-label", `Trace in ${band.name}`);
      this.#drawStill(band.links, width, height, metric);
    }
    this.#drawTraces(drawn, frame, metric);
  }

  #drawStill(links, width, height, metric) {
    const right = width - RIGHT;
    this.#links = links;
    this.#scales = placed(stretchesOf(links), LEFT, right);
    const names = this.#names(links, right);
    const rows = Math.max(...names.map(({ row }) => row)) + 1;
    const bottom = height - TICKS - NAME_ROW * rows - 2;
    const along = (metric.bottom - metric.top) / (bottom - TOP);
    // Beyond the scale a trace runs along its edge and does not leave the picture.
    this.y = (value) => Math.min(Math.max(TOP + (value - metric.top) / along, TOP), bottom);
    this.bottom = bottom;
    const each = (make) => this.#scales.map(make);
    this.intervals = each(() => svg("path", { class: "interval" }));
    this.floors = each(() => svg("path", { class: "floor" }));
    this.afters = each(() => svg("path", { class: "after" }));
    this.helds = each(() => svg("path", { class: "held" }));
    this.traces = each(() => svg("path", { class: "trace" }));
    this.rings = links.map(() => svg("circle", { class: "worst", r: 5 }));
    this.plot.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.plot.replaceChildren(
      ...links.map((link) => this.#block(link, metric)),
      ...metric.ticks.map((value) => this.#gridLine(value, right, metric)),
      ...each(({ left, right: end }) => svg("rect", { class: "frame", x: left, y: TOP, width: end - left, height: bottom - TOP })),
      ...this.floors,
      ...this.intervals,
      ...links.map((link) => this.#limit(link, metric)),
      ...this.#edges(links, bottom),
      ...names.map(({ text, x, row, link }) => label("link-name", text, x, bottom + TICKS + NAME_ROW * (row + 0.75), { "data-link": link })),
      ...this.afters,
      ...this.helds,
      ...this.traces,
      ...this.rings,
    );
  }

  #scaleOf(link) {
    return this.#scales.find((scale) => link.low_mhz >= scale.low && link.high_mhz <= scale.high);
  }

  #ends(link) {
    const scale = this.#scaleOf(link);
    const [x, end] = [scale.x(link.low_mhz), scale.x(link.high_mhz)];
    return end - x >= 3 ? [x, end] : [(x + end) / 2 - 1.5, (x + end) / 2 + 1.5];
  }

  #block(link, metric) {
    const [x, end] = this.#ends(link);
    return svg("rect", { class: "blocked", "data-link": link.link, x, y: TOP, width: end - x, height: this.y(metric.of(link.limit.reflection)) - TOP });
  }

  #limit(link, metric) {
    const [x, end] = this.#ends(link);
    const y = this.y(metric.of(link.limit.reflection));
    return svg("line", { class: "limit", x1: x, x2: end, y1: y, y2: y });
  }

  #gridLine(value, right, metric) {
    const y = this.y(value);
    const tick = label("tick", metric.tick(value), LEFT - 7, y + 4, { "text-anchor": "end" });
    return svg("g", {}, svg("line", { class: "grid", x1: LEFT, x2: right, y1: y, y2: y }), tick);
  }

  // What each link is called and how far it must go, beneath it; in a row of its own where two would
  // touch.
  #names(links, right) {
    const ends = [];
    return [...links]
      .sort((a, b) => a.low_mhz - b.low_mhz)
      .map((link) => {
        const text = link.link === "both" ? link.limit.short : `${link.link} ${link.limit.short}`;
        const half = (text.length * LETTER_PX) / 2;
        const [x, end] = this.#ends(link);
        const middle = Math.max(Math.min((x + end) / 2, right - half), half);
        let row = ends.findIndex((taken) => taken <= middle - half);
        if (row === -1) row = ends.length;
        ends[row] = middle + half + 10;
        return { text, x: middle, row, link: link.link };
      });
  }

  // The edges of the links in MHz, as many as fit without touching each other.
  #edges(links, bottom) {
    const chosen = [];
    const edges = links.flatMap((link) => [link.low_mhz, link.high_mhz].map((mhz) => ({ mhz, x: this.#scaleOf(link).x(mhz) })));
    for (const edge of edges.sort((a, b) => a.x - b.x)) {
      if (chosen.length === 0 || edge.x - chosen.at(-1).x > EDGE_PX) chosen.push(edge);
    }
    return chosen.map(({ mhz, x }) => label("tick", `${+mhz.toFixed(1)}`, x, bottom + 14));
  }

  #drawTraces(band, frame, metric) {
    const { gridMhz, trace, held, floor, interval, after } = frame;
    const full = (part) => gridMhz && part?.length === 2 * gridMhz.length;
    const values = full(trace) ? curve(trace, metric) : null;
    const holds = full(held) ? curve(held, metric) : null;
    const floors = gridMhz && floor?.length === gridMhz.length ? sizesCurve(floor, metric) : null;
    const sides = full(interval) ? [0, 1].map((side) => sideOf(interval, side, metric)) : null;
    const expected = after?.length ? [every(after, 0), sizesCurve(every(after, 1), metric)] : null;
    this.#scales.forEach((scale, i) => {
      const path = (mhz, line) => (line ? pathOf(mhz, line, scale, this.y) : "");
      this.traces[i].setAttribute("d", path(gridMhz, values));
      this.helds[i].setAttribute("d", path(gridMhz, holds));
      this.afters[i].setAttribute("d", expected ? path(...expected) : "");
      this.intervals[i].setAttribute("d", sides ? between(path(gridMhz, sides[0]), path(gridMhz, sides[1])) : "");
      this.floors[i].setAttribute("d", floors ? this.#beneath(path(gridMhz, floors), scale) : "");
    });
    const keys = [sides && ["interval", "95 %"], holds && ["held", frame.header.hold.name], expected && ["after", "after the step"]].filter(Boolean);
    showing(this.legend, keys, (all) => all.map(([kind, words]) => html("span", { class: kind }, words)));
    this.#links.forEach((_, i) => {
      const link = band.links[i];
      const ring = this.rings[i];
      ring.toggleAttribute("hidden", !link?.worst);
      if (!link?.worst) return;
      ring.dataset.state = link.state;
      ring.setAttribute("cx", this.#scaleOf(link).x(link.worst.mhz));
      ring.setAttribute("cy", this.y(metric.of(link.worst.reflection)));
    });
  }

  // What is deeper than the trust floor: from its line down to the picture's bottom.
  #beneath(path, { left, right }) {
    return path === "" ? "" : `${path}L${right.toFixed(1)} ${this.bottom}L${left.toFixed(1)} ${this.bottom}Z`;
  }
}

// The scale that the limits need: what matters takes most of the height.
function scaled(metric, links) {
  const least = Math.max(...links.map(({ limit }) => metric.of(limit.reflection)));
  if (metric.label === METRICS.vswr.label) {
    const top = Math.ceil(2 * Math.max(1 + (least - 1) * 2, VSWR_ROOM * least)) / 2;
    const step = top > 6 ? 2 : top > 3.5 ? 1 : 0.5;
    const ticks = [];
    for (let value = 1; value <= top; value += step) ticks.push(value);
    return { ...metric, top, bottom: 1, ticks };
  }
  return least > 16 ? metric : { ...metric, bottom: SHALLOW_DB, ticks: [0, 10, 20, 30] };
}

function every(pairs, which) {
  return Array.from({ length: pairs.length / 2 }, (_, i) => pairs[2 * i + which]);
}

function sideOf(interval, side, metric) {
  return sizesCurve(every(interval, side), metric).map((value, i) =>
    value === null && Number.isFinite(interval[2 * i + side]) ? (interval[2 * i + side] < 1 ? metric.bottom : metric.top) : value);
}

// The area between two lines over the same frequencies: there along one, and back along the other.
function between(there, back) {
  if (there === "" || back === "" || there.indexOf("M", 1) > 0 || back.indexOf("M", 1) > 0) return "";
  return `${there}L${back.slice(1).split("L").reverse().join("L")}Z`;
}

function label(kind, text, x, y, more = {}) {
  const element = svg("text", { class: kind, x, y, "text-anchor": "middle", ...more });
  element.textContent = text;
  return element;
}

// The trust floor's hatching, defined once.
export function patterns() {
  return svg(
    "svg",
    { class: "only-spoken", "aria-hidden": "true", width: 0, height: 0 },
    svg("pattern", { id: "floor-pattern", width: 7, height: 7, patternUnits: "userSpaceOnUse" }, svg("path", { d: "M-1 -1 L8 8 M-1 6 L1 8 M6 -1 L8 1" })),
  );
}
