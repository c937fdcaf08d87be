// The colours of the style sheet as Plotly needs them: resolved for the theme that is shown.

const NAMES = ["ink", "muted", "line", "panel", "trace", "held", "reactance", "uplink", "downlink", "service"];
let resolved = null;

export function colours() {
  resolved ??= resolve();
  return resolved;
}

export function forgetColours() {
  resolved = null;
}

function resolve() {
  const probe = document.body.appendChild(document.createElement("span"));
  const found = {};
  for (const name of NAMES) {
    probe.style.color = `var(--${name})`;
    found[name] = getComputedStyle(probe).color;
  }
  probe.remove();
  return found;
}
