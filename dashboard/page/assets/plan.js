// The plan dialog. Its text is the plan: the form changes that text, by the server, and is drawn
// anew from what comes back, so that both always say the same. The draft stays when the dialog is
// closed, until it is used or discarded.

import { byId, say } from "./element.js";
import { onOpen } from "./dialogs.js";
import { perform } from "./actions.js";
import { drawForm, drawFound, makeBuilder } from "./plan_view.js";
import { recentLists } from "./recents.js";

const TYPED_MS = 250; // a pause in typing, after which what was typed is looked at

let shown = null; // the server's last answer: text, form, problem
let inUse = ""; // the text that the bench judges by
let before = []; // texts to go back to
let found = []; // what the search found
let edits = Promise.resolve(); // one after the other: each begins with the text of the one before

export function startPlan() {
  makeBuilder(byId("plan-builder"));
  onOpen("plan", open);
  const builder = byId("plan-builder");
  builder.addEventListener("change", changed);
  builder.addEventListener("click", clicked);
  builder.addEventListener("keydown", keyed);
  const search = afterPause(async () => {
    const typed = byId("plan-find").value;
    const answer = typed.trim() === "" ? { found: [] } : await ask(`/bands.json?find=${encodeURIComponent(typed)}`);
    if (answer === null || typed !== byId("plan-find").value) return;
    found = answer.found;
    drawFound(found, shown, typed);
  });
  const written = afterPause(() => take(edit(null, byId("plan-text").value), { typed: true }));
  byId("plan-find").addEventListener("input", search);
  byId("plan-text").addEventListener("input", written);
}

async function open() {
  const answer = await ask("/plan.json");
  if (answer === null) {
    say(byId("plan-refused"), "bandwright does not answer, so the plan cannot be shown. It appears once the page is connected again.");
    return;
  }
  const untouched = shown === null || shown.text === inUse;
  inUse = answer.new ? "" : answer.text;
  if (untouched) {
    before = [];
    shown = answer;
  }
  draw(answer.regions);
  recentLists();
}

// ------------------------------------------------------------ what a person does

function changed({ target }) {
  const { edit: name, at, link } = target.dataset;
  if (name === undefined) return;
  const value = target.value;
  if (name === "region") {
    const label = target.selectedOptions[0].textContent;
    target.value = "";
    askForRegion(value, label);
  } else if (name === "recent") {
    const text = target.selectedOptions[0].dataset.text;
    target.value = "";
    if (text !== undefined) take(edit(null, text));
  } else if (name === "recipe") {
    perform({ do: "use recipe", recipe: value });
  } else if (name === "toggle") {
    toggle(target.dataset.key, target.checked);
  } else if (name === "name") {
    change({ edit: "name", name: value });
  } else if (name === "value" || name === "metric") {
    const box = target.closest(".limit");
    const metric = box.querySelector("select").value;
    const typed = box.querySelector("input").value;
    // 10 dB is not 2:1: another metric begins with its own usual limit
    const number = name === "metric" ? { return_loss_db: 10, vswr: 2 }[metric] : typed;
    if (number === "") return draw();
    change(at === undefined ? { edit: "limit", metric, value: number } : { edit: "limit of", at: Number(at), link, metric, value: number });
  } else if (name === "decides") {
    const judged = conditions().filter((each) => (each.name === target.dataset.name ? target.checked : each.judged));
    change({ edit: "conditions", conditions: names(), judged: judged.map((each) => each.name) });
  } else if (name === "condition" && value !== "") {
    addCondition(value);
  }
}

function clicked({ target }) {
  const button = target.closest("button[data-press]");
  if (button === null) return;
  const at = Number(button.dataset.at);
  const press = {
    remove: () => change({ edit: "remove", at }),
    split: () => change({ edit: "split", at }),
    join: () => change({ edit: "join", at }),
    "own range": addRange,
    undo: () => before.length > 0 && take(edit(null, before.pop()), { back: true }),
    discard: () => take(edit(null, inUse === "" ? 'name = "my plan"\n' : inUse)),
    replace: () => {
      byId("plan-ask").hidden = true;
      change({ edit: "region", region: button.dataset.region });
      byId("plan-find").focus();
    },
    keep: () => {
      byId("plan-ask").hidden = true;
      byId("plan-region").focus();
    },
    up: () => move(at, at - 1),
    down: () => move(at, at + 1),
    "remove condition": () => useConditions(names().filter((_, n) => n !== at)),
    "own condition": () => addCondition(byId("condition-own").value),
    use: () => use(),
  }[button.dataset.press];
  press();
}

// Enter adds the first thing found; elsewhere it takes what was typed. It closes nothing.
function keyed(event) {
  if (event.key !== "Enter" || event.target.matches("textarea, button, summary, select")) return;
  event.preventDefault();
  if (event.target.id === "plan-find") {
    const first = found.find((each) => !holds(each.key));
    if (first) toggle(first.key, true, first.title);
    else if (found.length > 0) say(byId("plan-said"), `${found[0].title} is in the plan already.`);
    event.target.select();
  } else if (event.target.id === "condition-own") {
    addCondition(event.target.value);
  } else if (event.target.id.startsWith("own-")) {
    addRange();
  }
}

function toggle(key, wanted, title = "") {
  const band = shown.form.bands.find((each) => each.key === key);
  if (wanted && !band) {
    change({ edit: "add", key });
    say(byId("plan-said"), `${title || found.find((each) => each.key === key)?.title} added.`);
  } else if (!wanted && band) {
    change({ edit: "remove", at: band.at });
    say(byId("plan-said"), `${band.title} removed.`);
  }
}

function addRange() {
  const [name, low, high] = ["own-name", "own-low", "own-high"].map((id) => byId(id).value.trim().replaceAll("|", " "));
  if (name === "" || low === "" || high === "") {
    refuse("A range needs a name and both of its edges in MHz.");
    return;
  }
  change({ edit: "add", key: `range ${name}|${low}|${high}` });
  for (const id of ["own-name", "own-low", "own-high"]) byId(id).value = "";
}

function askForRegion(region, label) {
  if (region === "") return;
  const count = shown.form?.bands.length ?? 0;
  if (count === 0) {
    change({ edit: "region", region });
    return;
  }
  const ask = byId("plan-ask");
  say(ask.querySelector("p"), `Replace the ${count === 1 ? "band" : `${count} bands`} of this plan with those that ${label} uses?`);
  ask.querySelector('[data-press="replace"]').dataset.region = region;
  ask.hidden = false;
  ask.querySelector('[data-press="keep"]').focus();
}

const conditions = () => shown.form.conditions;
const names = () => conditions().map((each) => each.name);

function move(from, to) {
  const order = names();
  if (to < 0 || to >= order.length) return;
  order.splice(to, 0, ...order.splice(from, 1));
  useConditions(order);
}

function addCondition(typed) {
  const name = typed.trim().toLowerCase().replaceAll(/\s+/g, "-");
  byId("condition-own").value = "";
  byId("condition-known").value = "";
  if (name !== "" && !names().includes(name)) useConditions([...names(), name]);
}

// Where only the last one decides, that goes without saying, whichever is the last.
function useConditions(order) {
  const judged = conditions().filter((each) => each.judged).map((each) => each.name);
  const plain = judged.length === 1 && judged[0] === names().at(-1);
  change({ edit: "conditions", conditions: order, judged: plain ? [] : judged });
}

async function use() {
  await edits;
  if (shown.usable) perform({ do: "use plan", text: shown.text });
}

// ------------------------------------------------------------ to the server and back

const holds = (key) => shown.form?.bands.some((each) => each.key === key);
const change = (what) => take(edit(what));
const refuse = (words) => say(byId("plan-refused"), words);

function edit(what, text) {
  return () => ask("/plan.json", { text: text ?? shown.text, change: what });
}

// typed : the text is the person's own and is not written over. back : a step back.
function take(request, { typed = false, back = false } = {}) {
  edits = edits.then(async () => {
    const answer = await request();
    if (answer === null) {
      refuse("bandwright did not answer, so nothing was changed. Try again.");
      return;
    }
    if (!back && !typed && shown !== null && answer.text !== shown.text) before.push(shown.text);
    shown = { ...answer, refused: answer.refused };
    draw(null, typed);
  });
  return edits;
}

function draw(regions = null, typed = false) {
  drawForm(shown, { regions, typed, dirty: shown.text !== inUse, canUndo: before.length > 0 });
  drawFound(found, shown, byId("plan-find").value);
}

async function ask(path, body) {
  const options = body === undefined ? {} : { method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json" } };
  const answer = await fetch(path, options).catch(() => null);
  return answer?.ok ? answer.json() : null;
}

function afterPause(listener) {
  let timer = 0;
  return () => {
    clearTimeout(timer);
    timer = setTimeout(listener, TYPED_MS);
  };
}
