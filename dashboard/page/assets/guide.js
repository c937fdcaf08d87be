// The first steps, from the port to the first verdict: where one stands, and the way on. They are
// left and taken up with one button, and are gone once there was a verdict.

import { byId, html, say, showing } from "./element.js";
import { goTo } from "./views.js";

const KEPT = "bandwright-first-steps"; // "left" or "done"; nothing while they are shown

// Where each step is done.
const PLACES = {
  port: () => goTo("port"),
  plan: () => {
    goTo("bench");
    byId("plan-open").click();
  },
  kit: () => goTo("calibrate"),
  calibrate: () => goTo("calibrate"),
  antenna: () => goTo("bench"),
};

let guide = null;
let before = ""; // the step that was shown last
let leads = false; // this page was led here: the next step opens by itself

export function startGuide() {
  byId("guide-leave").addEventListener("click", () => keep(kept() === "left" ? "" : "left"));
  byId("guide-again").addEventListener("click", () => {
    keep("");
    takeUp();
  });
  byId("guide-steps").addEventListener("click", ({ target }) => {
    const step = target.closest("[data-step]");
    if (step) PLACES[step.dataset.step]();
  });
}

export function showGuide({ header }) {
  guide = header.guide;
  if (guide.now === "" && before !== "") keep("done");
  // A plan that was just chosen leads to what is missing next, as the port before it did.
  if (leads && before === "plan" && ["kit", "calibrate"].includes(guide.now)) goTo("calibrate");
  if (guide.now !== before && before === "plan") leads = false;
  before = guide.now;
  byId("page").dataset.step = guide.now;
  draw();
}

// The way on after a port was chosen here: the next step opens by itself.
export function takeUp() {
  if (guide === null) return;
  leads = guide.now === "plan";
  (PLACES[guide.now] ?? PLACES.antenna)();
}

// The same as the next step of the job, from the list of ports.
export function nextOfSteps() {
  const words = { plan: "Next: bands", kit: "Next: kit", calibrate: "Next: calibrate" }[guide?.now] ?? "Next: bench";
  return { words, take: takeUp };
}

function draw() {
  const shown = guide !== null && guide.now !== "" && kept() !== "done";
  byId("guide").hidden = !shown;
  byId("guide-again").hidden = guide?.now === "" || kept() === "";
  if (!shown) return;
  const left = kept() === "left";
  byId("guide").dataset.left = left;
  const at = guide.steps.findIndex(({ state }) => state === "now") + 1;
  say(byId("guide-leave"), left ? `Show the first steps (${at} of ${guide.steps.length})` : "Hide steps");
  showing(byId("guide-steps"), guide.steps, (steps) => steps.map(step));
}

function step({ name, words, state }, index) {
  const said = { done: "done", now: "now", "to come": "to come" }[state];
  return html(
    "li",
    { "data-state": state, "aria-current": state === "now" ? "step" : null },
    html(
      "button",
      { type: "button", "data-step": name, disabled: state === "to come" ? "" : null, "aria-label": `${index + 1}, ${words}: ${said}` },
      html("span", { class: "number", "aria-hidden": "true" }, state === "done" ? "✓" : `${index + 1}`),
      html("span", { class: "of" }, `of ${guide.steps.length}: `),
      html("span", {}, words),
    ),
  );
}

function kept() {
  return localStorage.getItem(KEPT) ?? "";
}

function keep(what) {
  if (what === "") localStorage.removeItem(KEPT);
  else localStorage.setItem(KEPT, what);
  draw();
}
