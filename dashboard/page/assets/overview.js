// All that was swept in one plot, broken where nothing was: return loss, VSWR or impedance, with the
// reach of the uncertainty, the limits in their state's colour, held traces and this viewer's
// markers. It fills whatever box it stands in. What stands still is drawn when the box, the plan or
// the window changes; a frame moves only paths.

import { html, say, svg } from "./element.js";
import { METRICS, OHM, curve, intervalCurves, ohmCurves, sizeAt, sizesCurve } from "./metrics.js";
import { ALL, Axis, between, inRows, moved, roundTicks, sweptStretches, zoomed } from "./plot_axis.js";
import { handsOn } from "./plot_gestures.js";
import { addMarker, currentWindow, look, readMarkers, removeMarker } from "./reading.js";
import { firstAtOrAbove, pathOf } from "./strip_scale.js";

const [LEFT, RIGHT] = [44, 14];
const ROW_PX = 15; // one row of names
const TICK_PX = 15; // so much height a tick's number takes
const MHZ_PX = 58; // so much width a frequency takes
const ROOMY_PX = 250; // a plot so high has room for the limits' names, and two rows of services
const SERVICE_PX = 5;
let plots = 0;

export class Overview {
  #root;
  #services;
  #last = null;
  #key = "";
  #cursor = null; // MHz under the pointer, or where the keys have led
  #axis = null;
  #box = null;
  #id = `plot${(plots += 1)}`;

  constructor(root, services, { wheelNeedsCtrl = true } = {}) {
    this.#root = root;
    this.#services = services;
    root.classList.add("wide-plot");
    this.svg = svg("svg", { class: "wide", tabindex: 0, role: "application", "aria-label": "Everything that was swept. A tap or Enter sets a marker." });
    this.tip = html("output", { class: "plot-tip", hidden: "" });
    this.all = html("button", { type: "button", class: "plot-all", hidden: "" }, "Show all");
    this.all.addEventListener("click", () => look(ALL));
    root.replaceChildren(this.svg, this.tip, this.all);
    new ResizeObserver(() => this.#again()).observe(root);
    this.#hands(wheelNeedsCtrl);
  }

  show(frame, metricName, withServices) {
    this.#last = [frame, metricName, withServices];
    const [width, height] = [this.#root.clientWidth, this.#root.clientHeight];
    if (width < 120 || height < 60) return;
    const { header, gridMhz } = frame;
    const links = header.strips.flatMap(({ name, links: each }) => each.map((link) => ({ ...link, name })));
    const ohms = metricName === "impedance";
    const metric = ohms ? OHM : (METRICS[metricName] ?? METRICS.loss);
    const window = currentWindow();
    const stretches = sweptStretches(gridMhz, links);
    const key = JSON.stringify([width, height, metric.label, window, stretches, withServices, links.map(stillPart)]);
    if (key !== this.#key) {
      this.#key = key;
      this.#still({ width, height, metric, ohms, window, stretches, links, strips: header.strips, withServices });
    }
    this.all.hidden = window.from === 0 && window.to === 1;
    this.#live(frame, metric, ohms);
  }

  get cursor() {
    return this.#cursor;
  }

  #again() {
    if (this.#last) this.show(...this.#last);
  }

  #still({ width, height, metric, ohms, window, stretches, links, strips, withServices }) {
    const axis = (this.#axis = new Axis(stretches, window, LEFT, width - RIGHT));
    const roomy = height >= ROOMY_PX;
    const names = bandNames(strips, axis, height < 130 ? 1 : 2, width);
    const limits = roomy ? limitNames(links, axis, width) : [];
    const services = withServices ? this.#services : [];
    const serviceRows = services.length === 0 ? 0 : roomy ? 2 : 1;
    const rowsAbove = Math.max(0, ...names.map(({ row }) => row + 1));
    const rowsBelow = Math.max(0, ...limits.map(({ row }) => row + 1));
    const top = 6 + ROW_PX * Math.max(rowsAbove, 1);
    const below = 20 + ROW_PX * rowsBelow;
    const bottom = height - below - (serviceRows ? SERVICE_PX + 4 + 13 * serviceRows : 0);
    this.#box = { top, bottom, width };
    this.drawnFloor = null;
    const along = (metric.bottom - metric.top) / (bottom - top);
    this.y = (value) => Math.min(Math.max(top + (value - metric.top) / along, top), bottom);
    const text = (words, at) => {
      const made = svg("text", at);
      made.textContent = words;
      return made;
    };
    const clip = svg("clipPath", { id: `${this.#id}-clip` }, ...axis.pieces.map(({ left, right }) => svg("rect", { x: left, y: top - 1, width: right - left, height: bottom - top + 2 })));
    const hatch = svg("pattern", { id: `${this.#id}-hatch`, width: 7, height: 7, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" }, svg("path", { class: "hatch", d: "M0 0V7" }));
    const path = (name) => svg("path", { class: name });
    this.paths = { floor: path("floor"), reach: path("reach"), trace: path("trace"), second: path("trace second") };
    this.paths.floor.setAttribute("fill", `url(#${this.#id}-hatch)`);
    this.helds = Array.from({ length: 8 }, (_, i) => path(`held held-${i % 4} ${i > 3 ? "second" : ""}`));
    this.selection = svg("rect", { class: "selection", y: top, height: bottom - top, hidden: "" });
    this.crosshair = svg("line", { class: "crosshair", y1: top, y2: bottom, hidden: "" });
    this.markers = svg("g", { class: "markers" });
    const ticks = withRoom(metric.ticks, (value) => this.y(value));
    const frames = axis.pieces.map(({ left, right }) => svg("rect", { class: "frame", x: left, y: top, width: right - left, height: bottom - top }));
    this.svg.setAttribute("viewBox", `0 0 ${width} ${height}`);
    this.svg.replaceChildren(
      svg("defs", {}, clip, hatch),
      svg("g", { "clip-path": `url(#${this.#id}-clip)` }, ...links.flatMap((link) => area(link, axis, top, bottom, ohms ? null : this.y(metric.of(link.limit.reflection))))),
      ...ticks.flatMap((value) => [
        ...axis.pieces.map(({ left, right }) => svg("line", { class: value === 0 && ohms ? "grid zero" : "grid", x1: left, x2: right, y1: this.y(value), y2: this.y(value) })),
        text(`${value}`, { class: "tick", x: LEFT - 7, y: this.y(value) + 4, "text-anchor": "end" }),
      ]),
      ...frames,
      ...breaks(axis, bottom),
      ...frequencies(axis, width).map(({ words, x }) => text(words, { class: "tick", x, y: bottom + 15, "text-anchor": "middle" })),
      svg("g", { "clip-path": `url(#${this.#id}-clip)` },
        this.paths.floor,
        this.paths.reach,
        ...(ohms ? [] : links.map((link) => limitLine(link, axis, this.y(metric.of(link.limit.reflection))))),
        ...this.helds,
        this.paths.second,
        this.paths.trace,
        this.selection,
        this.crosshair,
      ),
      this.markers,
      ...names.map(({ name, x, row }) => text(name, { class: "band-name", x, y: top - 5 - ROW_PX * row, "text-anchor": "middle" })),
      ...limits.map(({ name, x, row }) => text(name, { class: "limit-name", x, y: bottom + 15 + ROW_PX * (row + 1), "text-anchor": "middle" })),
      ...serviceMarks(services, axis, bottom + below, serviceRows, width, text),
      text(metric.label, { class: "axis-name", transform: `translate(11 ${(top + bottom) / 2}) rotate(-90)`, "text-anchor": "middle" }),
    );
  }

  #live(frame, metric, ohms) {
    const { header, gridMhz, trace, floor, interval, helds } = frame;
    const raw = header.plane === "raw";
    this.svg.dataset.raw = raw;
    const drawn = gridMhz && trace && !(ohms && raw);
    const line = (values) => (drawn ? this.#axis.pieces.map((piece) => pathOf(gridMhz, values, piece, this.y)).join("") : "");
    const pair = (values) => (ohms ? ohmCurves(values) : [curve(values, metric), null]);
    const [first, second] = drawn ? pair(trace) : [null, null];
    this.paths.trace.setAttribute("d", first ? line(first) : "");
    this.paths.second.setAttribute("d", second ? line(second) : "");
    const shown = drawn ? helds.filter(({ values }) => values.length === trace.length) : [];
    this.helds.forEach((path, i) => {
      const held = shown[i % 4];
      const values = held && (ohms || i < 4) ? pair(held.values)[i > 3 ? 1 : 0] : null;
      path.setAttribute("d", values ? line(values) : "");
    });
    const trusted = drawn && !ohms && interval?.length === trace.length;
    const ends = trusted ? intervalCurves(interval, metric) : null;
    this.paths.reach.setAttribute("d", ends ? this.#axis.pieces.map((piece) => areaBetween(gridMhz, ends, piece, this.y)).join("") : "");
    this.#drawFloor(drawn && !ohms && floor?.length === gridMhz.length ? floor : null, gridMhz, metric);
    this.#drawMarkers(header, metric, ohms, drawn);
    this.#drawCursor();
  }

  // The floor changes with the calibration alone, and is drawn anew only then.
  #drawFloor(floor, gridMhz, metric) {
    if (floor === this.drawnFloor) return;
    this.drawnFloor = floor;
    const values = floor ? sizesCurve(floor, metric) : null;
    this.paths.floor.setAttribute("d", values ? this.#axis.pieces.map((piece) => beneath(pathOf(gridMhz, values, piece, this.y), piece, this.#box.bottom)).join("") : "");
  }

  #drawMarkers(header, metric, ohms, drawn) {
    const placed = [];
    const made = [];
    for (const { number, mhz, reading } of drawn ? readMarkers(header) : []) {
      const x = this.#axis.x(mhz);
      if (x === null) continue;
      const value = ohms || !reading?.size ? null : metric.of(reading.size);
      const y = ohms ? this.#box.top + 12 : value === null || !Number.isFinite(value) ? this.#box.bottom - 10 : this.y(value);
      let label = y;
      while (placed.some((other) => Math.abs(other.x - x) < 19 && Math.abs(other.y - label) < 19)) label -= 19;
      if (label < this.#box.top + 9) label = y + 19;
      placed.push({ x, y: label });
      const digit = svg("text", { x, y: label + 4, "text-anchor": "middle" });
      digit.textContent = number;
      made.push(svg("g", { "data-marker": number }, svg("line", { x1: x, x2: x, y1: this.#box.top, y2: this.#box.bottom }), svg("circle", { cx: x, cy: label, r: 9 }), digit));
    }
    this.markers.replaceChildren(...made);
  }

  // What is written where the pointer is: no number of its own for a reading deeper than the floor.
  #drawCursor() {
    const x = this.#cursor === null || this.#last === null ? null : (this.#axis?.x(this.#cursor) ?? null);
    this.crosshair?.toggleAttribute("hidden", x === null);
    this.tip.hidden = x === null;
    if (x === null) return;
    this.crosshair.setAttribute("x1", x);
    this.crosshair.setAttribute("x2", x);
    say(this.tip, this.#words());
    const wide = this.tip.offsetWidth;
    this.tip.style.left = `${Math.min(Math.max(x - wide / 2, 2), this.#box.width - wide - 2)}px`;
    this.tip.style.top = `${this.#box.top + 4}px`;
  }

  #words() {
    const [{ header, gridMhz, trace, floor }, metricName] = this.#last;
    const at = `${this.#cursor.toFixed(1)} MHz`;
    const i = this.#nearest();
    if (i === null || !trace) return at;
    if (metricName === "impedance") {
      if (header.plane === "raw") return at;
      const [r, x] = ohmCurves(trace.subarray(2 * i, 2 * i + 2)).map(([each]) => each);
      return r === null ? at : `${at}: ${r.toFixed(0)} ${x < 0 ? "−" : "+"} j${Math.abs(x).toFixed(0)} Ω`;
    }
    const size = sizeAt(trace, i);
    if (floor?.length === gridMhz.length && size <= floor[i]) return `${at}: deeper than the trust floor`;
    const metric = METRICS[metricName] ?? METRICS.loss;
    const value = metric.of(size);
    return Number.isFinite(value) ? `${at}: ${metric.words(value)}` : at;
  }

  // The point nearest to the cursor; null where nothing was swept.
  #nearest() {
    const gridMhz = this.#last?.[0].gridMhz;
    if (!gridMhz?.length || this.#cursor === null) return null;
    const after = Math.min(firstAtOrAbove(gridMhz, this.#cursor), gridMhz.length - 1);
    const before = Math.max(after - 1, 0);
    return this.#cursor - gridMhz[before] < gridMhz[after] - this.#cursor ? before : after;
  }

  #hands(wheelNeedsCtrl) {
    handsOn(this.svg, {
      canPan: () => currentWindow() !== ALL && currentWindow().to - currentWindow().from < 1,
      wheelNeedsCtrl: () => wheelNeedsCtrl,
      hover: (x) => {
        this.#cursor = x === null || this.#axis === null ? null : this.#axis.mhz(x);
        this.#drawCursor();
      },
      tap: (x, y) => this.#tap(x, y),
      selecting: (x0, x1) => {
        this.selection?.toggleAttribute("hidden", x0 === null);
        if (x0 === null || !this.selection) return;
        this.selection.setAttribute("x", Math.min(x0, x1));
        this.selection.setAttribute("width", Math.abs(x1 - x0));
      },
      select: (x0, x1) => look(between(this.#axis.u(x0), this.#axis.u(x1))),
      pan: (dx) => look(moved(currentWindow(), -dx / (this.#box.width - LEFT - RIGHT))),
      zoom: (factor, x) => look(zoomed(currentWindow(), factor, this.#axis.u(x))),
    });
    this.svg.addEventListener("keydown", (event) => {
      if (this.#key === "" || event.ctrlKey || event.metaKey || event.altKey || !this.#press(event)) return;
      event.preventDefault();
      event.stopPropagation();
    });
  }

  // A tap on a marker's number removes it; anywhere else it sets one.
  #tap(x, y) {
    for (const circle of this.markers.querySelectorAll("circle")) {
      if (Math.hypot(circle.cx.baseVal.value - x, circle.cy.baseVal.value - y) <= 12) {
        removeMarker(Number(circle.parentNode.dataset.marker));
        return;
      }
    }
    addMarker(this.#axis.mhz(x));
  }

  #press({ key, shiftKey }) {
    const gridMhz = this.#last?.[0].gridMhz;
    if (!gridMhz?.length) return false;
    const step = { ArrowLeft: -1, ArrowRight: 1 }[key];
    if (step !== undefined && shiftKey) look(moved(currentWindow(), step / 8));
    else if (step !== undefined) {
      const { low, high } = { low: this.#axis.pieces[0].low, high: this.#axis.pieces.at(-1).high };
      const from = this.#nearest() ?? firstAtOrAbove(gridMhz, (low + high) / 2);
      const to = Math.min(Math.max(from + step, 0), gridMhz.length - 1);
      this.#cursor = Math.min(Math.max(gridMhz[to], low), high);
      this.#drawCursor();
    } else if (key === "Enter" || key === " ") addMarker(this.#cursor ?? gridMhz[0]);
    else return false;
    return true;
  }
}

function stillPart({ low_mhz, high_mhz, limit, state, name, link }) {
  return [low_mhz, high_mhz, limit.reflection, limit.short, state, name, link];
}

// A link's ground: blocked above its limit, in its state's colour.
function area(link, axis, top, bottom, limitY) {
  return spans(link, axis).flatMap(([x0, x1]) => [
    svg("rect", { class: "ground", "data-state": link.state, x: x0, width: Math.max(x1 - x0, 1.5), y: top, height: (limitY ?? bottom) - top }),
  ]);
}

function limitLine(link, axis, y) {
  return svg("path", { class: "limit", d: spans(link, axis).map(([x0, x1]) => `M${x0.toFixed(1)} ${y}H${Math.max(x1, x0 + 2).toFixed(1)}`).join("") });
}

// Where a link is seen, px, piece by piece.
function spans({ low_mhz, high_mhz }, axis) {
  return axis.pieces
    .filter(({ low, high }) => high_mhz >= low && low_mhz <= high)
    .map((piece) => [piece.x(Math.max(low_mhz, piece.low)), piece.x(Math.min(high_mhz, piece.high))]);
}

function bandNames(strips, axis, rows, width) {
  const named = strips.flatMap(({ name, links }) => {
    const seen = links.flatMap((link) => spans(link, axis));
    if (seen.length === 0) return [];
    const parts = seen.at(-1)[0] - seen[0][1] > 150 ? [seen[0], seen.at(-1)] : [[seen[0][0], seen.at(-1)[1]]];
    return parts.map(([x0, x1]) => ({ name, x: (x0 + x1) / 2 }));
  });
  return inRows(named, rows, LEFT - 20, width - 2);
}

function limitNames(links, axis, width) {
  const named = links.flatMap((link) => {
    const seen = spans(link, axis);
    if (seen.length === 0) return [];
    const which = link.link === "both" ? "" : `${link.link} `;
    return [{ name: `${which}${link.limit.short}`, x: (seen[0][0] + seen.at(-1)[1]) / 2 }];
  });
  return inRows(named, 3, LEFT - 20, width - 2);
}

function serviceMarks(services, axis, y, rows, width, text) {
  if (rows === 0) return [];
  const seen = services.flatMap((each) => spans(each, axis).map(([x0, x1]) => ({ name: each.name, x0, x1, x: (x0 + x1) / 2 })));
  return [
    ...seen.map(({ x0, x1 }) => svg("rect", { class: "service", x: x0, width: Math.max(x1 - x0, 1.5), y, height: SERVICE_PX })),
    ...inRows(seen, rows, LEFT - 20, width - 2).map(({ name, x, row }) => text(name, { class: "service-name", x, y: y + SERVICE_PX + 11 + 13 * row, "text-anchor": "middle" })),
  ];
}

// Two strokes across the axis, where it is broken.
function breaks({ pieces }, bottom) {
  return pieces.slice(1).map(({ left }, i) => {
    const x = (pieces[i].right + left) / 2;
    return svg("path", { class: "break", d: `M${x - 6} ${bottom + 5}l5 -10m2 10l5 -10` });
  });
}

// Round frequencies along each piece, as many as fit without touching each other; the unit last.
function frequencies({ pieces }, width) {
  const found = [];
  let end = LEFT - 20;
  const unit = "MHz";
  for (const piece of pieces) {
    const most = Math.max(Math.floor((piece.right - piece.left) / MHZ_PX), 1);
    for (const mhz of roundTicks(piece.low, piece.high, most)) {
      const words = `${mhz}`;
      const x = Math.min(piece.x(mhz), width - 4 * words.length - 2);
      if (x - 4 * words.length < end || x + 4 * words.length > width - 38) continue;
      found.push({ words, x });
      end = x + 4 * words.length + 8;
    }
  }
  return [...found, { words: unit, x: width - 18 }];
}

// As many ticks as there is room for, those named first before the others.
function withRoom(ticks, y) {
  const chosen = [];
  for (const value of ticks) {
    if (chosen.every((other) => Math.abs(y(other) - y(value)) >= TICK_PX)) chosen.push(value);
  }
  return chosen;
}

// The ground between two curves over one piece, unbroken run by unbroken run.
function areaBetween(gridMhz, [upper, lower], piece, y) {
  const runs = (values) => pathOf(gridMhz, values, piece, y).split("M").slice(1);
  const back = runs(lower);
  return runs(upper).map((run, i) => `M${run}L${back[i].split("L").reverse().join("L")}Z`).join("");
}

// What is deeper than the trust floor: from its line down to the plot's bottom.
function beneath(path, { left, right }, bottom) {
  return path === "" ? "" : `${path}L${right.toFixed(1)} ${bottom}L${left.toFixed(1)} ${bottom}Z`;
}
