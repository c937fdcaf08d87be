// The Smith chart: the reflection itself in its unit circle, with circles of constant resistance and
// reactance. Every band has a colour of its own, with its edges' frequencies; each limit is a circle.

import { html, say, svg } from "./element.js";
import { impedanceAt, REFERENCE_OHM } from "./metrics.js";
import { GAP_MHZ } from "./plot_axis.js";
import { handsOn } from "./plot_gestures.js";
import { addMarker, readMarkers, removeMarker } from "./reading.js";
import { firstAtOrAbove } from "./strip_scale.js";

const CIRCLES = [0.2, 0.5, 1, 2, 5]; // normalised resistances and reactances
const EDGE_PX = 26; // room for the numbers outside the circle
const LABEL_PX = 13;
const NEAR_PX = 24; // a tap so near to the trace is meant for it
export const SERIES = 8; // colours of bands, used again from the first one on
const MOST_ZOOM = 16;
let charts = 0;

export class Smith {
  #root;
  #last = null;
  #key = "";
  #zoom = 1;
  #centre = [0, 0]; // of the picture, as a reflection
  #hover = null; // index of a point
  #id = `smith${(charts += 1)}`;

  constructor(root) {
    this.#root = root;
    root.classList.add("smith-chart");
    this.svg = svg("svg", { class: "smith", tabindex: 0, role: "application", "aria-label": "Smith chart. A tap on the trace sets a marker." });
    this.tip = html("output", { class: "plot-tip", hidden: "" });
    this.legend = html("ul", { class: "smith-bands" });
    root.replaceChildren(html("div", { class: "smith-box" }, this.svg, this.tip), this.legend);
    new ResizeObserver(() => this.#last && this.show(this.#last)).observe(root);
    this.#hands();
  }

  zoom(factor) {
    this.#zoomAt(factor, this.#centre);
  }

  reset() {
    [this.#zoom, this.#centre] = [1, [0, 0]];
    if (this.#last) this.show(this.#last);
  }

  show(frame) {
    this.#last = frame;
    const box = this.svg.parentNode;
    const [width, height] = [box.clientWidth, box.clientHeight];
    if (width < 100 || height < 100) return;
    const { header } = frame;
    const links = header.strips.flatMap(({ links: each }, band) => each.map((link) => ({ ...link, band })));
    const key = JSON.stringify([width, height, this.#zoom, this.#centre, links.map(({ low_mhz, high_mhz, limit, band }) => [low_mhz, high_mhz, limit.short, band])]);
    if (key !== this.#key) {
      this.#key = key;
      this.#still(width, height, links);
      this.#showLegend(header.strips);
    }
    this.#live(frame, links);
  }

  #still(width, height, links) {
    const radius = this.#zoom * (Math.min(width, height) / 2 - EDGE_PX);
    const [re, im] = this.#centre;
    const middle = [width / 2, height / 2];
    this.size = [width, height];
    this.radius = radius;
    this.at = (g) => [middle[0] + radius * (g[0] - re), middle[1] - radius * (g[1] - im)];
    this.gamma = (x, y) => [(x - middle[0]) / radius + re, (middle[1] - y) / radius + im];
    const circle = (centre, r, name) => {
      const [x, y] = this.at(centre);
      return svg("circle", { class: name, cx: x, cy: y, r: r * radius });
    };
    const words = [];
    const text = (label, [x, y], name, anchor = "middle") => {
      if (x < 4 || x > width - 4 || y < 10 || y > height - 2) return null;
      const made = svg("text", { class: name, x, y, "text-anchor": anchor });
      made.textContent = label;
      words.push(boxOf(label, x, y, anchor));
      return made;
    };
    // A reactance's number stands outside of the circle, a resistance's on the real axis.
    const beside = CIRCLES.flatMap((value) => [1, -1].map((sign) => {
      const [x, y] = ofImpedance(0, sign * value);
      const [px, py] = this.at([x * (1 + 14 / radius), y * (1 + 12 / radius)]);
      return text(`${sign < 0 ? "−" : ""}j${value * REFERENCE_OHM}`, [px, py + 4], "tick", x > 0.5 ? "start" : x < -0.5 ? "end" : "middle");
    }));
    const along = [0, ...CIRCLES].map((value) => {
      const [px, py] = this.at(ofImpedance(value, 0));
      return text(`${value * REFERENCE_OHM}`, [px - 4, py - 4], "tick", "end");
    });
    this.taken = words;
    const limits = [...new Map(links.map(({ limit }) => [limit.reflection, limit])).values()];
    this.lines = links.map(({ band, link }) => svg("path", { class: `series series-${band % SERIES} ${link}` }));
    this.whole = svg("path", { class: "whole" });
    this.helds = Array.from({ length: 4 }, (_, i) => svg("path", { class: `held held-${i}` }));
    this.labels = svg("g", { class: "edges" });
    this.markers = svg("g", { class: "markers" });
    this.ring = svg("circle", { class: "cursor", r: 6, hidden: "" });
    const unit = circle([0, 0], 1, "unit");
    const inside = svg("g", { "clip-path": `url(#${this.#id})` },
      ...CIRCLES.map((r) => circle([r / (1 + r), 0], 1 / (1 + r), "grid")),
      ...CIRCLES.flatMap((x) => [circle([1, 1 / x], 1 / x, "grid"), circle([1, -1 / x], 1 / x, "grid")]),
      svg("path", { class: "grid", d: `M${this.at([-1, 0]).join(" ")}L${this.at([1, 0]).join(" ")}` }),
      ...limits.map(({ reflection }) => circle([0, 0], reflection, "limit-circle")),
    );
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.replaceChildren(
      svg("clipPath", { id: this.#id }, unit.cloneNode()),
      inside, unit, ...[...beside, ...along].filter(Boolean),
      ...this.helds, this.whole, ...this.lines, this.labels, this.ring, this.markers,
    );
  }

  #live({ header, gridMhz, trace, helds }, links) {
    const drawn = gridMhz && trace && header.plane !== "raw";
    const path = (values, first = 0, last = gridMhz?.length ?? 0) => (drawn ? this.#path(gridMhz, values, first, last) : "");
    this.whole.setAttribute("d", path(trace));
    const shown = drawn ? helds.filter(({ values }) => values.length === trace.length) : [];
    this.helds.forEach((line, i) => line.setAttribute("d", shown[i] ? path(shown[i].values) : ""));
    links.forEach(({ low_mhz, high_mhz }, i) => {
      const [first, last] = drawn ? [firstAtOrAbove(gridMhz, low_mhz), firstAtOrAbove(gridMhz, high_mhz) + 1] : [0, 0];
      this.lines[i].setAttribute("d", path(trace, first, last));
    });
    this.markers.replaceChildren(...(drawn ? this.#markerSigns(header) : []));
    this.labels.replaceChildren(...(drawn ? this.#edgeNames(gridMhz, trace, links) : []));
    this.#drawCursor();
  }

  #path(gridMhz, trace, first, last) {
    let path = "";
    let pen = "M";
    for (let i = first; i < Math.min(last, trace.length / 2); i += 1) {
      if (i > first && gridMhz[i] - gridMhz[i - 1] > GAP_MHZ) pen = "M";
      const [x, y] = this.at([trace[2 * i], trace[2 * i + 1]]);
      if (!Number.isFinite(x)) {
        pen = "M";
        continue;
      }
      path += `${pen}${x.toFixed(1)} ${y.toFixed(1)}`;
      pen = "L";
    }
    return path;
  }

  // The frequency at both edges of every link, away from the centre; one that finds no room has a dot.
  #edgeNames(gridMhz, trace, links) {
    const rings = [...this.markers.querySelectorAll("circle")].map(({ cx, cy }) => [cx.baseVal.value, cy.baseVal.value]);
    const taken = [...this.taken, ...rings.map(([x, y]) => ({ left: x - 10, right: x + 10, top: y - 10, bottom: y + 10 }))];
    return links.flatMap(({ low_mhz, high_mhz, band }) => [low_mhz, high_mhz].flatMap((mhz) => {
      const i = Math.min(firstAtOrAbove(gridMhz, mhz), gridMhz.length - 1);
      const [x, y] = this.at([trace[2 * i], trace[2 * i + 1]]);
      if (!Number.isFinite(x) || Math.abs(gridMhz[i] - mhz) > GAP_MHZ) return [];
      const dot = svg("circle", { class: `edge series-${band % SERIES}`, cx: x, cy: y, r: 3.5 });
      const label = `${+mhz.toFixed(1)}`;
      const [cx, cy] = this.at([0, 0]);
      const away = Math.atan2(y - cy, x - cx);
      for (const turn of [0, 0.7, -0.7, 1.5, -1.5, 3.1]) {
        const [lx, ly] = [x + 19 * Math.cos(away + turn), y + 13 * Math.sin(away + turn) + 4];
        const box = boxOf(label, lx, ly, "middle");
        if (box.left < 0 || box.right > this.size[0] || box.top < 0 || box.bottom > this.size[1]) continue;
        if (taken.some((other) => meets(box, other))) continue;
        taken.push(box);
        const text = svg("text", { class: "edge-name", x: lx, y: ly, "text-anchor": "middle" });
        text.textContent = label;
        return [dot, text];
      }
      return [dot];
    }));
  }

  #markerSigns(header) {
    return readMarkers(header).flatMap(({ number, reading }) => {
      if (!reading || reading.size === null) return [];
      const [x, y] = this.at([reading.real, reading.imaginary]);
      const digit = svg("text", { x, y: y + 4, "text-anchor": "middle" });
      digit.textContent = number;
      return [svg("g", { "data-marker": number }, svg("circle", { cx: x, cy: y, r: 9 }), digit)];
    });
  }

  #showLegend(strips) {
    const limits = [...new Set(strips.flatMap(({ links }) => links.map(({ limit }) => limit.short)))];
    const sign = (name) => svg("svg", { class: "sign", viewBox: "0 0 22 10", "aria-hidden": "true" }, svg("path", { class: name, d: "M1 5H21" }));
    this.legend.replaceChildren(
      ...strips.map(({ name }, band) => html("li", {}, sign(`series series-${band % SERIES}`), name)),
      ...(strips.some(({ links }) => links.length > 1) ? [html("li", { class: "remark" }, sign("series downlink"), "dotted: downlink")] : []),
      ...(limits.length ? [html("li", { class: "remark" }, sign("limit-circle"), `within: ${limits.join(", ")}`)] : []),
    );
  }

  #hands() {
    handsOn(this.svg, {
      canPan: () => true,
      wheelNeedsCtrl: () => false,
      selecting: () => {},
      select: () => {},
      hover: (x, y) => {
        this.#hover = x === null ? null : this.#pointNear(x, y);
        this.#drawCursor();
      },
      tap: (x, y) => this.#tap(x, y),
      pan: (dx, dy) => {
        if (this.#zoom === 1) return;
        this.#centre = [this.#centre[0] - dx / this.radius, this.#centre[1] + dy / this.radius];
        this.show(this.#last);
      },
      zoom: (factor) => this.#zoomAt(factor, this.#centre),
    });
  }

  #zoomAt(factor, centre) {
    this.#zoom = Math.min(Math.max(this.#zoom * factor, 1), MOST_ZOOM);
    this.#centre = this.#zoom === 1 ? [0, 0] : centre;
    if (this.#last) this.show(this.#last);
  }

  #tap(x, y) {
    for (const circle of this.markers.querySelectorAll("circle")) {
      if (Math.hypot(circle.cx.baseVal.value - x, circle.cy.baseVal.value - y) <= 12) {
        removeMarker(Number(circle.parentNode.dataset.marker));
        return;
      }
    }
    const i = this.#pointNear(x, y);
    if (i !== null) addMarker(this.#last.gridMhz[i]);
  }

  #pointNear(x, y) {
    const { header, gridMhz, trace } = this.#last ?? {};
    if (!gridMhz || !trace || header.plane === "raw") return null;
    let [best, nearest] = [null, NEAR_PX ** 2];
    for (let i = 0; i < trace.length / 2; i += 1) {
      const [px, py] = this.at([trace[2 * i], trace[2 * i + 1]]);
      const apart = (px - x) ** 2 + (py - y) ** 2;
      if (apart < nearest) [best, nearest] = [i, apart];
    }
    return best;
  }

  #drawCursor() {
    const { gridMhz, trace } = this.#last ?? {};
    const i = this.#hover !== null && trace && this.#hover < trace.length / 2 ? this.#hover : null;
    this.ring?.toggleAttribute("hidden", i === null);
    this.tip.hidden = i === null;
    if (i === null) return;
    const [x, y] = this.at([trace[2 * i], trace[2 * i + 1]]);
    this.ring.setAttribute("cx", x);
    this.ring.setAttribute("cy", y);
    const [r, reactance] = impedanceAt(trace, i);
    const ohm = r === null ? "" : `: ${(r * REFERENCE_OHM).toFixed(0)} ${reactance < 0 ? "−" : "+"} j${Math.abs(reactance * REFERENCE_OHM).toFixed(0)} Ω`;
    say(this.tip, `${gridMhz[i].toFixed(1)} MHz${ohm}`);
    this.tip.style.left = `${Math.min(Math.max(x + 12, 2), this.size[0] - this.tip.offsetWidth - 2)}px`;
    this.tip.style.top = `${Math.max(y - 34, 2)}px`;
  }
}

// The reflection of a normalised impedance: (z - 1) / (z + 1).
function ofImpedance(r, x) {
  const below = (r + 1) ** 2 + x ** 2;
  return [(r * r - 1 + x * x) / below, (2 * x) / below];
}

function boxOf(label, x, y, anchor) {
  const wide = 6.8 * label.length + 4;
  const left = anchor === "start" ? x : anchor === "end" ? x - wide : x - wide / 2;
  return { left, right: left + wide, top: y - LABEL_PX + 2, bottom: y + 3 };
}

function meets(one, other) {
  return one.left < other.right && other.left < one.right && one.top < other.bottom && other.top < one.bottom;
}
