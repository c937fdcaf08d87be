// What the server answered to the last action: shown for a while, longer where something was refused.

import { byId, say } from "./element.js";
import { answered } from "./actions.js";

const SHOWN_MS = { done: 5000, refused: 15000 };

export function startAnswers() {
  const answer = byId("answer");
  let timer = 0;
  const shown = () => {
    const line = answer.firstElementChild;
    if (line?.dataset.number) answered(Number(line.dataset.number));
    answer.hidden = !line?.textContent;
    clearTimeout(timer);
    if (answer.hidden) return;
    timer = setTimeout(() => (answer.hidden = true), SHOWN_MS[line.dataset.kind] ?? SHOWN_MS.done);
    if (line.dataset.closes) byId(line.dataset.closes).close();
    // An open dialog lies over everything else, so it says itself what came of an action asked for in it.
    const inside = document.querySelector("dialog[open] .answered");
    if (inside === null) return;
    say(inside, line.textContent);
    inside.dataset.kind = line.dataset.kind;
  };
  new MutationObserver(shown).observe(answer, { attributes: true, attributeFilter: ["data-number"], childList: true, characterData: true, subtree: true });
  answer.addEventListener("click", () => (answer.hidden = true));
  shown();
}
