// The Smith chart. Plotly's wants normalised impedance and not the reflection (see metrics.js).

import { colours } from "./colours.js";
import { GAP_MHZ, plainText } from "./overview.js";
import { firstAtOrAbove } from "./strip_scale.js";
import { impedanceAt } from "./metrics.js";

export class Smith {
  #graph;

  constructor(graph) {
    this.#graph = graph;
  }

  show({ header, gridMhz, trace, held }) {
    const colour = colours();
    const data = [];
    if (gridMhz && trace && header.plane !== "raw") {
      if (held?.length === trace.length) {
        data.push(line(gridMhz, held, 0, gridMhz.length, { color: colour.held, width: 1, dash: "dash" }, "held"));
      }
      data.push(line(gridMhz, trace, 0, gridMhz.length, { color: colour.muted, width: 1 }, "all"));
      for (const strip of header.strips) {
        for (const link of strip.links) {
          const first = firstAtOrAbove(gridMhz, link.low_mhz);
          const last = firstAtOrAbove(gridMhz, link.high_mhz) + 1;
          const style = { color: colour.trace, width: 3.5, dash: link.link === "downlink" ? "dot" : "solid" };
          data.push(line(gridMhz, trace, first, last, style, plainText(`${strip.name} ${link.link}`)));
        }
      }
    }
    const axis = { gridcolor: colour.line, linecolor: colour.muted, tickfont: { color: colour.muted, size: 11 } };
    const layout = {
      autosize: true,
      margin: { l: 28, r: 28, t: 24, b: 24 },
      paper_bgcolor: "rgba(0,0,0,0)",
      font: { family: "system-ui, sans-serif", color: colour.muted },
      showlegend: false,
      hoverlabel: { bgcolor: colour.panel, font: { color: colour.ink } },
      smith: {
        bgcolor: "rgba(0,0,0,0)",
        realaxis: { ...axis, tickvals: [0.2, 0.5, 1, 2, 5], tickangle: 90 },
        imaginaryaxis: { ...axis, tickvals: [-5, -2, -1, -0.5, -0.2, 0, 0.2, 0.5, 1, 2, 5] },
      },
    };
    window.Plotly.react(this.#graph, data, layout, { displayModeBar: false, responsive: true });
  }
}

function line(gridMhz, trace, first, last, style, name) {
  const real = [];
  const imag = [];
  for (let i = first; i < Math.min(last, trace.length / 2); i += 1) {
    if (i > first && gridMhz[i] - gridMhz[i - 1] > GAP_MHZ) {
      real.push(null);
      imag.push(null);
    }
    const [r, x] = impedanceAt(trace, i);
    real.push(r);
    imag.push(x);
  }
  return { type: "scattersmith", real, imag, mode: "lines", line: style, name, hoverinfo: "name+real+imag" };
}
