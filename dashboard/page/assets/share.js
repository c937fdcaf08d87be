// Sharing: the bench shows the code and who is looking; a viewer's page hides what it cannot do.

import { byId, html, say, showing } from "./element.js";

const LOOK_MS = 1500;

export function startShare() {
  look();
  setInterval(look, LOOK_MS);
}

export function showShare({ header: { role, name } }) {
  byId("page").dataset.role = role;
  byId("viewer-name").hidden = !name;
  if (name) say(byId("viewer-name"), role === "lent" ? `${name}: control is yours` : `${name}: looking`);
}

// Only the bench's own page is answered; where nothing is shared there is no such path.
let shared = true;
let shown = "";

async function look() {
  if (!shared || document.hidden) return;
  const answer = await fetch("/share.json").catch(() => null);
  if (answer === null) return;
  if (!answer.ok) {
    shared = false;
    return;
  }
  const { address, viewers, privacy } = await answer.json();
  const looking = viewers.filter((each) => each.present).length;
  const lent = viewers.find((each) => each.lent);
  byId("share-open").hidden = false;
  say(byId("share-open"), lent ? `Control: ${lent.name}` : looking === 0 ? "Share" : `${looking} looking`);
  say(byId("share-viewers"), `${looking === 0 ? "Nobody is" : looking} looking${lent ? `; ${lent.name} has control` : ""}.`);
  say(byId("share-privacy"), privacy);
  showing(byId("share-list"), viewers.filter((each) => each.present || each.lent), rows);
  if (address === shown) return;
  shown = address;
  say(byId("share-address"), address === "" ? "Nothing is shared." : address);
  byId("share-code").hidden = address === "";
  byId("share-code").src = address === "" ? "" : `/share.svg?${Date.now()}`;
}

// Who looks, by name, each with a button that lends control to just that one.
const rows = (viewers) =>
  viewers.map(({ number, name, present, lent }) => {
    const what = JSON.stringify({ do: "lend control", viewer: number });
    const lend = html("button", { type: "button", "data-action": what, "aria-label": `Lend control to ${name}` }, "Lend control");
    lend.disabled = lent;
    return html("li", {}, html("span", {}, present ? name : `${name} (page closed)`), lend);
  });
