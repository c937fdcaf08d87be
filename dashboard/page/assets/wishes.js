// What the person wants done. Every button and every key ends here; the server's answer comes
// back through the same ordinary Dash callback (`wish` in, `answer` out).
//
// One at a time: of two wishes made in the same breath Dash would only send the second.

const ANSWER_WITHIN_MS = 5000;

let count = 0;
let asked = null; // the number of the wish that has no answer yet
let timer = 0;
let queue = [];

export function wish(what) {
  queue.push(what);
  if (asked === null) ask();
}

export function answered(number) {
  if (number !== asked) return;
  clearTimeout(timer);
  asked = null;
  if (queue.length > 0) ask();
}

function ask() {
  count += 1;
  asked = count;
  // Without a server nothing is answered; what was wished then must not happen much later.
  timer = setTimeout(() => {
    queue = [];
    asked = null;
  }, ANSWER_WITHIN_MS);
  window.dash_clientside.set_props("wish", { data: { ...queue.shift(), number: asked } });
}

// Buttons carry what they want as JSON in `data-wish`.
//
// The page moves under a finger: ten times a second a row may grow or a button be made anew. A
// browser makes no click of a press on a button that has gone or slid away before the release, so
// where the pointer itself stayed, the press counts for the button that it began on.
const STAYED_PX = 8;

export function grantClicks(root) {
  let pressed = null; // {button, x, y}; null where no button is pressed
  let granted = false; // by the release: a click that may still come of it counts for nothing
  root.addEventListener("pointerdown", (event) => {
    const button = event.isPrimary && event.button === 0 ? wishing(event.target) : null;
    pressed = button && { button, x: event.clientX, y: event.clientY };
    granted = false;
  });
  root.addEventListener("pointercancel", () => (pressed = null));
  root.addEventListener("pointerup", (event) => {
    if (pressed === null) return;
    const { button, x, y } = pressed;
    pressed = null;
    // of a touch the release's target is where it began, wherever that has gone
    if (button.contains(document.elementFromPoint(event.clientX, event.clientY))) return; // a click comes of it
    if (Math.hypot(event.clientX - x, event.clientY - y) > STAYED_PX) return; // taken back
    granted = true;
    wish(JSON.parse(button.dataset.wish));
  });
  root.addEventListener("click", (event) => {
    const button = granted && event.detail > 0 ? null : wishing(event.target);
    granted = false;
    if (button) wish(JSON.parse(button.dataset.wish));
  });
}

function wishing(element) {
  const button = element.closest?.("[data-wish]");
  return button && !button.disabled ? button : null;
}
