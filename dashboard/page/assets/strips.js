// The band strips: one panel for each wanted band, all equally wide. Within a link's range the
// limit is the lower edge of a blocked area: the trace must hang below it to pass.
//
// What stands still (shading, limits, scales) is drawn when the plan, the metric or the panel's
// size changes; a frame moves only paths and one ring a link.

import { html, say, showing, svg } from "./element.js";
import { mark, shape } from "./marks.js";
import { METRICS, curve, sizesCurve } from "./metrics.js";
import { pathOf, placed, stretchesOf } from "./strip_scale.js";

const LEFT = 30;
const RIGHT = 10;
const TOP = 10;
const BOTTOM = 22;
const OLD_S = 1.5; // a strip older than this says so

export class Strips {
  #root;
  #strips = [];
  #key = "";
  #resized;
  #last = null;

  constructor(root) {
    this.#root = root;
    this.#resized = new ResizeObserver(() => this.#last && this.show(...this.#last));
    root.before(patterns());
  }

  show(frame, metricName) {
    this.#last = [frame, metricName];
    const specs = frame.header.strips;
    const key = JSON.stringify(specs.map(fixedPart));
    if (key !== this.#key) {
      this.#key = key;
      this.#resized.disconnect();
      this.#strips = specs.map((spec) => new Strip(spec));
      this.#root.replaceChildren(...this.#strips.map((strip) => strip.panel));
      this.#root.dataset.count = specs.length;
      for (const strip of this.#strips) this.#resized.observe(strip.plot);
    }
    const metric = METRICS[metricName] ?? METRICS.loss;
    this.#strips.forEach((strip, i) => strip.show(specs[i], frame, metric));
  }
}

// Uplink is hatched, downlink dotted: the two must differ by more than a colour. Defined once, for
// all strips.
function patterns() {
  const tile = (id, size, ...marks) =>
    svg("pattern", { id, width: size, height: size, patternUnits: "userSpaceOnUse" }, ...marks);
  return svg(
    "svg",
    { class: "only-spoken", "aria-hidden": "true", width: 0, height: 0 },
    tile("uplink-pattern", 9, svg("path", { d: "M-1 10 L10 -1 M-1 1 L1 -1 M8 10 L10 8" })),
    tile("downlink-pattern", 8, svg("circle", { cx: 4, cy: 4, r: 1.1 })),
    tile("floor-pattern", 7, svg("path", { d: "M-1 -1 L8 8 M-1 6 L1 8 M6 -1 L8 1" })),
  );
}

function fixedPart({ name, note, links }) {
  return [name, note, links.map(({ link, low_mhz, high_mhz, limit }) => [link, low_mhz, high_mhz, limit])];
}

class Strip {
  constructor(spec) {
    this.spec = spec;
    this.stretches = stretchesOf(spec.links);
    this.drawn = "";
    this.plot = svg("svg", { class: "plot", role: "img", "aria-label": `Trace in ${spec.name}` });
    this.overall = html("span", { class: "overall" });
    this.age = html("small", { class: "age" });
    this.rows = html("ul", { class: "links" });
    this.panel = html(
      "article",
      { class: "strip" },
      html("header", {}, html("h2", { title: spec.note || null }, spec.name), this.age, this.overall),
      this.rows,
      this.plot,
    );
  }

  show(spec, frame, metric) {
    this.panel.dataset.state = spec.state;
    const old = spec.age_s !== null && spec.age_s > OLD_S;
    say(this.age, old ? `${Math.round(spec.age_s)} s old` : "");
    showing(this.overall, [spec.state, spec.words], ([state, words]) => [mark(state, words)]);
    showing(this.rows, spec.links.map(rowPart), (rows) => rows.map(row));
    const { width, height } = this.plot.getBoundingClientRect();
    if (width < 40 || height < 40) return;
    const layout = `${width}x${height} ${metric.label}`;
    if (layout !== this.drawn) {
      this.drawn = layout;
      this.#drawStill(width, height, metric);
    }
    this.#drawTraces(spec, frame, metric);
  }

  #drawStill(width, height, metric) {
    const [right, bottom] = [width - RIGHT, height - BOTTOM];
    this.scales = placed(this.stretches, LEFT, right);
    const along = (metric.bottom - metric.top) / (bottom - TOP);
    // Beyond the scale a trace runs along its edge and does not leave the picture.
    this.y = (value) => Math.min(Math.max(TOP + (value - metric.top) / along, TOP), bottom);
    this.traces = this.scales.map(() => svg("path", { class: "trace" }));
    this.helds = this.scales.map(() => svg("path", { class: "held" }));
    this.floors = this.scales.map(() => svg("path", { class: "floor" }));
    this.bottom = bottom;
    this.rings = this.spec.links.map(() => svg("circle", { class: "worst", r: 5.5 }));
    this.plot.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.plot.replaceChildren(
      ...this.spec.links.flatMap((link) => this.#shading(link, bottom, metric)),
      ...metric.ticks.map((value) => this.#gridLine(value, right, metric)),
      ...this.scales.map((scale) => this.#frame(scale, bottom)),
      ...this.spec.links.flatMap((link) => this.#limit(link, metric)),
      ...this.#edges(bottom),
      ...this.floors,
      ...this.spec.links.flatMap((link) => this.#linkName(link, bottom)),
      ...this.helds,
      ...this.traces,
      ...this.rings,
    );
  }

  #scaleOf(link) {
    return this.scales.find((scale) => link.low_mhz >= scale.low && link.high_mhz <= scale.high);
  }

  #shading(link, bottom, metric) {
    const scale = this.#scaleOf(link);
    const [x, end] = [scale.x(link.low_mhz), scale.x(link.high_mhz)];
    const width = Math.max(end - x, 2);
    const limitY = this.y(metric.of(link.limit.reflection));
    const area = (kind, top, height) =>
      svg("rect", { class: kind, "data-link": link.link, x, y: top, width, height });
    return [
      area("range", TOP, bottom - TOP),
      area("pattern", TOP, bottom - TOP),
      area("blocked", TOP, limitY - TOP),
    ];
  }

  // Over the floor's hatching, where there is room for it.
  #linkName(link, bottom) {
    const scale = this.#scaleOf(link);
    const [x, end] = [scale.x(link.low_mhz), scale.x(link.high_mhz)];
    if (end - x <= 56 || link.link === "both") return [];
    const label = svg("text", { class: "link-name", x: (x + end) / 2, y: bottom - 8 });
    label.textContent = link.link;
    return [label];
  }

  #limit(link, metric) {
    const scale = this.#scaleOf(link);
    const [x, end] = [scale.x(link.low_mhz), scale.x(link.high_mhz)];
    const y = this.y(metric.of(link.limit.reflection));
    const middle = (x + end) / 2;
    const text = svg("text", { class: "limit-name", x: middle, y: TOP + 14 });
    text.textContent = link.limit.short;
    return [
      svg("line", { class: "limit", x1: Math.min(x, middle - 2), x2: Math.max(end, middle + 2), y1: y, y2: y }),
      text,
    ];
  }

  #gridLine(value, right, metric) {
    const y = this.y(value);
    const label = svg("text", { class: "tick", x: LEFT - 6, y: y + 4, "text-anchor": "end" });
    label.textContent = metric.tick(value);
    return svg("g", {}, svg("line", { class: "grid", x1: LEFT, x2: right, y1: y, y2: y }), label);
  }

  #frame({ left, right }, bottom) {
    return svg("rect", { class: "frame", x: left, y: TOP, width: right - left, height: bottom - TOP });
  }

  // The edges of the links in MHz, as many as fit without touching each other.
  #edges(bottom) {
    const edges = this.spec.links.flatMap((link) => {
      const scale = this.#scaleOf(link);
      return [link.low_mhz, link.high_mhz].map((mhz) => ({ mhz, x: scale.x(mhz) }));
    });
    const chosen = [];
    for (const edge of edges.sort((a, b) => a.x - b.x)) {
      if (chosen.length === 0 || edge.x - chosen.at(-1).x > 38) chosen.push(edge);
    }
    return chosen.map(({ mhz, x }) => {
      const text = svg("text", { class: "tick", x, y: bottom + 15, "text-anchor": "middle" });
      text.textContent = `${+mhz.toFixed(1)}`;
      return text;
    });
  }

  #drawTraces(spec, { gridMhz, trace, held, floor }, metric) {
    const floorValues = gridMhz && floor?.length === gridMhz.length ? sizesCurve(floor, metric) : null;
    const values = gridMhz && trace ? curve(trace, metric) : null;
    const heldValues = gridMhz && held?.length === 2 * gridMhz.length ? curve(held, metric) : null;
    this.scales.forEach((scale, i) => {
      this.traces[i].setAttribute("d", values ? pathOf(gridMhz, values, scale, this.y) : "");
      this.helds[i].setAttribute("d", heldValues ? pathOf(gridMhz, heldValues, scale, this.y) : "");
      this.floors[i].setAttribute("d", floorValues ? this.#beneath(pathOf(gridMhz, floorValues, scale, this.y), scale) : "");
    });
    spec.links.forEach((link, i) => {
      const ring = this.rings[i];
      ring.toggleAttribute("hidden", !link.worst);
      ring.dataset.state = link.state;
      if (!link.worst) return;
      ring.setAttribute("cx", this.#scaleOf(link).x(link.worst.mhz));
      ring.setAttribute("cy", this.y(metric.of(link.worst.reflection)));
    });
  }

  // What is deeper than the trust floor: from its line down to the picture's bottom.
  #beneath(path, { left, right }) {
    return path === "" ? "" : `${path}L${right.toFixed(1)} ${this.bottom}L${left.toFixed(1)} ${this.bottom}Z`;
  }
}

function rowPart({ link, state, words, limit, worst, margin, margin_words, trust }) {
  const instead = state === "withheld" ? limit.short : words;
  return { link, state, worst: worst?.words ?? instead, margin, margin_words, trust };
}

function row({ link, state, worst, margin, margin_words, trust }) {
  return html(
    "li",
    { "data-state": state },
    shape(state),
    html("span", { class: "link" }, link === "both" ? "" : link),
    html("span", { class: "worst", title: trust }, worst),
    html("span", { class: "margin", title: margin_words }, margin ?? ""),
  );
}
