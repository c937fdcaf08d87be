// The guided calibration: what to connect, how steady it is, what was wrong with it.

import { byId, html, say, showing, svg } from "./element.js";
import { LiveReading } from "./live_reading.js";

const SHOWN_BY_DASH = "#check-piece-shown, #costs"; // results that a callback writes
let live = null;
let awaited = false; // a check runs, and its result is to come into view

export function startCalibration() {
  for (const result of document.querySelectorAll(SHOWN_BY_DASH)) {
    new MutationObserver(() => intoView(result)).observe(result, { childList: true });
  }
}

function intoView(result) {
  if (result.textContent !== "") result.scrollIntoView({ block: "nearest" });
}

export function showCalibration(frame) {
  const { header } = frame;
  const { session, calibration, port } = header;
  const lost = port.phase === "lost";
  const panel = byId("view-calibrate");
  panel.dataset.phase = session?.phase ?? "idle";
  byId("calibration-idle").hidden = session !== null;
  byId("calibration-running").hidden = session === null;
  say(byId("calibration-words"), calibration.detail);
  showing(byId("calibration-warnings"), calibration.warnings, (warnings) =>
    warnings.map((text) => html("p", { class: "warning" }, text)),
  );
  say(byId("kit-words"), calibration.kit_words);
  const why = calibration.kit === "" ? "Choose your standards first." : lost ? "Connect the analyzer first." : "";
  byId("start-calibration").disabled = why !== "";
  say(byId("start-why"), why);
  showChecks(header);
  awaited = session?.checking ?? false;
  if (session === null) return;

  if (!panel.hidden) {
    live ??= new LiveReading(byId("standard-live"), byId("standard-live-words"));
    live.show(frame);
  }
  byId("standard-reading").hidden = !frame.trace;
  showing(byId("steps"), session.standards, (standards) => standards.map(step));
  showing(byId("standard-picture"), session.step?.standard ?? "", (name) => [picture(name)]);
  say(byId("instruction"), session.step?.instruction ?? session.message);
  showing(byId("cautions"), session.step?.cautions ?? [], (lines) => lines.map((text) => html("li", {}, text)));
  showing(byId("refusal"), session.phase === "refused" ? session.message : "", (text) =>
    text ? [html("strong", {}, "Not accepted."), html("p", {}, text)] : [],
  );
  byId("refusal").hidden = session.phase !== "refused";
  byId("standard-on").disabled = lost || session.phase === "capturing";
  say(byId("standard-on"), lost ? "Waiting for the analyzer" : onWords(session));
  byId("skip-standard").hidden = !session.step?.optional;
  steadiness(session);
}

// What can be measured of the calibration that holds, and what the last check showed.
function showChecks({ calibration, session, trust }) {
  byId("calibration-checks").hidden = session !== null || calibration.state !== "held";
  for (const [id, action] of [["put-back", "put back"], ["remake", "remake"]]) {
    showing(byId(id), calibration.standards, (names) =>
      names.map((standard) =>
        html("button", { type: "button", "data-action": JSON.stringify({ do: action, standard }) }, standard.replaceAll("-", " ")),
      ),
    );
  }
  say(byId("trust-load"), trust?.load ?? "");
  const outcome = byId("check-outcome");
  outcome.hidden = calibration.outcome === null;
  if (calibration.outcome === null) return;
  outcome.dataset.kind = calibration.outcome.agrees ? "done" : "refused";
  showing(outcome, calibration.outcome.words, (words) => words.map((text) => html("p", {}, text)));
  if (awaited && session === null) intoView(outcome);
}

function onWords({ phase, step }) {
  if (phase === "capturing") return "Measuring. Keep still.";
  const spoken = step ? step.spoken : "standard";
  return phase === "refused" ? `Measure the ${spoken} again` : `It is connected. Measure the ${spoken}.`;
}

function step({ name, spoken, state, number }) {
  const words = { taken: "measured", now: "now", waiting: "to do" }[state];
  return html(
    "li",
    { "data-state": state },
    html("span", { class: "number" }, state === "taken" ? "✓" : `${number}`),
    html("span", { class: "name" }, spoken),
    html("span", { class: "words" }, words),
    state === "taken"
      ? html(
          "button",
          { type: "button", class: "quiet", "data-action": JSON.stringify({ do: "redo", standard: name }) },
          "Measure again",
        )
      : null,
  );
}

// The bar: one cell for each steady sweep wanted; and how much of the movement is only noise.
function steadiness({ capture, phase }) {
  const bar = byId("steadiness");
  bar.hidden = capture === null || phase === "refused";
  if (capture === null) return;
  bar.dataset.phase = capture.phase;
  bar.setAttribute("aria-valuenow", capture.sweeps);
  bar.setAttribute("aria-valuemax", capture.wanted);
  showing(byId("cells"), [capture.sweeps, capture.wanted], ([sweeps, wanted]) =>
    Array.from({ length: wanted }, (_, i) => html("i", { class: i < sweeps ? "full" : "" })),
  );
  const still = capture.steadiness === null ? 0 : capture.steadiness;
  byId("stillness").style.setProperty("--still", `${Math.round(100 * still)}%`);
  say(byId("movement"), capture.movement === null ? "" : `Changed by ${(100 * capture.movement).toFixed(1)} % since the last sweep`);
  say(byId("capture-message"), capture.message);
}

// The end of a cable, and what is behind the connector: drawn as circuit symbols.
function picture(name) {
  const kind = ["open", "short", "load"].find((each) => name.includes(each)) ?? "";
  const behind = {
    open: [svg("circle", { cx: 176, cy: 44, r: 5 }), svg("path", { d: "M134 44 H171" })],
    short: [svg("path", { d: "M134 44 H176 V74 M164 74 H188 M168 80 H184 M173 86 H179" })],
    load: [
      svg("path", { d: "M134 44 H176 V50" }),
      svg("rect", { x: 168, y: 50, width: 16, height: 22 }),
      svg("path", { d: "M176 72 V78 M164 78 H188 M168 84 H184 M173 90 H179" }),
    ],
  }[kind] ?? [];
  return svg(
    "svg",
    { viewBox: "0 0 210 100", "aria-hidden": "true" },
    svg("path", { class: "cable", d: "M0 44 H62" }),
    svg("rect", { class: "nut", x: 62, y: 28, width: 34, height: 32, rx: 4 }),
    svg("path", { class: "thread", d: "M71 28 V60 M79 28 V60 M87 28 V60" }),
    svg("rect", { class: "body", x: 104, y: 18, width: 100, height: 76, rx: 10 }),
    svg("path", { d: "M96 44 H134" }),
    ...behind,
  );
}
