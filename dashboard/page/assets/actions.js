// What the person wants done. Every button and every key ends here; the server's answer comes
// back through the same ordinary Dash callback (`action` in, `answer` out).
//
// One at a time: of two actions asked for in the same breath Dash would only send the second.

// A slow analyzer holds an answer up for as long as a sweep takes, and what was pressed meanwhile
// waits and is done. Only where the server was lost is it let go, and then the person is told: what
// was asked for then must not happen much later.

const TOLD_EVERY_MS = 5000;
const MOST_MS = 120_000;
const LOOK_MS = 500;

let count = 0;
let pending = null; // the number of the action that has no answer yet
let timer = 0;
let queue = [];

export function perform(what) {
  queue.push(what);
  if (pending === null) ask();
}

export function answered(number) {
  if (number !== pending) return;
  clearInterval(timer);
  pending = null;
  if (queue.length > 0) ask();
}

function ask() {
  count += 1;
  pending = count;
  wait();
  window.dash_clientside.set_props("action", { data: { ...queue.shift(), number: pending } });
}

function wait() {
  let waited = 0;
  let lost = false;
  timer = setInterval(() => {
    waited += LOOK_MS;
    lost ||= document.getElementById("page").dataset.feed !== "live";
    if (waited % TOLD_EVERY_MS !== 0) return;
    if (lost || waited >= MOST_MS) letGo();
    else tell("waiting", `bandwright is still busy with what you pressed.${queue.length > 0 ? ` ${presses(queue.length)} will follow.` : ""}`);
  }, LOOK_MS);
}

function letGo() {
  clearInterval(timer);
  const dropped = queue.length;
  queue = [];
  pending = null;
  const rest = dropped > 0 ? ` ${presses(dropped)} after it ${dropped === 1 ? "was" : "were"} not done.` : "";
  tell("refused", `bandwright did not answer, so what you pressed may not have been done.${rest} Look at the page, then press again.`);
}

function presses(number) {
  return number === 1 ? "1 press" : `${number} presses`;
}

// In the line of answers, which is Dash's.
function tell(kind, words) {
  const line = { namespace: "dash_html_components", type: "P", props: { children: words, "data-kind": kind } };
  window.dash_clientside.set_props("answer", { children: line });
}

// Buttons carry what they want as JSON in `data-action`.
//
// The page moves under a finger: ten times a second a row may grow or a button be made anew. A
// browser makes no click of a press on a button that has gone or slid away before the release, so
// where the pointer itself stayed, the press counts for the button that it began on.
const STAYED_PX = 8;

export function performClicks(root) {
  let pressed = null; // {button, x, y}; null where no button is pressed
  let performed = false; // by the release: a click that may still come of it counts for nothing
  root.addEventListener("pointerdown", (event) => {
    const button = event.isPrimary && event.button === 0 ? actionButton(event.target) : null;
    pressed = button && { button, x: event.clientX, y: event.clientY };
    performed = false;
  });
  root.addEventListener("pointercancel", () => (pressed = null));
  root.addEventListener("pointerup", (event) => {
    if (pressed === null) return;
    const { button, x, y } = pressed;
    pressed = null;
    // of a touch the release's target is where it began, wherever that has gone
    if (button.contains(document.elementFromPoint(event.clientX, event.clientY))) return; // a click comes of it
    if (Math.hypot(event.clientX - x, event.clientY - y) > STAYED_PX) return; // taken back
    performed = true;
    perform(JSON.parse(button.dataset.action));
  });
  root.addEventListener("click", (event) => {
    const button = performed && event.detail > 0 ? null : actionButton(event.target);
    performed = false;
    if (button) perform(JSON.parse(button.dataset.action));
  });
}

function actionButton(element) {
  const button = element.closest?.("[data-action]");
  return button && !button.disabled ? button : null;
}
