// What was used lately on this machine: plans and recipes in the plan dialog, and on the calibrate
// view the calibrations made before, with their age and what of the plan they cover.

import { byId, html, showing } from "./element.js";
import { currentView, onView } from "./views.js";
import { option } from "./plan_view.js";

let asked = ""; // what the list on the calibrate view was made for

export async function recentLists() {
  const lists = await look();
  if (lists === null) return;
  showing(byId("plan-recent"), lists.plans, (all) => [
    option("", all.length === 0 ? "none yet" : "choose ..."),
    ...all.map(({ key, name, text, words }) => option(key, `${name} (${words})`, { "data-text": text })),
  ]);
  const recipes = [{ key: "", name: "none" }, ...lists.recipes];
  showing(byId("plan-recipe"), recipes, (all) => all.map(({ key, name }) => option(key, name)));
  byId("plan-recipe").value = lists.recipes.find((each) => each.in_use)?.key ?? "";
}

export function startRecents() {
  onView((view) => view !== "calibrate" && (asked = ""));
}

// Asked for once for each state that it may depend on, and only where it is seen.
export function showRecents({ header: { calibration, plan, port, session } }) {
  if (currentView() !== "calibrate" || session !== null) return;
  const state = JSON.stringify([calibration.state, calibration.detail, plan, port.phase]);
  if (state === asked) return;
  asked = state;
  look().then((lists) => {
    if (lists === null) return;
    const all = lists.calibrations;
    byId("kept-calibrations").hidden = all.length === 0;
    showing(byId("kept-list"), all, (rows) => rows.map(row));
  });
}

function row({ key, today, whole, words }) {
  const what = JSON.stringify({ do: "use calibration", calibration: key });
  const button = html("button", { type: "button", "data-action": what, "aria-label": `Use the calibration of ${words}` }, "Use it");
  return html("li", { "data-good": today && whole }, html("span", {}, today ? html("b", {}, "Today: ") : null, words), button);
}

async function look() {
  const answer = await fetch("/recent.json").catch(() => null);
  return answer?.ok ? answer.json() : null;
}
