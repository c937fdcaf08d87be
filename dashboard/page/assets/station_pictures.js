// The three pictures of a station: connect it, wait, read the word. Shape and word say everything;
// the colour only repeats them.

import { svg } from "./element.js";

const BOX = "0 0 200 130";

const path = (d, more = {}) => svg("path", { d, ...more });
const words = (x, y, text, more = {}) => svg("text", { x, y, "text-anchor": "middle", ...more }, text);

// The cable with its nut on the left, the thing to connect on the right, an arrow between them.
export function connectPicture(thing) {
  const drawn = (THINGS[thing] ?? THINGS.antenna)();
  return svg(
    "svg",
    { viewBox: BOX, "aria-hidden": "true" },
    path("M0 84C18 84 22 70 40 70", { class: "cable" }),
    svg("rect", { class: "metal", x: 40, y: 58, width: 26, height: 24, rx: 3 }),
    path("M46 58v24M52 58v24M58 58v24", { class: "groove" }),
    path("M74 70h20M88 63l8 7-8 7", { class: "arrow" }),
    drawn,
  );
}

const THINGS = {
  open: () => standard("OPEN", path("M128 62h10v16h-10", { class: "mark" })),
  short: () => standard("SHORT", path("M128 62h10v16h-10M138 62v16", { class: "mark" })),
  load: () => standard("LOAD", path("M128 70h4l2-6 4 12 4-12 4 12 2-6h4", { class: "mark" })),
  "check piece": () => standard("CHECK", path("M130 70l5 6 10-13", { class: "mark" })),
  antenna: () => antenna(null),
  "known good": () => antenna(path("M166 20l4.4 9 9.6 1.4-7 6.8 1.7 9.7-8.7-4.6-8.7 4.6 1.7-9.7-7-6.8 9.6-1.4z", { class: "star" })),
};

function standard(name, mark) {
  return svg(
    "g",
    {},
    svg("rect", { class: "metal", x: 104, y: 60, width: 16, height: 20, rx: 2 }),
    svg("rect", { class: "body", x: 118, y: 52, width: 44, height: 36, rx: 6 }),
    mark,
    words(140, 112, name, { class: "name" }),
  );
}

function antenna(more) {
  return svg(
    "g",
    {},
    svg("rect", { class: "metal", x: 104, y: 62, width: 16, height: 16, rx: 2 }),
    svg("rect", { class: "bracket", x: 120, y: 84, width: 74, height: 6 }),
    path("M120 70h20V52M126 52h64", { class: "strip" }),
    more,
  );
}

// An open palm with a bar through it, and a curve that is being drawn.
export function sweepPicture() {
  return svg(
    "svg",
    { viewBox: BOX, "aria-hidden": "true" },
    svg("rect", { class: "screen", x: 8, y: 22, width: 104, height: 74, rx: 8 }),
    path("M18 40h22c10 0 12 42 20 42s10-42 20-42h22", { class: "curve", pathLength: 100 }),
    svg("g", { class: "hand" }, path("M144 96c-10-12-16-22-13-26 3-3 8 2 11 7V46c0-5 7-5 7 0v20-26c0-5 8-5 8 0v26-22c0-5 7-5 7 0v24-14c0-5 7-5 7 0v26c0 8-4 12-7 16z")),
    path("M124 104L184 32", { class: "bar" }),
  );
}

// A tick, a cross or a question mark in a shape of its own, with its word.
export function resultPicture(word) {
  if (word === null) {
    return svg("svg", { viewBox: BOX, "aria-hidden": "true" }, svg("circle", { class: "empty", cx: 100, cy: 65, r: 44 }), words(100, 76, "…", { class: "dots" }));
  }
  return svg("svg", { viewBox: BOX, "aria-hidden": "true" }, ...RESULTS[word]());
}

const RESULTS = {
  YES: () => [svg("circle", { class: "solid", cx: 100, cy: 65, r: 52 }), path("M74 66l18 20 36-42", { class: "on" })],
  NO: () => [path("M78 12h44l31 31v44l-31 31H78L47 87V43z", { class: "solid" }), path("M80 45l40 40M120 45l-40 40", { class: "on" })],
  ASK: () => [path("M100 6l62 112H38z", { class: "solid", "stroke-linejoin": "round" }), words(100, 102, "?", { class: "question" })],
};
