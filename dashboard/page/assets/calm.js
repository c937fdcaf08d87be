// Numbers that a person reads change calmly: the trace moves with every sweep, but words and figures
// are taken from one moment that is kept for a while. A state, a step or a headline that changes is
// shown at once.

const KEPT_MS = 800;

let kept = null; // the frame whose words are shown
let since = -Infinity;

export function calm(frame) {
  const now = performance.now();
  if (kept === null || now - since >= KEPT_MS || said(frame.header) !== said(kept.header)) {
    kept = frame;
    since = now;
  }
  return kept;
}

// What may not wait: all but the figures.
function said({ sentence, strips, overall, port, calibration, plan, holds, tuning, touch }) {
  const states = strips.map(({ name, links }) => [name, links.map(({ link, state }) => [link, state])]);
  return JSON.stringify([
    sentence.text, sentence.tone, states, overall.state, port.phase, calibration.state, plan.name, holds,
    tuning?.advice, tuning?.waiting, tuning?.checked, touch.phase,
  ]);
}
