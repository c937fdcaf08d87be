// Where the page's script begins: waits for Dash's layout, then follows the feed.

import { showAcceptance, startAcceptance } from "./accept.js";
import { startAnswers } from "./answers.js";
import { showCalibration } from "./calibrate.js";
import { forgetColours } from "./colours.js";
import { showDemo } from "./demo.js";
import { startDialogs } from "./dialogs.js";
import { byId } from "./element.js";
import { follow } from "./feed.js";
import { nameNextStep, startKeys } from "./keys.js";
import { Overview } from "./overview.js";
import { Smith } from "./smith.js";
import { feedChanged, showStatus, startClock } from "./status.js";
import { Strips } from "./strips.js";
import { currentView, goTo, onView, startViews } from "./views.js";
import { grantClicks } from "./wishes.js";

let newest = null;
let metric = "loss";
let services = false;
let strips, overview, smith;

// Everything on the page is drawn from one frame, so that its parts never show different moments.
function draw(frame) {
  const calibrating = (newest?.header.session ?? null) !== null;
  newest = frame;
  showStatus(frame);
  showCalibration(frame);
  showAcceptance(frame);
  showDemo(frame);
  nameNextStep();
  if (calibrating && frame.header.session === null && currentView() === "calibrate") {
    if (frame.header.calibration.state === "held") goTo("bench");
  }
  if (currentView() === "bench") drawCurves(frame);
}

function drawCurves(frame) {
  strips.show(frame, metric);
  if (!window.Plotly) return;
  if (metric === "smith") smith.show(frame);
  else overview.show(frame, metric, services);
}

function redraw() {
  if (newest && currentView() === "bench") drawCurves(newest);
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
  overview = new Overview(
    byId("overview").querySelector(".js-plotly-plot"),
    JSON.parse(byId("curves").dataset.services),
  );
  smith = new Smith(byId("smith").querySelector(".js-plotly-plot"));
  startViews();
  startDialogs();
  startAnswers();
  startAcceptance();
  startKeys();
  startClock();
  grantClicks(document);
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

// Dash builds the layout after its own scripts have run, and its graphs later still.
function ready() {
  return byId("page") !== null && document.querySelectorAll(".js-plotly-plot").length >= 2;
}

if (ready()) {
  start();
} else {
  const waiting = new MutationObserver(() => {
    if (!ready()) return;
    waiting.disconnect();
    start();
  });
  waiting.observe(document.body, { childList: true, subtree: true });
}
