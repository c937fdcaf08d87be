// One key for everything: a foot switch or a presenter is enough. Each key presses the button that
// names it in `data-keys`, so that nothing can be done by key alone; which keys those are is the
// server's table of actions, and stands in the page.

import { beginAnother, writtenAntenna } from "./accept.js";
import { byId, say } from "./element.js";
import { currentView, goTo, onView } from "./views.js";
import { perform } from "./actions.js";
import { nextOfSteps } from "./guide.js";
import { nextPort } from "./port.js";

// What speaks against accepting, by where it is mended.
const MENDED = {
  plan: { words: "Next: plan", take: () => byId("plan-open").click() },
  plane: { words: "Next: plane", take: () => byId("plane-open").click() },
  calibrate: { words: "Next: calibrate", take: () => goTo("calibrate") },
  touch: { words: "Next: touch test", take: touchTest },
  batch: { words: "Next: it is on", take: () => byId("check-batch").click() },
};

function touchTest() {
  goTo("bench");
  if (byId("page").dataset.touch === "idle") byId("touch").click();
}

export function startKeys() {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (event.target.closest?.("input, textarea, select, [contenteditable]")) return;
    if (document.querySelector("dialog[open]")) return;
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    const button = buttonOf(key);
    if (button === null || byId(button.dataset.whileShown)?.hidden) return;
    button.click();
    event.preventDefault();
  });
  byId("next-step").addEventListener("click", () => next().take());
  onView(nameNextStep);
  nameNextStep();
}

// The button that a key presses: the one that names it, or what that one gives way to while seen.
function buttonOf(key) {
  const named = document.querySelector(`[data-keys~="${CSS.escape(key)}"]`);
  const rather = byId(named?.dataset.rather);
  return rather?.checkVisibility() ? rather : named;
}

// The next step of the whole job, from wherever one is: its name, and what it does.
function next() {
  const view = currentView();
  const calibrated = byId("calibration-state").dataset.state === "held";
  const lost = byId("port-state").dataset.state === "lost";
  if (byId("page").dataset.touch !== "idle" && !lost) {
    const there = view === "bench" || view === "wall";
    return there ? { words: "Next", take: () => perform({ do: "touch next" }) } : MENDED.touch;
  }
  if (view === "port") {
    return byId("port-state").dataset.state === "sweeping" ? nextOfSteps() : nextPort();
  }
  if (byId("page").dataset.portWanted === "true" && view !== "accept") return { words: "Next: port", take: () => goTo("port") };
  if (lost && view !== "accept") return { words: "Waiting", take: () => {}, waits: true };
  if (view === "read") return { words: "Next: bench", take: () => goTo("bench") };
  if (view === "wall") return { words: "Next: bench", take: () => goTo("bench") };
  if (view === "bench") {
    if (byId("plan-open").dataset.wanted === "true") return MENDED.plan;
    if (byId("accept").dataset.mendedAt === "plane") return MENDED.plane;
    return calibrated
      ? { words: "Next: accept", take: () => goTo("accept") }
      : { words: "Next: calibrate", take: () => goTo("calibrate") };
  }
  if (view === "calibrate") {
    const phase = byId("view-calibrate").dataset.phase;
    if (phase === "capturing") return { words: "Keep still", take: () => {}, waits: true };
    if (phase !== "idle") return { words: "Next: capture", take: () => byId("standard-on").click() };
    if (calibrated) return { words: "Next: bench", take: () => goTo("bench") };
    const start = byId("start-calibration");
    if (start.disabled) return { words: "Next: your standards", take: () => byId("kit").querySelector("input").focus() };
    return { words: "Next: start", take: () => start.click() };
  }
  const name = byId("antenna-label");
  // The same antenna is not written twice by one step too many.
  if (name.value.trim() !== "" && name.value.trim() === writtenAntenna()) return { words: "Next: another one", take: beginAnother };
  const { mendedAt } = byId("accept").dataset;
  if (mendedAt in MENDED) return MENDED[mendedAt];
  // Writing a record takes a name, so that one step too many does no harm.
  if (name.value.trim() === "") return { words: "Next: name it", take: () => name.focus() };
  if (byId("accept").dataset.putBack === "true") return { words: "Next: it is on", take: () => byId("accept").click() };
  const words = byId("accept").dataset.writes === "false" ? "Next: sweep it" : "Next: write it";
  return { words, take: () => byId("accept").click() };
}

// The button is loud only where the next step of the job is the thing to do: on the bench the thing
// to do may be a bend.
let wanted = false;

export function nameNextStep(isWanted = wanted) {
  wanted = isWanted === true || (isWanted !== false && wanted);
  const { words, waits } = next();
  say(byId("next-words"), words);
  byId("next-step").disabled = waits ?? false;
  byId("next-step").classList.toggle("primary", wanted || !["bench", "wall"].includes(currentView()));
}
