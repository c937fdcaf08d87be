// The sentence, the state of port and calibration, and how old the picture is.

import { byId, html, say, showing } from "./element.js";
import { shape } from "./marks.js";
import { currentView } from "./views.js";

const STOPPED = "bandwright has stopped. Start it again and this page will reconnect.";
const CONNECTING = "Connecting…";
const RECONNECTING = "Reconnecting…";
const PUT_OUT = "The bench does not share this page with you any more. Scan the code that it shows to look again.";
const SPOKEN_EVERY_MS = 4000; // a screen reader is told no more often than this
const OLD_S = 3;
const YOUNG_S = 1.5;
const [LONG, LONGEST] = [44, 90]; // letters

let frame = null;
let lastSentence = null; // what the headline said of it
let feed = "connecting";
let spokenAt = -Infinity;

// sentence : what the headline says, of this frame or of one just before it.
export function showStatus(newest, sentence) {
  frame = newest;
  lastSentence = sentence;
  const { header } = frame;
  // While an antenna is taken through its conditions, what to do next is what matters.
  const said = (currentView() === "accept" && header.accept.headline) || sentence;
  sayWhatMatters(said.text, said.aside);
  showing(byId("sentence-mark"), said.mark, (state) => [shape(state)]);
  byId("headline").dataset.tone = said.tone;
  byId("way").hidden = (said.way ?? "") === "";
  pill("port-state", header.port.phase, header.port.words, header.port.detail);
  pill("calibration-state", header.calibration.state, header.calibration.words, header.calibration.detail);
  byId("calibration-state").dataset.doubt = header.calibration.warnings.length > 0;
  say(byId("plan-name"), header.plan.name ?? "Choose bands");
  byId("plan-open").dataset.wanted = header.plan.wanted;
  byId("plan-open").title = header.plan.name ?? "";
  say(byId("coverage"), header.plan.coverage);
  say(byId("origin"), header.data.words);
  byId("origin").hidden = header.data.words === "";
  byId("undo-hold").disabled = header.holds.length === 0;
  say(byId("trust"), header.trust?.words ?? "");
  byId("trust").title = header.trust?.detail ?? "";
  say(byId("averaged"), header.averaged.words);
  say(byId("burst"), header.averaged.burst);
  byId("burst").hidden = header.averaged.burst === "";
  say(byId("trouble"), header.trouble);
  byId("trouble").hidden = header.trouble === "";
  byId("page").dataset.plane = header.plane ?? "none";
  const { words, moved, effect, problem, ends, cable } = header.at_plane;
  const taken = ends.map((end) => (end === "open" ? "open" : "shorted")).join(" and ");
  say(byId("pigtail-taken"), taken === "" ? "" : `Measured with its end ${taken}.`);
  showing(byId("pigtail-found"), cable, (lines) => lines.map((line) => html("li", {}, line)));
  for (const id of ["pigtail-kit", "pigtail-bare"]) byId(id).disabled = taken === "";
  byId("plane-open").dataset.moved = moved;
  byId("plane-open").hidden = problem === "" && (header.plane === null || header.plane === "raw");
  say(byId("plane-words"), problem === "" ? `${words[0].toUpperCase()}${words.slice(1)}` : "At the connector: the plane cannot be there");
  say(byId("plane-effect"), effect);
  speak(sentence.text);
  tick();
}

export function feedChanged(state) {
  const back = state === "live" && feed !== "live" && frame !== null;
  feed = state;
  if (back) showStatus(frame, lastSentence);
  tick();
}

// Runs by itself every quarter second: a page that lost its server says so without being told.
export function startClock() {
  setInterval(tick, 250);
}

function tick() {
  const page = byId("page");
  const age = ageSeconds();
  const streaming = frame?.header.port.phase === "sweeping";
  const state = feed !== "live" ? feed : streaming || !frame ? "live" : "stalled";
  page.dataset.feed = state;
  const old = age !== null && age > Math.max(OLD_S, 4 * (frame?.header.sweep_s ?? 0));
  page.dataset.old = state === "lost" || state === "again" || (state === "stalled" && age !== null) || old;
  byId("lost").hidden = feed !== "lost";
  if (feed === "lost") sayLost(age);
  if (feed === "again" || (feed === "connecting" && frame === null)) sayConnecting(age);
  // While the picture is young its age is no news, and digits that race are only unrest. Of parts
  // of different ages the oldest counts.
  const oldest = age === null ? null : Math.max(age, ...frame.header.strips.map((strip) => (strip.age_s ?? 0) + age - frame.header.age_s));
  say(byId("age"), oldest === null ? "" : oldest < YOUNG_S ? "live" : `${age < YOUNG_S ? "oldest part" : "picture"} ${spoken(oldest)} old`);
}

// Late is not gone: a busy machine, or a program that is just starting. Yet no verdict holds meanwhile.
function sayConnecting(age) {
  const words = feed === "again" ? RECONNECTING : CONNECTING;
  sayWhatMatters(words, age === null ? "" : `The last picture is ${spoken(age)} old. No verdict holds for now.`);
  showing(byId("sentence-mark"), "withheld", (state) => [shape(state)]);
  byId("headline").dataset.tone = "wait";
  pill("port-state", "connecting", words, "");
}

// No verdict holds any more, and nobody is left to say so but the page itself.
function sayLost(age) {
  const old = age === null ? "Nothing has been shown yet." : `This picture is ${spoken(age)} old.`;
  const putOut = byId("page").dataset.putOut === "true";
  say(byId("lost"), putOut ? PUT_OUT : STOPPED);
  sayWhatMatters(old, "No verdict holds for now.");
  showing(byId("sentence-mark"), "withheld", (state) => [shape(state)]);
  byId("headline").dataset.tone = "lost";
  pill("port-state", "lost", "No connection", "");
  speak(putOut ? PUT_OUT : STOPPED);
}

// A long sentence is written smaller, so that the curves keep their room.
function sayWhatMatters(text, aside) {
  say(byId("sentence"), text);
  say(byId("aside"), aside);
  byId("headline").dataset.length = text.length <= LONG ? "short" : text.length <= LONGEST ? "long" : "longest";
}

function ageSeconds() {
  if (!frame || frame.header.age_s === null) return null;
  return frame.header.age_s + (performance.now() - frame.receivedAt) / 1000;
}

function spoken(seconds) {
  if (seconds < 10) return `${seconds.toFixed(1)} s`;
  if (seconds < 120) return `${Math.round(seconds)} s`;
  return `${Math.round(seconds / 60)} min`;
}

function pill(id, state, words, detail) {
  byId(id).dataset.state = state;
  byId(id).title = `${words}. ${detail}`.trim();
  say(byId(id), words);
}

function speak(text) {
  const now = performance.now();
  if (now - spokenAt < SPOKEN_EVERY_MS || byId("spoken").textContent === text) return;
  spokenAt = now;
  say(byId("spoken"), text);
}
