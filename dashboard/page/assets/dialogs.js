// Dialogs open by a button with `data-opens`, and close by Escape, their own button, or a press
// beside them.
//
// None closes unawares: the focus begins at what the dialog is for, never at "Close", which Enter
// would press; and a press that began inside, as when text is marked, closes nothing.

import { byId } from "./element.js";
import { shownQuery } from "./read_view.js";

const openers = new Map(); // by the dialog's id: what to do as it opens
const FIRST = "[data-first], [autofocus]";

export function onOpen(id, listener) {
  openers.set(id, listener);
}

export function openDialog(id) {
  const dialog = byId(id);
  if (dialog.open) return;
  dialog.querySelector(".answered")?.replaceChildren();
  openers.get(id)?.();
  dialog.showModal();
  dialog.scrollTop = 0;
  focusFirst(dialog);
}

// What the dialog is for; on a touch screen its heading, so that no keyboard covers it.
export function focusFirst(dialog) {
  const typed = matchMedia("(pointer: fine)").matches ? dialog.querySelector(FIRST) : null;
  const first = typed ?? dialog.querySelector("h2");
  if (first?.matches("h2")) first.tabIndex = -1;
  first?.focus({ preventScroll: true });
}

export function startDialogs() {
  let pressed = null;
  document.addEventListener("pointerdown", ({ target }) => (pressed = target));
  document.addEventListener("click", ({ target }) => {
    const opener = target.closest?.("[data-opens]");
    if (opener) openDialog(opener.dataset.opens);
    const closer = target.closest?.("[data-closes]");
    if (closer) byId(closer.dataset.closes).close();
    // What is saved is what is plotted.
    const form = target.closest?.("[data-save]");
    if (form) form.href = `/save/sweep.${form.dataset.save}?${shownQuery()}`;
    if (target instanceof HTMLDialogElement && pressed === target) target.close();
  });
}
