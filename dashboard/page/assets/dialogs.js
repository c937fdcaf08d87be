// Dialogs open by a button with `data-opens`, and close by Escape, their own button, or a click
// beside them.

import { byId } from "./element.js";
import { shownQuery } from "./read_view.js";

export function startDialogs() {
  document.addEventListener("click", ({ target }) => {
    const opener = target.closest?.("[data-opens]");
    if (opener) {
      const dialog = byId(opener.dataset.opens);
      dialog.querySelector(".answered")?.replaceChildren();
      dialog.showModal();
    }
    const closer = target.closest?.("[data-closes]");
    if (closer) byId(closer.dataset.closes).close();
    // What is saved is what is plotted.
    const form = target.closest?.("[data-save]");
    if (form) form.href = `/save/sweep.${form.dataset.save}?${shownQuery()}`;
    if (target instanceof HTMLDialogElement) target.close();
  });
}
