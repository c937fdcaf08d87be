// Which part of the page is shown: the ports, bench, calibrate, accept, or the bench across the room
// (wall).
// The address remembers it.

import { byId } from "./element.js";

export const VIEWS = ["port", "bench", "read", "calibrate", "accept", "wall"];
const PANEL = { wall: "bench" }; // the wall shows the bench, and less of it
const listeners = [];

export function currentView() {
  const wanted = location.hash.slice(1);
  return VIEWS.includes(wanted) ? wanted : "bench";
}

export function goTo(view) {
  if (view !== currentView()) history.pushState(null, "", `#${view}`);
  showView();
}

export function onView(listener) {
  listeners.push(listener);
}

export function showView() {
  const view = currentView();
  const another = byId("page").dataset.view !== view;
  byId("page").dataset.view = view;
  for (const name of VIEWS) {
    if (!(name in PANEL)) byId(`view-${name}`).hidden = name !== (PANEL[view] ?? view);
    const tab = document.querySelector(`[data-view-to="${name}"]`);
    if (name === view) tab.setAttribute("aria-current", "page");
    else tab.removeAttribute("aria-current");
  }
  if (another) toTheTop();
  for (const listener of listeners) listener(view);
}

// A view opens at its top, wherever the one before was scrolled to.
function toTheTop() {
  scrollTo(0, 0);
  for (const panel of document.querySelectorAll("main > section")) panel.scrollTop = 0;
}

export function startViews() {
  window.addEventListener("popstate", showView);
  window.addEventListener("hashchange", showView);
  document.addEventListener("click", (event) => {
    const tab = event.target.closest?.("[data-view-to]");
    if (tab) goTo(tab.dataset.viewTo);
  });
  showView();
}
