// Dialogs open by a button with `data-opens`, and close by Escape, their own button, or a click
// beside them.

import { byId } from "./element.js";

export function startDialogs() {
  document.addEventListener("click", ({ target }) => {
    const opener = target.closest?.("[data-opens]");
    if (opener) byId(opener.dataset.opens).showModal();
    const closer = target.closest?.("[data-closes]");
    if (closer) byId(closer.dataset.closes).close();
    if (target instanceof HTMLDialogElement) target.close();
  });
}
