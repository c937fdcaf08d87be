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
export function grantClicks(root) {
  root.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-wish]");
    if (button && !button.disabled) wish(JSON.parse(button.dataset.wish));
  });
}
