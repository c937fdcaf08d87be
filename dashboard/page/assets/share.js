// Sharing: the bench shows the code and who is looking; a viewer's page hides what it cannot do.

import { byId, say } from "./element.js";

const LOOK_MS = 1500;

export function startShare() {
  look();
  setInterval(look, LOOK_MS);
}

export function showShare({ header }) {
  byId("page").dataset.role = header.role;
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
  const { address, viewers, lent, privacy } = await answer.json();
  byId("share-open").hidden = false;
  say(byId("share-open"), viewers === 0 ? "Share" : `${viewers} looking`);
  say(byId("share-viewers"), `${viewers === 0 ? "Nobody is" : viewers} looking${lent ? "; control is lent to the last" : ""}.`);
  say(byId("share-privacy"), privacy);
  if (address === shown) return;
  shown = address;
  say(byId("share-address"), address === "" ? "Nothing is shared." : address);
  byId("share-code").hidden = address === "";
  byId("share-code").src = address === "" ? "" : `/share.svg?${Date.now()}`;
}
