// The verdict as a table, and whether it can be written down now.

import { byId, html, say, showing } from "./element.js";
import { mark } from "./marks.js";
import { goTo } from "./views.js";

const ANSWER_WITHIN_MS = 60_000;
let waiting = false; // for a steady sweep, after the button was pressed
let count = 0;
let condition = null; // what the button sweeps; null signs off

export function startAcceptance() {
  let timer = 0;
  const settle = (state) => {
    clearTimeout(timer);
    waiting = state;
    if (state) timer = setTimeout(() => settle(false), ANSWER_WITHIN_MS);
  };
  const ask = (wanted) => {
    settle(true);
    count += 1;
    window.dash_clientside.set_props("accept-action", { data: { condition: wanted, number: count } });
  };
  byId("accept").addEventListener("click", () => ask(condition));
  byId("accept-conditions").addEventListener("click", (event) => {
    const again = event.target.closest("[data-condition]");
    if (again && !waiting) ask(again.dataset.condition);
  });
  new MutationObserver(() => settle(false)).observe(byId("accepted"), {
    attributeFilter: ["data-number"], // the same words may come twice
    childList: true,
    subtree: true,
  });
}

export function showAcceptance({ header }) {
  const rows = header.strips.flatMap((strip) => strip.links.map((link) => ({ name: strip.name, ...link })));
  showing(byId("verdict-rows"), rows, (links) => links.map(row));
  showing(byId("verdict-overall"), header.overall, ({ state, words }) => [mark(state, words)]);
  const { ready, why, button, instruction, conditions, others } = header.accept;
  condition = header.accept.condition;
  byId("accept").dataset.writes = condition === null;
  byId("accept").dataset.putBack = header.accept.put_back;
  byId("accept").dataset.mendedAt = header.accept.mended_at;
  byId("accept-conditions").hidden = conditions.length === 0;
  showing(byId("accept-conditions"), conditions, (each) => each.map(step));
  byId("accept-instruction").hidden = instruction === "";
  say(byId("accept-instruction"), instruction);
  byId("unfinished").hidden = others.length === 0;
  say(byId("unfinished-words"), `Not signed off yet: ${others.join("; ")}. To continue one, enter its name.`);
  byId("batch").hidden = header.accept.batch === "";
  say(byId("batch-words"), header.accept.batch);
  showChanges(header.accept.changes);
  byId("accept").disabled = !ready || waiting;
  say(byId("accept"), button);
  say(byId("accept-why"), waiting ? "Take your hands off. Waiting for a steady sweep." : why);
  showing(byId("verdict-notes"), header.notes, (notes) => notes.map((text) => html("li", {}, text)));
}

// The antenna whose record was just written; null where none was.
export function writtenAntenna() {
  return byId("accepted").querySelector('[data-kind="done"]')?.dataset.antenna ?? null;
}

// Name, note and sizes were the last antenna's; the next one is tuned before it has any.
export function beginAnother() {
  const { set_props: set } = window.dash_clientside;
  for (const id of ["antenna-label", "note"]) set(id, { value: "" });
  for (const size of document.querySelectorAll("#sizes input")) set(JSON.parse(size.id), { value: null });
  goTo("bench");
}

// What the enclosure costs: drawn once for each condition that was swept.
function showChanges(changes) {
  byId("changes").hidden = changes === null;
  if (changes === null) return;
  const { conditions, rows, words } = changes;
  showing(byId("changes-words"), words, (all) => all.map((text) => html("li", {}, text)));
  showing(byId("changes-head"), conditions, (all) => [
    html("tr", {}, html("td", {}), ...all.map((label) => html("th", { scope: "col" }, label))),
  ]);
  showing(byId("changes-rows"), changes, () =>
    rows.map(([name, cells]) => html("tr", {}, html("th", { scope: "row" }, name), ...cells.map((cell, at) => html("td", { "data-of": conditions[at] }, cell)))),
  );
  const drawn = JSON.stringify(changes);
  if (byId("changes-picture").dataset.drawn === drawn) return;
  byId("changes-picture").dataset.drawn = drawn;
  byId("changes-picture").src = `/save/conditions.svg?${Date.now()}`;
}

// One condition: how it stands, and a button to sweep it once more.
function step({ name, label, judged, words }) {
  return html(
    "li",
    { "data-done": words !== "" },
    html("span", {}, label, html("small", {}, judged ? " decides" : " for comparison")),
    html("span", {}, words === "" ? "not swept yet" : words),
    words === "" ? null : html("button", { type: "button", class: "quiet", "data-condition": name }, "Sweep again"),
  );
}

function row({ name, link, limit, state, words, worst, margin, margin_words, average, reason }) {
  return html(
    "tr",
    { "data-state": state },
    html("th", { scope: "row" }, name, html("small", {}, link === "both" ? "" : ` ${link}`)),
    html("td", {}, mark(state, words)),
    html("td", {}, limit.short),
    html("td", {}, worst?.words ?? reason ?? ""),
    html("td", { title: margin_words }, margin ?? ""),
    html("td", {}, average ?? ""),
  );
}
