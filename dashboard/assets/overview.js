// The overview: everything that was swept, in one wide plot; and the impedance over the same
// frequencies. Plotly's `react` costs about 15 ms, so it runs once a frame at most.

import { colours } from "./colours.js";
import { METRICS, REFERENCE_OHM, curve, impedanceAt } from "./metrics.js";

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
    const drawn = metricName === "impedance" ? impedance(frame, colour) : sizes(frame, metricName, colour);
    const bands = header.strips.flatMap((strip) => strip.links.map((link) => bandShape(link, colour)));
    const others = withServices ? this.#services.filter((each) => within(each, frame.gridMhz)) : [];
    const layout = {
      ...baseLayout(colour, frame.gridMhz),
      yaxis: { ...axis(colour), ...drawn.yaxis, fixedrange: true },
      shapes: [...bands, ...others.map((each) => serviceShape(each, colour)), ...(drawn.shapes ?? [])],
      annotations: [
        ...bandNames(header.strips, frame.gridMhz, this.#graph.clientWidth, colour),
        ...others.map((each, i) => serviceName(each, i, colour)),
      ],
    };
    window.Plotly.react(this.#graph, drawn.traces, layout, { displayModeBar: false, responsive: true });
  }
}

function sizes({ header, gridMhz, trace, held }, metricName, colour) {
  const metric = METRICS[metricName] ?? METRICS.loss;
  const traces = [];
  const line = (values, name, style) => {
    const { x, y } = withGaps(gridMhz, curve(values, metric));
    traces.push({ x, y, name, mode: "lines", line: style, hovertemplate: `%{x:.1f} MHz, %{y:.2f}<extra>${name}</extra>` });
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

function impedance({ header, gridMhz, trace }, colour) {
  const traces = [];
  if (gridMhz && trace && header.plane !== "raw") {
    const ohms = Array.from(gridMhz, (_, i) => impedanceAt(trace, i).map((z) => z && z * REFERENCE_OHM));
    const line = (values, name, style) => {
      const { x, y } = withGaps(gridMhz, values);
      traces.push({ x, y, name, mode: "lines", line: style, hovertemplate: `%{x:.1f} MHz, %{y:.1f} Ω<extra>${name}</extra>` });
    };
    line(ohms.map(([r]) => r), "resistance", { color: colour.trace, width: 2 });
    line(ohms.map(([, x]) => x), "reactance", { color: colour.held, width: 2, dash: "dash" });
  }
  const across = (value, dash) => ({ type: "line", xref: "paper", x0: 0, x1: 1, y0: value, y1: value, line: { color: colour.muted, width: 1, dash } });
  return {
    traces,
    yaxis: { title: { text: "Impedance, Ω", standoff: 6 }, range: [-150, 250], tickvals: [-100, 0, 50, 100, 200] },
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

function axis(colour) {
  return {
    gridcolor: colour.line, linecolor: colour.line, zeroline: false, color: colour.muted,
    tickfont: { color: colour.muted, size: 12 },
  };
}

function baseLayout(colour, gridMhz) {
  return {
    autosize: true,
    margin: { l: 52, r: 12, t: 32, b: 28 },
    paper_bgcolor: "rgba(0,0,0,0)",
    plot_bgcolor: "rgba(0,0,0,0)",
    font: { family: "system-ui, sans-serif", size: 12, color: colour.muted },
    showlegend: false,
    hovermode: "x",
    dragmode: false,
    hoverlabel: { bgcolor: colour.panel, font: { color: colour.ink } },
    xaxis: {
      ...axis(colour), ticksuffix: " MHz", fixedrange: true, nticks: 9,
      range: gridMhz?.length ? [gridMhz[0], gridMhz.at(-1)] : [700, 2700],
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
function bandNames(strips, gridMhz, width, colour) {
  const mhzPerLetter = gridMhz?.length ? (8 * (gridMhz.at(-1) - gridMhz[0])) / Math.max(width, 1) : 0;
  const ends = [-Infinity, -Infinity];
  const middle = ({ links }) =>
    (Math.min(...links.map((link) => link.low_mhz)) + Math.max(...links.map((link) => link.high_mhz))) / 2;
  return [...strips]
    .sort((a, b) => middle(a) - middle(b))
    .map((strip) => {
      const half = (strip.name.length * mhzPerLetter) / 2;
      const row = ends[0] <= middle(strip) - half ? 0 : 1;
      ends[row] = middle(strip) + half;
      return {
        x: middle(strip), y: 1, yref: "paper", yanchor: "bottom", yshift: 14 * row, showarrow: false,
        text: plainText(strip.name), font: { size: 12, color: colour.ink },
      };
    });
}

function within(service, gridMhz) {
  return gridMhz?.length > 0 && service.high_mhz > gridMhz[0] && service.low_mhz < gridMhz.at(-1);
}

function serviceShape(service, colour) {
  return {
    type: "rect", layer: "below", yref: "paper", y0: 0, y1: 0.06, x0: service.low_mhz, x1: service.high_mhz,
    fillcolor: colour.service, line: { width: 1, color: colour.service },
  };
}

function serviceName(service, i, colour) {
  return {
    x: (service.low_mhz + service.high_mhz) / 2, y: 0.08 + 0.09 * (i % 4), yref: "paper", yanchor: "bottom",
    showarrow: false, text: plainText(service.name), font: { size: 11, color: colour.muted },
  };
}

// Plotly reads a few tags in its texts: names must stay names.
function plainText(text) {
  return text.replaceAll("&", "&amp;").replaceAll("<", "&lt;").replaceAll(">", "&gt;");
}
