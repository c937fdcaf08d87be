// The page of a station: what to do in one sentence, three pictures, one word. The server decides;
// this draws, and asks for the next step by one key.

import { perform, performClicks } from "./actions.js";
import { startAnswers } from "./answers.js";
import { showDemo } from "./demo.js";
import { byId, html, say, showing } from "./element.js";
import { follow } from "./feed.js";
import { connectPicture, resultPicture, sweepPicture } from "./station_pictures.js";

const STATES = { YES: "pass", NO: "fail", ASK: "conditional pass" };
const LOST = "bandwright has stopped. Start it again and this page will reconnect.";

let phase = "";
let lost = false;

function draw({ header }) {
  const { station, data, port } = header;
  if (station === null) return;
  phase = station.phase;
  const page = byId("page");
  page.dataset.sequence = header.sequence;
  page.dataset.phase = phase;
  page.dataset.picture = station.picture;
  say(byId("origin"), data.words);
  byId("origin").hidden = data.words === "";
  const away = port.phase === "lost" || port.phase === "refused";
  say(byId("say"), away ? "The analyzer is not there. Plug it in." : station.say);
  say(byId("why"), away ? "The work goes on by itself then." : station.why);
  showPictures(station);
  showKeys(station, away);
  showResult(station);
  showing(byId("tested"), station.tested, (all) => [...all].reverse().map(testedRow));
  const words = ["YES", "NO", "ASK"].map((word) => [word, station.tested.filter((each) => wordOf(each) === word).length]);
  say(byId("count"), station.tested.length === 0 ? "" : `${station.tested.length} tested: ${words.map(([word, count]) => `${count} ${word}`).join(", ")}`);
  const detail = phase === "result" ? (station.result?.answer.detail ?? "") : station.detail;
  byId("details").hidden = detail === "";
  say(byId("detail-for"), `For ${station.contact}`);
  say(byId("detail"), detail);
  showDemo({ header });
}

function wordOf({ answer, doubt }) {
  return doubt === "" ? answer.word : "ASK";
}

function showPictures({ picture, thing, result }) {
  const made = {
    connect: [thing, () => connectPicture(thing)],
    sweep: ["", sweepPicture],
    result: [result?.answer.word ?? null, () => resultPicture(result === null ? null : wordOf(result))],
  };
  for (const item of document.querySelectorAll("#pictures li")) {
    const [of, drawn] = made[item.dataset.picture];
    showing(item.querySelector(".drawing"), [of], () => [drawn()]);
    if (item.dataset.picture === picture) item.setAttribute("aria-current", "step");
    else item.removeAttribute("aria-current");
  }
}

function showResult({ phase, result }) {
  const shown = phase === "result" ? result : null;
  const item = document.querySelector('#pictures [data-picture="result"]');
  item.dataset.state = shown === null ? "withheld" : STATES[wordOf(shown)];
  say(item.querySelector("span"), shown === null ? "Read the word" : wordOf(shown));
  const record = shown !== null && shown.record !== "" && isTested(shown) ? shown.record : "";
  const label = byId("label");
  byId("label-box").hidden = record === "";
  byId("print").hidden = record === "";
  const source = record === "" ? "" : `/station/${encodeURIComponent(record)}/label.svg`;
  if (source !== "" && label.getAttribute("src") !== source) {
    label.setAttribute("src", source);
    label.alt = `Label of ${shown.serial}: ${wordOf(shown)}`;
  }
}

let serials = new Set();
let asked = ""; // the phase in which a serial was last asked for

function isTested({ record }) {
  return serials.has(record);
}

function showKeys(station, away) {
  serials = new Set(station.tested.map(({ record }) => record));
  const next = byId("next");
  next.hidden = station.next === "" && phase !== "sweeping";
  next.disabled = station.next === "" || away;
  say(next.querySelector(".words"), station.next || "Wait");
  const asking = phase === "serial" || phase === "twice";
  byId("serial-form").hidden = !asking;
  if (asking && phase !== asked) {
    window.dash_clientside.set_props("serial", { value: "" });
    byId("serial").focus();
  }
  asked = phase;
  byId("again").hidden = phase !== "twice";
  byId("again").dataset.action = JSON.stringify({ do: "station serial", serial: station.serial, again: true });
  byId("drop").hidden = !(phase === "twice" || (phase === "connect" && station.thing === "antenna"));
  byId("finish").hidden = !station.can_finish;
  byId("more").hidden = phase !== "done";
}

function testedRow(each) {
  const word = wordOf(each);
  return html(
    "li",
    { "data-state": STATES[word] },
    html("strong", {}, each.serial),
    html("span", { class: "word" }, word),
    html("small", {}, each.doubt === "" ? each.answer.why : `It was ${each.answer.word}. Test it again: a check after it failed.`),
  );
}

// A scanner types the next serial while the last word still stands: it is taken then, too.
let scan = "";

function scanned(key) {
  if (phase !== "result") {
    scan = "";
    return false;
  }
  if (key === "Enter" && scan !== "") {
    perform({ do: "station next" });
    perform({ do: "station serial", serial: scan });
    scan = "";
    return true;
  }
  if (key.length !== 1 || (key === " " && scan === "")) return false;
  scan += key;
  return true;
}

function startKeys() {
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || event.repeat) return;
    if (event.target.closest?.("input, textarea, select")) return;
    if (event.target.closest?.("button, summary") && event.key === " ") {
      if (event.target.id !== "next") return; // that button is pressed by the browser itself
    }
    if (scanned(event.key)) return event.preventDefault();
    if (event.key !== " " && event.key !== "PageDown") return;
    event.preventDefault();
    const next = byId("next");
    if (!next.hidden && !next.disabled) perform({ do: "station next" });
  });
  // a keyup of Space on a button would press it once more
  byId("next").addEventListener("keyup", (event) => event.key === " " && event.preventDefault());
  byId("serial-form").addEventListener("submit", (event) => {
    event.preventDefault();
    perform({ do: "station serial", serial: byId("serial").value });
  });
  byId("print").addEventListener("click", () => window.print());
  byId("theme").addEventListener("click", () => {
    const dark = getComputedStyle(document.documentElement).getPropertyValue("--is-dark").trim() === "1";
    const theme = dark ? "light" : "dark";
    document.documentElement.dataset.theme = theme;
    localStorage.setItem("bandwright-theme", theme);
  });
}

function feedChanged(state) {
  byId("page").dataset.feed = state;
  lost = state === "lost";
  byId("lost").hidden = !lost;
  say(byId("lost"), lost ? LOST : "");
}

function start() {
  startAnswers();
  startKeys();
  performClicks(document);
  follow({ draw, changed: feedChanged });
}

function begin() {
  if (byId("page") === null) return;
  waiting.disconnect();
  start();
}

const waiting = new MutationObserver(begin);
waiting.observe(document.body, { childList: true, subtree: true });
begin();
