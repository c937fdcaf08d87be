// The view to read off: the lists beside the large plot, and what is copied, saved or printed.

import { copyData, copyPicture } from "./clipboard.js";
import { byId, html, say, showing } from "./element.js";
import { perform } from "./actions.js";
import { ALL, sweptStretches, Axis, zoomed } from "./plot_axis.js";
import { addMarker, clearMarkers, currentMarkers, currentWindow, look, onReading, readMarkers, removeMarker } from "./reading.js";

let newest = null;
let plots = () => []; // those that may be seen: {overview, smith}

export function startReadView(visiblePlots) {
  plots = visiblePlots;
  const field = html("input", { id: "marker-mhz", type: "text", inputmode: "decimal", placeholder: "836.5", autocomplete: "off" });
  byId("marker-field").replaceChildren(field);
  field.addEventListener("keydown", (event) => {
    if (event.key !== "Enter") return;
    event.preventDefault();
    setMarker();
  });
  byId("marker-form").addEventListener("submit", (event) => event.preventDefault());
  byId("set-marker").addEventListener("click", setMarker);
  byId("clear-markers").addEventListener("click", clearMarkers);
  byId("zoom-in").addEventListener("click", () => zoom(1.6));
  byId("zoom-out").addEventListener("click", () => zoom(1 / 1.6));
  byId("show-all").addEventListener("click", showAll);
  byId("copy-picture").addEventListener("click", () => copy(copyPicture));
  byId("copy-data").addEventListener("click", () => copy(copyData));
  byId("print-page").addEventListener("click", () => window.print());
  document.addEventListener("click", ({ target }) => {
    const gone = target.closest?.("[data-remove-marker]");
    if (gone) removeMarker(Number(gone.dataset.removeMarker));
    const at = target.closest?.("[data-mark-at]");
    if (at) tellRefusal(addMarker(Number(at.dataset.markAt)));
  });
  byId("held-list").addEventListener("change", ({ target }) => {
    const hold = Number(target.closest("li").dataset.hold);
    if (target.type === "checkbox") {
      const drawn = target.checked;
      perform({ do: drawn ? "show hold" : "hide hold", hold });
    }
    else perform({ do: "rename hold", hold, name: target.value });
  });
  onReading(() => newest && showReading(newest));
}

// The part of the axis, the markers and the metric that are shown, as the server is asked for them.
export function shownQuery() {
  const query = new URLSearchParams({ shown: byId("page").dataset.metric });
  const { from, to } = currentWindow();
  if ((from > 0 || to < 1) && newest?.gridMhz) {
    const axis = new Axis(sweptStretches(newest.gridMhz, []), currentWindow(), 0, 1000);
    query.set("low_mhz", axis.pieces[0].low.toFixed(3));
    query.set("high_mhz", axis.pieces.at(-1).high.toFixed(3));
  }
  const markers = currentMarkers();
  if (markers.length) query.set("markers", markers.map(({ number, mhz }) => `${number}:${mhz}`).join(","));
  return `${query}`;
}

export function showReading(frame) {
  newest = frame;
  const { header } = frame;
  const markers = readMarkers(header);
  byId("page").dataset.markers = markers.length;
  byId("clear-markers").hidden = markers.length === 0;
  byId("marker-hint").hidden = markers.length > 2;
  const which = markers.map(({ number, mhz }) => ({ number, mhz }));
  showing(byId("marker-list"), which, (list) => list.map(markerRow));
  showing(byId("marker-line"), which, (list) => list.map(markerChip));
  markers.forEach((each, i) => {
    fill(byId("marker-list").children[i], markerWords(each));
    fill(byId("marker-line").children[i], chipWords(each));
  });
  const dips = header.dips ?? [];
  showing(byId("dip-list"), dips.map(({ number }) => number), (list) => list.map((number) => dipRow({ number })));
  dips.forEach((each, i) => fillDip(byId("dip-list").children[i], each));
  say(byId("dip-none"), dips.length ? "" : noDips(header));
  byId("dip-none").hidden = dips.length > 0;
  byId("held-none").hidden = header.holds.length > 0;
  const heldList = byId("held-list");
  if (!heldList.contains(document.activeElement) || document.activeElement.type === "checkbox") {
    showing(heldList, [header.holds, header.hold?.number ?? null], ([holds, compared]) => holds.map((each) => heldRow(each, compared, holds)));
  }
  const { words } = header.at_plane;
  const plane = header.plane === null || header.plane === "raw" ? "Raw readings" : `Measured ${words}`;
  say(byId("read-origin"), [plane, header.trust?.words, header.averaged.words].filter(Boolean).join(" · "));
}

function setMarker() {
  const field = byId("marker-mhz");
  const typed = field.value.trim().replace(",", ".");
  if (typed !== "") {
    const why = addMarker(/^[0-9.]+$/.test(typed) ? Number(typed) : NaN);
    tellRefusal(why);
    if (why === "") field.value = "";
    return;
  }
  const cursor = plots().find((plot) => plot.cursor !== null && plot.cursor !== undefined)?.cursor;
  tellRefusal(addMarker(cursor ?? worstPoint()));
}

// Without a pointer: the worst point of the worst link, else the middle of what was swept.
function worstPoint() {
  const links = newest?.header.strips.flatMap(({ links: each }) => each) ?? [];
  const judged = links.filter(({ worst, margin_db }) => worst && margin_db !== null);
  const worst = judged.sort((a, b) => a.margin_db - b.margin_db)[0];
  const grid = newest?.gridMhz;
  return worst?.worst.mhz ?? (grid?.length ? grid[grid.length >> 1] : NaN);
}

function tellRefusal(why) {
  say(byId("marker-refused"), why);
}

function zoom(factor) {
  if (byId("page").dataset.metric === "smith") for (const plot of plots()) plot.zoom?.(factor);
  else look(zoomed(currentWindow(), factor));
}

function showAll() {
  for (const plot of plots()) plot.reset?.();
  look(ALL);
}

async function copy(how) {
  const copied = byId("copied");
  say(copied, "Copying");
  say(copied, await how(shownQuery()));
}

// Rows stay while their numbers change, so that a finger finds the button it pressed.
function fill(row, words) {
  for (const [name, text] of Object.entries(words)) {
    const part = row.querySelector(`[data-part="${name}"]`);
    say(part, text);
    part.hidden = text === "";
  }
}

function part(tag, name, attributes = {}) {
  return html(tag, { class: name, "data-part": name, ...attributes });
}

function markerRow({ number, mhz }) {
  return html(
    "li",
    {},
    html("span", { class: "number" }, `${number}`),
    html("strong", { class: "at" }, `${mhz} MHz`),
    part("span", "value"),
    part("span", "interval"),
    part("span", "second"),
    part("span", "ohm"),
    part("small", "why"),
    html("button", { type: "button", class: "icon quiet", "data-remove-marker": number, "aria-label": `Remove marker ${number}`, title: `Remove marker ${number}` }, "×"),
  );
}

function markerWords({ reading }) {
  if (reading === null) return { value: "", interval: "", second: "Waiting for the next sweep.", ohm: "", why: "" };
  const { size, loss = "", interval = "", vswr = "", impedance = "", why = "" } = reading;
  if (size === null) return { value: "", interval: "", second: why, ohm: "", why: "" };
  return {
    value: loss,
    interval: interval && `95 %: ${interval}`,
    second: `VSWR ${vswr}`,
    ohm: impedance,
    why: why && `No R + jX. ${why}`,
  };
}

function markerChip({ number, mhz }) {
  return html("li", {}, html("span", { class: "number" }, `${number}`), html("strong", {}, `${mhz} MHz`), part("span", "value"));
}

function chipWords({ reading }) {
  return { value: reading === null ? "" : (reading.loss ?? reading.why) };
}

function dipRow({ number }) {
  return html(
    "li",
    { "data-dip": number },
    part("strong", "at"),
    part("span", "value"),
    html("button", { type: "button", "data-mark-at": "" }, "Mark"),
    html("dl", {}, html("div", {}, html("dt", {}, "−10 dB bandwidth"), part("dd", "bandwidth")), html("div", {}, html("dt", {}, "Loaded Q"), part("dd", "q"))),
  );
}

function fillDip(row, { mhz, at, depth, bandwidth, q }) {
  fill(row, { at, value: depth, bandwidth, q });
  const button = row.querySelector("button");
  button.dataset.markAt = mhz.toFixed(3);
  button.setAttribute("aria-label", `Set a marker at ${at}`);
}

function noDips({ calibration, tuning }) {
  if (calibration.state !== "held") return "Calibrate first: dips are read from corrected sweeps.";
  return tuning === null ? "Choose a plan first." : "There is no dip within what is swept.";
}

function heldRow({ number, name, shown, why }, compared, holds) {
  const index = holds.filter((each) => each.id !== null).findIndex((each) => each.number === number);
  const box = html("input", { type: "checkbox", "aria-label": `Draw ${name}` });
  box.checked = shown;
  const field = html("input", { type: "text", value: name, maxlength: 40, "aria-label": `Name of hold ${number}` });
  return html(
    "li",
    { "data-hold": number, class: index >= 0 ? `held-${index % 4}` : "" },
    box,
    field,
    html("button", { type: "button", class: "icon quiet", "data-action": JSON.stringify({ do: "remove hold", hold: number }), "aria-label": `Remove ${name}`, title: `Remove ${name}` }, "×"),
    shown && why ? html("small", {}, why) : number === compared ? html("small", {}, "compared with the live trace") : null,
  );
}
