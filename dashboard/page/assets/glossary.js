// Words that the glossary explains carry `data-term`. Hovering, tapping or focusing one shows its
// line; Escape, a tap elsewhere or moving on hides it again. The line can be hovered itself.

import { html } from "./element.js";

const LEAVE_MS = 200; // time to reach the line with the pointer
let lines = null;
let tip = null;
let shownFor = null;
let leaving = 0;

async function explained(term) {
  lines ??= fetch("/help/terms.json").then((answer) => answer.json());
  try {
    return (await lines)[term];
  } catch {
    lines = null; // asked again next time
    return undefined;
  }
}

async function show(word) {
  clearTimeout(leaving);
  if (shownFor === word) return;
  shownFor = word;
  const line = await explained(word.dataset.term);
  if (line === undefined || shownFor !== word) return;
  tip.textContent = line;
  // Inside the dialog that has the word, or it would lie behind it.
  (word.closest("dialog[open]") ?? document.body).append(tip);
  word.setAttribute("aria-describedby", tip.id);
  tip.showPopover();
  place(word.getBoundingClientRect());
}

function place(word) {
  const { width, height } = tip.getBoundingClientRect();
  const left = Math.max(8, Math.min(word.left, innerWidth - width - 8));
  const below = word.bottom + 6;
  const top = below + height > innerHeight ? Math.max(8, word.top - height - 6) : below;
  tip.style.left = `${left}px`;
  tip.style.top = `${top}px`;
}

function hide() {
  clearTimeout(leaving);
  shownFor?.removeAttribute("aria-describedby");
  shownFor = null;
  if (tip.matches(":popover-open")) tip.hidePopover();
}

function leave() {
  clearTimeout(leaving);
  leaving = setTimeout(hide, LEAVE_MS);
}

export function startGlossary() {
  tip = html("div", { id: "term-line", role: "tooltip", popover: "manual" });
  const word = ({ target }) => target.closest?.("[data-term]") ?? null;
  document.addEventListener("pointerover", (event) => {
    if (event.pointerType !== "mouse") return;
    if (word(event)) show(word(event));
    else if (shownFor !== null && event.target !== tip) leave();
    else clearTimeout(leaving);
  });
  document.addEventListener("focusin", (event) => {
    if (word(event)?.matches(":focus-visible")) show(word(event));
    else if (shownFor !== null && word(event) !== shownFor) hide();
  });
  document.addEventListener("click", (event) => {
    if (word(event)) show(word(event));
    else if (event.target !== tip) hide();
  });
  // Before a dialog hears of it: the first Escape closes the line, the next one the dialog.
  document.addEventListener(
    "keydown",
    (event) => {
      if (event.key !== "Escape" || shownFor === null) return;
      hide();
      event.preventDefault();
      event.stopPropagation();
    },
    { capture: true },
  );
  document.addEventListener("scroll", hide, { capture: true, passive: true });
}
