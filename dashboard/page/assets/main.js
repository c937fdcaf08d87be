// Where the page's script begins: waits for Dash's layout, then follows the feed.

import { showAcceptance, startAcceptance } from "./accept.js";
import { startAnswers } from "./answers.js";
import { showCalibration } from "./calibrate.js";
import { forgetColours } from "./colours.js";
import { showDemo } from "./demo.js";
import { startDialogs } from "./dialogs.js";
import { byId } from "./element.js";
import { follow } from "./feed.js";
import { startGlossary } from "./glossary.js";
import { startHelp } from "./help.js";
import { nameNextStep, startKeys } from "./keys.js";
import { startDashInputs } from "./dash_inputs.js";
import { Overview } from "./overview.js";
import { showShare, startShare } from "./share.js";
import { Smith } from "./smith.js";
import { feedChanged, showStatus, startClock } from "./status.js";
import { Strips } from "./strips.js";
import { showTone, startTone } from "./tone.js";
import { showTuning } from "./tuning.js";
import { currentView, goTo, onView, startViews } from "./views.js";
import { performClicks } from "./actions.js";

let newest = null;
let metric = "loss";
let services = false;
let strips;
let plots = null; // the overview and the Smith chart, once Dash has made what they draw into

// Everything on the page is drawn from one frame, so that its parts never show different moments.
function draw(frame) {
  const session = newest?.header.session ?? null;
  const calibrating = session !== null && !session.checking;
  newest = frame;
  byId("page").dataset.sequence = frame.header.sequence;
  showStatus(frame);
  showCalibration(frame);
  showAcceptance(frame);
  showDemo(frame);
  showTuning(frame);
  showTone(frame);
  showShare(frame);
  nameNextStep();
  if (calibrating && frame.header.session === null && currentView() === "calibrate") {
    const { state, warnings } = frame.header.calibration;
    if (state === "held" && warnings.length === 0) goTo("bench"); // a warning is to be read first
  }
  if (showsStrips()) drawCurves(frame);
}

function showsStrips() {
  return ["bench", "wall"].includes(currentView());
}

function drawCurves(frame) {
  strips.show(frame, metric);
  if (plots === null || currentView() === "wall") return;
  if (metric === "smith") plots.smith.show(frame);
  else plots.overview.show(frame, metric, services);
}

function makePlots() {
  plots = {
    overview: new Overview(
      byId("overview").querySelector(".js-plotly-plot"),
      JSON.parse(byId("curves").dataset.services),
    ),
    smith: new Smith(byId("smith").querySelector(".js-plotly-plot")),
  };
  redraw();
  window.dispatchEvent(new Event("resize")); // Plotly measures a graph only once it is visible
}

function redraw() {
  if (newest && showsStrips()) drawCurves(newest);
}

function choose(name) {
  metric = name;
  byId("page").dataset.metric = name;
  for (const button of document.querySelectorAll("[data-metric-to]")) {
    button.setAttribute("aria-pressed", button.dataset.metricTo === name);
  }
  redraw();
  window.dispatchEvent(new Event("resize")); // Plotly measures a graph only once it is visible
}

function switchTheme() {
  const dark = getComputedStyle(document.documentElement).getPropertyValue("--is-dark").trim() === "1";
  const theme = dark ? "light" : "dark";
  document.documentElement.dataset.theme = theme;
  localStorage.setItem("bandwright-theme", theme);
  forgetColours();
  redraw();
}

function start() {
  strips = new Strips(byId("strips"));
  startViews();
  startDialogs();
  startHelp();
  startGlossary();
  startDashInputs();
  startAnswers();
  startAcceptance();
  startTone();
  startKeys();
  startClock();
  startShare();
  performClicks(document);
  onView(redraw);
  for (const button of document.querySelectorAll("[data-metric-to]")) {
    button.addEventListener("click", () => choose(button.dataset.metricTo));
  }
  byId("services").addEventListener("click", ({ currentTarget }) => {
    services = !services;
    currentTarget.setAttribute("aria-pressed", services);
    redraw();
  });
  byId("theme").addEventListener("click", switchTheme);
  matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => {
    forgetColours();
    redraw();
  });
  choose("loss");
  follow({ draw, changed: feedChanged });
}

// Dash builds the layout after its own scripts have run. Its graphs come later still, for Plotly is
// large: the strips, the sentence and the feed do not wait for them.
const STEPS = [
  { ready: () => byId("page") !== null, then: start },
  {
    ready: () => window.Plotly && document.querySelectorAll(".js-plotly-plot").length >= 2,
    then: makePlots,
  },
];

function advance() {
  while (STEPS.length > 0 && STEPS[0].ready()) STEPS.shift().then();
  if (STEPS.length === 0) waiting.disconnect();
}

const waiting = new MutationObserver(advance);
waiting.observe(document.body, { childList: true, subtree: true });
advance();
