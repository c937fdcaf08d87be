// The virtual bench: what is on its port, and the antenna's dimensions to bend.

import { drawAntenna } from "./antenna_drawing.js";
import { byId, html, say, showing } from "./element.js";

export function showDemo({ header }) {
  const { bench } = header;
  byId("demo").hidden = bench === null;
  if (bench === null) return;
  showing(byId("on-port"), [bench.on_port, bench.choices], ([on, choices]) =>
    choices.map((name) =>
      html(
        "button",
        { type: "button", "aria-pressed": name === on, "data-action": JSON.stringify({ do: "screw on", name }) },
        name,
      ),
    ),
  );
  showing(byId("pigtails"), [bench.pigtail, bench.pigtails], ([laid, pigtails]) =>
    Object.entries(pigtails).map(([name, words]) =>
      html(
        "button",
        { type: "button", "aria-pressed": name === laid, "data-action": JSON.stringify({ do: "lay", pigtail: name }) },
        words,
      ),
    ),
  );
  say(byId("bench-steady"), bench.steady ? "" : "A hand is on it …");
  byId("grip").dataset.action = JSON.stringify({ do: "grip", gripped: !bench.gripped });
  byId("grip").setAttribute("aria-pressed", bench.gripped);
  say(byId("grip"), bench.gripped ? "Let go of the cable" : "Grip the cable");
  say(byId("antenna-name"), `Antenna ${bench.antenna}`);
  showing(byId("antennas"), [bench.antenna, bench.antennas], ([here, all]) =>
    all.map((antenna) => pressed(antenna, antenna === here, { do: "fetch antenna", antenna })),
  );
  showing(byId("surroundings"), [bench.enclosed, bench.wet], ([enclosed, wet]) => [
    pressed("Enclosure", enclosed, { do: "surround", enclosed: !enclosed }),
    pressed("Rain", wet, { do: "surround", wet: !wet }),
  ]);
  showing(byId("antenna-drawing"), [bench.dimensions, bench.enclosed, bench.wet], () => [drawAntenna(bench)]);
  showing(byId("dimensions"), bench.dimensions, (dimensions) => dimensions.map(dimension));
}

function pressed(words, on, what) {
  return html("button", { type: "button", "aria-pressed": on, "data-action": JSON.stringify(what) }, words);
}

function dimension({ name, label, mm, low, high, moves, steps }) {
  const bend = (delta) =>
    html(
      "button",
      {
        type: "button",
        disabled: mm + delta < low || mm + delta > high ? "" : null,
        "aria-label": `${label} ${delta > 0 ? "plus" : "minus"} ${Math.abs(delta)} mm`,
        "data-action": JSON.stringify({ do: "bend", dimension: name, mm: delta }),
      },
      `${delta > 0 ? "+" : "−"}${Math.abs(delta)}`,
    );
  return html(
    "li",
    { "data-dimension": name },
    html("span", { class: "label" }, label, html("small", {}, moves)),
    html("output", {}, `${mm.toFixed(1)} mm`),
    html("span", { class: "steps" }, ...[...steps].reverse().map((step) => bend(-step)), ...steps.map(bend)),
  );
}
