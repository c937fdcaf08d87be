// The mark of a state: a shape and a word. Above its limit points up, below points down, filled
// where that is sure, hollow where it is not; a square where nothing was measured. The colour only
// repeats what the shape says.

import { html, svg } from "./element.js";

const UP = "M10 3 L18 17 H2 Z";
const DOWN = "M10 17 L18 3 H2 Z";
const SQUARE = "M3.5 3.5 H16.5 V16.5 H3.5 Z";

const SHAPES = {
  pass: { path: UP, filled: true },
  "conditional pass": { path: UP, filled: false },
  "conditional fail": { path: DOWN, filled: false },
  fail: { path: DOWN, filled: true },
  "not measured": { path: SQUARE, filled: false },
  withheld: { path: "M3 10 H17", filled: false },
};

export function shape(state) {
  const { path, filled } = SHAPES[state] ?? SHAPES.withheld;
  return svg(
    "svg",
    { class: "shape", viewBox: "0 0 20 20", "aria-hidden": "true", "data-state": state },
    svg("path", { d: path, class: filled ? "filled" : "hollow" }),
  );
}

export function mark(state, words) {
  return html("span", { class: "mark", "data-state": state }, shape(state), html("span", {}, words));
}
