// Tuning: what was done, what is held, and how the worst margin went over the last minutes.

import { byId, html, say, showing, svg } from "./element.js";

const [LEAST_S, MOST_S] = [60, 600]; // what the chart's width stands for
const [WIDTH, HEIGHT] = [110, 22];
const RANGE_DB = 12; // margins beyond this, either way, run along the edge

export function showTuning({ header, history }) {
  const { tuning, holds, hold, bench, touch } = header;
  const bends = tuning !== null && bench === null && tuning.dimensions.length > 0;
  byId("done").hidden = !bends;
  showing(byId("dimensions-done"), tuning?.dimensions ?? [], (dimensions) => dimensions.map(dimension));
  showAdvised(bends ? tuning.advised : null);
  say(byId("waiting-for"), tuning?.waiting ?? "");
  say(byId("last-step"), tuning?.checked ? `Last step: ${tuning.step}` : "");
  say(byId("checked"), tuning?.checked ?? "");
  byId("take-back").disabled = !tuning?.waiting;
  say(byId("best"), tuning?.best ?? "");
  showing(byId("holds"), [holds, hold?.number ?? null], ([held, shown]) => held.map((each) => holdButton(each, shown)));
  byId("holds").hidden = holds.length === 0;
  const since = hold?.words ? `Since ${hold.name}: ${hold.words}` : "";
  say(byId("since-hold"), since);
  byId("since-hold").hidden = since === "";
  showTouch(touch);
  drawHistory(history, tuning?.marks ?? []);
}

// The touch test: its button leaves it while it goes on.
function showTouch({ phase, result }) {
  const going = phase !== "idle";
  byId("page").dataset.touch = phase;
  byId("touch").dataset.action = JSON.stringify({ do: going ? "leave touch" : "touch test" });
  byId("touch").setAttribute("aria-pressed", going);
  byId("leave-touch").hidden = !going;
  say(byId("touch-found"), result);
  byId("touch-result").hidden = result === "";
}

function dimension({ name, label, step }, index) {
  const { taps, whileShown } = byId("dimensions-done").dataset;
  const keys = taps.split(" ");
  const tap = (mm, key) =>
    html(
      "button",
      {
        type: "button",
        "data-keys": keys[key - 1],
        "data-while-shown": whileShown,
        "aria-label": `${label} ${mm > 0 ? "plus" : "minus"} ${step} mm done`,
        "data-action": JSON.stringify({ do: "report change", dimension: name, mm }),
      },
      `${mm > 0 ? "+" : "−"}${step}`,
      html("kbd", { "aria-hidden": true }, `${key}`),
    );
  return html(
    "span",
    { class: "done" },
    html("span", {}, label),
    tap(-step, 2 * index + 1),
    tap(step, 2 * index + 2),
  );
}

// The step that is advised, done as it was told: seldom a whole number of taps.
function showAdvised(advised) {
  const button = byId("did-it");
  button.hidden = advised === null;
  if (advised === null) return;
  button.dataset.action = JSON.stringify({ do: "report change", dimension: advised.dimension, mm: advised.mm });
  button.title = advised.words;
  button.setAttribute("aria-label", `I did it: ${advised.words}`);
}

function holdButton({ number, name }, shown) {
  const compared = number === shown;
  return html(
    "button",
    {
      type: "button",
      "aria-pressed": compared,
      "data-action": JSON.stringify({ do: compared ? "hide hold" : "show hold", hold: number }),
    },
    name,
  );
}

// (seconds ago, dB) pairs, oldest first; zero, where the limit is, is a line of its own.
function drawHistory(history, marks) {
  const chart = byId("history-of-margin");
  const empty = !history || history.length < 8;
  chart.hidden = empty;
  if (empty) return;
  const span = Math.min(Math.max(-history[0], LEAST_S), MOST_S);
  const x = (ago) => WIDTH * (1 + ago / span);
  const y = (db) => HEIGHT / 2 - (Math.max(Math.min(db, RANGE_DB), -RANGE_DB) / RANGE_DB) * (HEIGHT / 2 - 2);
  const points = [];
  for (let i = 0; i < history.length; i += 2) points.push(`${x(history[i]).toFixed(1)} ${y(history[i + 1]).toFixed(1)}`);
  showing(chart, [points.at(-1), points.length, marks.length], () => [
    svg(
      "svg",
      { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, width: WIDTH, height: HEIGHT, role: "img", "aria-label": "Worst margin over the last minutes" },
      svg("line", { class: "limit", x1: 0, x2: WIDTH, y1: y(0), y2: y(0) }),
      ...marks.filter(({ ago_s }) => ago_s < span).map(({ ago_s, words }) => mark(x(-ago_s), words)),
      svg("path", { class: "margin", d: `M${points.join("L")}` }),
    ),
  ]);
}

function mark(x, words) {
  const title = svg("title", {});
  title.textContent = words;
  return svg("line", { class: "mark", x1: x, x2: x, y1: 0, y2: HEIGHT }, title);
}
