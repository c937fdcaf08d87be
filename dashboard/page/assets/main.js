// Where the page's script begins: waits for Dash's layout, then follows the feed.

import { showAcceptance, startAcceptance } from "./accept.js";
import { startAnswers } from "./answers.js";
import { showCalibration, startCalibration } from "./calibrate.js";
import { calm } from "./calm.js";
import { showDemo } from "./demo.js";
import { startDialogs } from "./dialogs.js";
import { byId } from "./element.js";
import { follow } from "./feed.js";
import { startGlossary } from "./glossary.js";
import { startHelp } from "./help.js";
import { showGuide, startGuide, takeUp } from "./guide.js";
import { nameNextStep, startKeys } from "./keys.js";
import { startDashInputs } from "./dash_inputs.js";
import { startPlan } from "./plan.js";
import { Overview } from "./overview.js";
import { showReading, startReadView } from "./read_view.js";
import { onReading, startReading } from "./reading.js";
import { showPort, startPort } from "./port.js";
import { showRecents, startRecents } from "./recents.js";
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
let plots; // by view: the wide plot and the Smith chart

// Everything on the page is drawn from one frame, so that its parts never show different moments.
function draw(frame) {
  const session = newest?.header.session ?? null;
  const calibrating = session !== null && !session.checking;
  newest = frame;
  byId("page").dataset.sequence = frame.header.sequence;
  showStatus(frame, calm(frame).header.sentence);
  showCalibration(frame);
  showAcceptance(frame);
  showDemo(frame);
  showTuning(frame);
  showTone(frame);
  showShare(frame);
  showReading(frame);
  showGuide(frame);
  showPort(frame);
  showRecents(frame);
  nameNextStep(frame.header.sentence.next_step);
  if (calibrating && frame.header.session === null && currentView() === "calibrate") {
    const { state, warnings } = frame.header.calibration;
    if (state === "held" && warnings.length === 0) goTo("bench"); // a warning is to be read first
  }
  drawCurves(frame);
}

function drawCurves(frame) {
  const view = currentView();
  if (["bench", "wall"].includes(view)) strips.show(frame, calm(frame), metric);
  if (!(view in plots)) return;
  if (metric === "smith") plots[view].smith.show(frame);
  else plots[view].overview.show(frame, metric, services);
}

function makePlots() {
  const others = JSON.parse(byId("curves").dataset.services);
  plots = {
    bench: { overview: new Overview(byId("overview"), others), smith: new Smith(byId("smith")) },
    read: {
      overview: new Overview(byId("read-plot"), others, { wheelNeedsCtrl: false }),
      smith: new Smith(byId("read-smith")),
    },
  };
}

function redraw() {
  if (newest) drawCurves(newest);
}

function choose(name) {
  metric = name;
  byId("page").dataset.metric = name;
  for (const button of document.querySelectorAll("[data-metric-to]")) {
    button.setAttribute("aria-pressed", button.dataset.metricTo === name);
  }
  redraw();
}

function switchTheme() {
  const dark = getComputedStyle(document.documentElement).getPropertyValue("--is-dark").trim() === "1";
  const theme = dark ? "light" : "dark";
  document.documentElement.dataset.theme = theme;
  localStorage.setItem("bandwright-theme", theme);
}

function start() {
  strips = new Strips(byId("strips"));
  makePlots();
  startReadView(() => Object.values(plots[currentView()] ?? {}));
  startViews();
  startDialogs();
  startHelp();
  startGlossary();
  startDashInputs();
  startAnswers();
  startPlan();
  startRecents();
  startAcceptance();
  startCalibration();
  startTone();
  startKeys();
  startClock();
  startShare();
  startGuide();
  startPort({ then: takeUp, changed: nameNextStep });
  performClicks(document);
  onView(redraw);
  onReading(redraw);
  for (const button of document.querySelectorAll("[data-metric-to]")) {
    button.addEventListener("click", () => choose(button.dataset.metricTo));
  }
  byId("services").addEventListener("click", ({ currentTarget }) => {
    services = !services;
    currentTarget.setAttribute("aria-pressed", services);
    redraw();
  });
  byId("theme").addEventListener("click", switchTheme);
  choose("loss");
  follow({ draw, changed: feedChanged });
  startReading();
}

// Dash builds the layout after its own scripts have run.
function advance() {
  if (byId("page") === null) return;
  waiting.disconnect();
  start();
}

const waiting = new MutationObserver(advance);
waiting.observe(document.body, { childList: true, subtree: true });
advance();
