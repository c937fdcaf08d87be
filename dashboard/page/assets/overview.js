// The overview: everything that was swept, in one wide plot; and the impedance over the same
// frequencies. Plotly's `react` costs about 15 ms, so it runs once a frame at most.

import { colours } from "./colours.js";
import { METRICS, REFERENCE_OHM, curve, impedanceAt, sizeAt, sizesCurve } from "./metrics.js";

const TICK_PX = 15; // so much height a tick's number takes
const SERVICES = { y: -20, height: 5, row: 13 }; // px beneath the axis, under its numbers
const HIGH_PX = 260; // a plot so high has room for two rows of services
export const GAP_MHZ = 30; // points further apart are not joined by a line: nothing was swept there

export class Overview {
  #graph;
  #services;

  constructor(graph, services) {
    this.#graph = graph;
    this.#services = services;
  }

  show(frame, metricName, withServices) {
    const colour = colours();
    const { header } = frame;
    const range = rangeOf(frame);
    const width = this.#graph.clientWidth;
    const drawn = metricName === "impedance" ? impedance(frame, colour) : sizes(frame, metricName, colour);
    const bands = header.strips.flatMap((strip) => strip.links.map((link) => bandShape(link, colour)));
    const others = withServices ? this.#services.filter((each) => within(each, range)) : [];
    const rows = this.#graph.clientHeight < HIGH_PX ? 1 : 2;
    const base = baseLayout(colour, range, width, others.length > 0 ? rows : 0);
    const height = this.#graph.clientHeight - base.margin.t - base.margin.b;
    const layout = {
      ...base,
      showlegend: drawn.legend ?? false,
      yaxis: { ...axis(colour), ...drawn.yaxis, tickvals: withRoom(drawn.yaxis, height), fixedrange: true },
      shapes: [...bands, ...others.map((each) => serviceShape(each, colour)), ...(drawn.shapes ?? [])],
      annotations: [
        ...bandNames(header.strips, range, width, colour),
        ...serviceNames(others, rows, range, width, colour),
      ],
    };
    window.Plotly.react(this.#graph, drawn.traces, layout, { displayModeBar: false, responsive: true });
  }
}

function sizes({ header, gridMhz, trace, held, floor }, metricName, colour) {
  const metric = METRICS[metricName] ?? METRICS.loss;
  const trusted = gridMhz && floor?.length === gridMhz.length;
  const traces = trusted ? [floorTrace(gridMhz, floor, metric, colour)] : [];
  const line = (values, name, style) => {
    const { x, y } = withGaps(gridMhz, curve(values, metric));
    const text = withGaps(gridMhz, words(values, metric, trusted ? floor : null)).y;
    traces.push({ x, y, text, name, mode: "lines", line: style, hovertemplate: `%{x:.1f} MHz, %{text}<extra>${name}</extra>` });
  };
  if (gridMhz && held?.length === 2 * gridMhz.length) {
    line(held, "held", { color: colour.held, width: 1.5, dash: "dash" });
  }
  if (gridMhz && trace) {
    const raw = header.plane === "raw";
    line(trace, raw ? "raw" : "now", { color: raw ? colour.muted : colour.trace, width: 2, dash: raw ? "dot" : "solid" });
  }
  const links = header.strips.flatMap((strip) => strip.links);
  const x = [];
  const y = [];
  for (const link of links) {
    const value = metric.of(link.limit.reflection);
    x.push(link.low_mhz, link.high_mhz, null);
    y.push(value, value, null);
  }
  traces.push({ x, y, mode: "lines", line: { color: colour.ink, width: 3 }, hoverinfo: "skip" });
  return {
    traces,
    yaxis: { title: { text: metric.label, standoff: 6 }, range: [metric.bottom, metric.top], tickvals: metric.ticks },
  };
}

// What is deeper than the trust floor is hatched: a reading there is all uncertainty. One closed
// outline for each stretch that was swept, from the floor's line down to the plot's bottom.
function floorTrace(gridMhz, floor, metric, colour) {
  const { x, y } = withGaps(gridMhz, sizesCurve(floor, metric));
  const outline = { x: [], y: [] };
  let begin = 0;
  for (let i = 0; i <= x.length; i += 1) {
    if (i < x.length && y[i] !== null) continue;
    if (i > begin) {
      outline.x.push(...x.slice(begin, i), x[i - 1], x[begin], x[begin], null);
      outline.y.push(...y.slice(begin, i), metric.bottom, metric.bottom, y[begin], null);
    }
    begin = i + 1;
  }
  return {
    ...outline, mode: "lines", line: { color: colour.muted, width: 1, dash: "dot" }, hoverinfo: "skip",
    fill: "toself", fillcolor: "rgba(0,0,0,0)",
    fillpattern: { shape: "\\", size: 7, solidity: 0.12, fgcolor: colour.muted },
  };
}

// What is written where the pointer is: no number of its own for a reading deeper than the floor.
function words(trace, metric, floor) {
  return Array.from({ length: trace.length / 2 }, (_, i) => {
    const size = sizeAt(trace, i);
    if (floor !== null && size <= floor[i]) return "deeper than the trust floor";
    return metric.of(size).toFixed(2);
  });
}

function impedance({ header, gridMhz, trace }, colour) {
  const traces = [];
  if (gridMhz && trace && header.plane !== "raw") {
    const ohms = Array.from(gridMhz, (_, i) => impedanceAt(trace, i).map((z) => z && z * REFERENCE_OHM));
    const line = (values, name, style) => {
      const { x, y } = withGaps(gridMhz, values);
      traces.push({ x, y, name, mode: "lines", line: style, hovertemplate: `%{x:.1f} MHz, %{y:.1f} Ω<extra>${name}</extra>` });
    };
    line(ohms.map(([r]) => r), "resistance", { color: colour.trace, width: 2 });
    line(ohms.map(([, x]) => x), "reactance", { color: colour.reactance, width: 2, dash: "dashdot" });
  }
  const across = (value, dash) => ({ type: "line", xref: "paper", x0: 0, x1: 1, y0: value, y1: value, line: { color: colour.muted, width: 1, dash } });
  return {
    traces,
    legend: true,
    yaxis: { title: { text: "Impedance, Ω", standoff: 6 }, range: [-150, 250], tickvals: [0, REFERENCE_OHM, 200, -100, 100] },
    shapes: [across(REFERENCE_OHM, "dot"), across(0, "solid")],
  };
}

function withGaps(gridMhz, values) {
  const x = [];
  const y = [];
  gridMhz.forEach((mhz, i) => {
    if (i > 0 && mhz - gridMhz[i - 1] > GAP_MHZ) {
      x.push(mhz);
      y.push(null);
    }
    x.push(mhz);
    y.push(values[i]);
  });
  return { x, y };
}

// As many ticks as there is room for, those named first before the others.
function withRoom({ tickvals, range: [bottom, top] }, height) {
  const place = (value) => (height * (value - bottom)) / (top - bottom);
  const chosen = [];
  for (const value of tickvals) {
    if (chosen.every((other) => Math.abs(place(other) - place(value)) >= TICK_PX)) chosen.push(value);
  }
  return chosen;
}

function axis(colour) {
  return {
    gridcolor: colour.line, linecolor: colour.line, zeroline: false, color: colour.muted,
    tickfont: { color: colour.muted, size: 12 },
  };
}

// What was swept; before the first sweep, where the bands lie.
function rangeOf({ header, gridMhz }) {
  if (gridMhz?.length) return [gridMhz[0], gridMhz.at(-1)];
  const edges = header.strips.flatMap(({ links }) => links.flatMap((link) => [link.low_mhz, link.high_mhz]));
  return edges.length ? [0.85 * Math.min(...edges), 1.15 * Math.max(...edges)] : [690, 2700];
}

function baseLayout(colour, range, width, rows) {
  return {
    autosize: true,
    margin: { l: 52, r: 12, t: 30, b: rows ? 28 + SERVICES.height + SERVICES.row * rows : 24 },
    paper_bgcolor: "rgba(0,0,0,0)",
    plot_bgcolor: "rgba(0,0,0,0)",
    font: { family: "system-ui, sans-serif", size: 12, color: colour.muted },
    legend: { orientation: "h", x: 1, xanchor: "right", y: 1, yanchor: "bottom", font: { color: colour.ink } },
    hovermode: "x",
    dragmode: false,
    hoverlabel: { bgcolor: colour.panel, font: { color: colour.ink } },
    xaxis: {
      ...axis(colour), ticksuffix: " MHz", fixedrange: true, nticks: Math.max(Math.floor(width / 105), 2), tickangle: 0,
      range,
    },
  };
}

function bandShape(link, colour) {
  return {
    type: "rect", layer: "below", yref: "paper", y0: 0, y1: 1, x0: link.low_mhz, x1: link.high_mhz,
    fillcolor: link.link === "downlink" ? colour.downlink : colour.uplink,
    line: { width: 0 },
  };
}

// Names above the plot, in two rows where neighbours would touch.
function bandNames(strips, range, width, colour) {
  const named = strips.map(({ name, links }) => ({
    name,
    low_mhz: Math.min(...links.map((link) => link.low_mhz)),
    high_mhz: Math.max(...links.map((link) => link.high_mhz)),
  }));
  return inRows(named, 2, range, width).map(({ name, x, row }) => ({
    x, y: 1, yref: "paper", yanchor: "bottom", yshift: 14 * row, showarrow: false,
    text: plainText(name), font: { size: 12, color: colour.ink },
  }));
}

// Puts each name into the first row where it does not touch the one before; without one it is left
// out.
function inRows(ranges, rows, [low, high], width) {
  const mhzPerLetter = (8.5 * (high - low)) / Math.max(width, 1);
  const ends = new Array(rows).fill(-Infinity);
  const placed = [];
  const middle = ({ low_mhz, high_mhz }) => (low_mhz + high_mhz) / 2;
  for (const range of [...ranges].sort((a, b) => middle(a) - middle(b))) {
    const half = ((range.name.length + 1) * mhzPerLetter) / 2;
    const row = ends.findIndex((end) => end <= middle(range) - half);
    if (row === -1) continue;
    ends[row] = middle(range) + half;
    placed.push({ name: range.name, x: middle(range), row });
  }
  return placed;
}

function within(service, [low, high]) {
  return service.high_mhz > low && service.low_mhz < high;
}

function serviceShape(service, colour) {
  return {
    type: "rect", yref: "paper", ysizemode: "pixel", yanchor: 0, y0: SERVICES.y, y1: SERVICES.y - SERVICES.height, x0: service.low_mhz, x1: service.high_mhz,
    fillcolor: colour.service, line: { width: 1, color: colour.service },
  };
}

function serviceNames(services, rows, range, width, colour) {
  return inRows(services, rows, range, width).map(({ name, x, row }) => ({
    x, y: 0, yref: "paper", yanchor: "top", yshift: SERVICES.y - SERVICES.height - SERVICES.row * row + 2, showarrow: false,
    text: plainText(name), font: { size: 11, color: colour.ink },
  }));
}

// Plotly reads a few tags in its texts: names must stay names.
export function plainText(text) {
  return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");
}
