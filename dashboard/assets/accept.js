// The verdict as a table, and whether it can be written down now.

import { byId, html, say, showing } from "./element.js";
import { mark } from "./marks.js";

const ANSWER_WITHIN_MS = 60_000;
let waiting = false; // for a steady sweep, after the button was pressed

export function startAcceptance() {
  let timer = 0;
  const settle = (state) => {
    clearTimeout(timer);
    waiting = state;
    if (state) timer = setTimeout(() => settle(false), ANSWER_WITHIN_MS);
  };
  byId("accept").addEventListener("click", () => settle(true));
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
  const { ready, why, button } = header.accept;
  byId("accept").disabled = !ready || waiting;
  say(byId("accept"), button);
  say(byId("accept-why"), waiting ? "Waiting for a steady sweep: hands off." : why);
  showing(byId("verdict-notes"), header.notes, (notes) => notes.map((text) => html("li", {}, text)));
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
