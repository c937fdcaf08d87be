// The virtual bench's antenna, drawn from its sizes: bend it, and the drawing bends with it.
//
// Everything is to one scale, so that a millimetre looks like a millimetre, but for the feed gap: that
// is drawn larger, for it would hardly be seen.

import { svg } from "./element.js";

const [WIDTH, TOP, HEIGHT] = [240, 3, 112];
const MM = 1.26; // units of the drawing for a millimetre
const FEED_X = 86;
const BRACKET_Y = 96;
const GAP_LARGER = 2;

export function drawAntenna({ dimensions, enclosed, wet }) {
  const mm = Object.fromEntries(dimensions.map((each) => [each.name, each.mm]));
  const strip = BRACKET_Y - mm.height * MM;
  const [left, right] = [FEED_X - mm.arm_b * MM, FEED_X + mm.arm_a * MM];
  const gap = mm.feed_gap * MM * GAP_LARGER;
  const words = [
    `Arm A ${mm.arm_a.toFixed(1)} mm, arm B ${mm.arm_b.toFixed(1)} mm`,
    `${mm.height.toFixed(1)} mm above its bracket, feed gap ${mm.feed_gap.toFixed(1)} mm`,
    enclosed ? "in its enclosure" : "",
    wet ? "in rain" : "",
  ];
  return svg(
    "svg",
    { viewBox: `0 ${TOP} ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": words.filter(Boolean).join(", ") },
    enclosed ? svg("rect", { class: "enclosure", x: 4, y: 34, width: WIDTH - 8, height: BRACKET_Y - 28, rx: 8 }) : null,
    ...(wet ? rain(enclosed ? 34 : strip - 3) : []),
    svg("rect", { class: "bracket", x: 10, y: BRACKET_Y, width: WIDTH - 20, height: 5 }),
    svg("rect", { class: "coax", x: FEED_X - 3, y: BRACKET_Y + 5, width: 6, height: 13 }),
    svg("rect", { class: "pin", x: FEED_X - 1, y: BRACKET_Y - 1, width: 2, height: 6 }),
    svg("path", { class: "strip", d: `M${left} ${strip}H${right}M${FEED_X} ${strip}V${BRACKET_Y - gap - 1}` }),
    across((FEED_X + right) / 2, strip - 7, FEED_X, right, `A ${mm.arm_a.toFixed(1)}`),
    across((left + FEED_X) / 2, strip - 7, left, FEED_X, `B ${mm.arm_b.toFixed(1)}`),
    upright(WIDTH - 14, strip, BRACKET_Y, mm.height.toFixed(1)),
    svg("text", { x: FEED_X + 7, y: BRACKET_Y - 4 }, `gap ${mm.feed_gap.toFixed(1)}`),
  );
}

function across(middle, y, from, to, text) {
  return svg(
    "g",
    { class: "size" },
    svg("path", { d: `M${from + 1} ${y - 3}v6M${from + 1} ${y}H${to - 1}M${to - 1} ${y - 3}v6` }),
    svg("text", { x: middle, y: y - 4, "text-anchor": "middle" }, text),
  );
}

function upright(x, from, to, text) {
  return svg(
    "g",
    { class: "size" },
    svg("path", { d: `M${x - 3} ${from}h6M${x} ${from}V${to}M${x - 3} ${to}h6` }),
    svg("text", { x: x - 5, y: (from + to) / 2 + 3, "text-anchor": "end" }, text),
  );
}

// Drops that fall, and some that lie on whatever they fall on.
function rain(lid) {
  const fall = [14, 42, 70, 98, 126, 154, 182, 210].map((x, at) => `M${x} ${4 + (at % 3) * 6}l-3 9`);
  const lie = [24, 62, 110, 148, 176, 214].map((x) => svg("circle", { class: "drop", cx: x, cy: lid, r: 2 }));
  return [svg("path", { class: "rain", d: fall.join("") }), ...lie];
}
