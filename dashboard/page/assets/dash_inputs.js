// What Dash's own inputs tell a screen reader, put right, whenever Dash makes or changes one.

const FORMS = "main > :not(#view-bench), dialog"; // the bench is drawn many times a second

function putRight(form) {
  // Dash gives the lists of its radio buttons and check boxes the roles of a list box and its
  // options. An option may hold nothing that takes the focus, and these hold inputs. Without those
  // roles each is what it is: an input with its label.
  for (const list of form.querySelectorAll(".dash-radioitems, .dash-checklist")) {
    for (const each of [list, ...list.querySelectorAll('[role="option"], [aria-selected]')]) {
      each.removeAttribute("role");
      each.removeAttribute("aria-selected");
    }
  }
  // What is hidden from screen readers must not take the focus; and a file's input needs a name.
  for (const each of form.querySelectorAll('input[aria-hidden="true"]')) each.tabIndex = -1;
  for (const each of form.querySelectorAll('input[type="file"]')) each.ariaLabel = "Choose a file";
}

export function startDashInputs() {
  for (const form of document.querySelectorAll(FORMS)) {
    putRight(form);
    new MutationObserver(() => putRight(form)).observe(form, {
      subtree: true,
      childList: true,
      attributeFilter: ["role", "aria-selected"],
    });
  }
}
