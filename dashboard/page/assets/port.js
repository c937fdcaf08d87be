// The analyzer's port: the list of those there are, kept up to date, and what may be done with each.

import { perform } from "./actions.js";
import { byId, html, say, showing } from "./element.js";
import { currentView, goTo, onView } from "./views.js";

const LOOK_MS = 1500;

let port = null; // as the newest frame has it
let listed = []; // as the server listed them last
let known = null; // addresses of the first list: a port that is not among them was plugged in since
let offered = false; // the list was shown by itself, once
let chosen = ""; // the address that this page asked for; what comes of it leads on
let leadOn = () => {};
let listChanged = () => {};

// then : opens the next step, once the port that was chosen here measures. changed : the list is another.
export function startPort({ then, changed }) {
  leadOn = then;
  listChanged = changed;
  onView(look);
  setInterval(look, LOOK_MS);
  byId("port-change-sure").addEventListener("click", ({ currentTarget }) => {
    byId("port-change").close();
    use(currentTarget.dataset.address, true);
  });
  byId("ports").addEventListener("click", ({ target }) => {
    const button = target.closest("[data-use]");
    if (button) wish(button.dataset.use);
    if (target.closest("[data-identify]")) setTimeout(look, 100);
  });
}

export function showPort({ header }) {
  port = header.port;
  byId("page").dataset.port = port.phase;
  byId("page").dataset.portWanted = wanted();
  // Without a port there is nothing to see but the list; a person who has gone elsewhere is left there.
  if (wanted() && port.phase !== "connecting" && !offered) {
    offered = true;
    if (location.hash === "") goTo("port");
  }
  if (chosen !== "" && port.address === chosen && port.phase === "sweeping" && port.swept) {
    chosen = "";
    if (currentView() === "port") leadOn();
  }
  show();
}

// True while nothing was ever measured, so that the port may be the wrong one.
function wanted() {
  return port.choosable && (port.phase === "unchosen" || (!port.swept && ["lost", "connecting"].includes(port.phase)));
}

// The one step forward from the list: the button that is made to stand out there.
export function nextPort() {
  if (port?.phase === "connecting") return { words: "Connecting", take: () => {}, waits: true };
  const loud = byId("ports").querySelector("button.primary");
  if (loud === null) return { words: "Choose a port", take: () => {}, waits: true };
  return { words: `Next: ${loud.dataset.words}`, take: () => loud.click() };
}

async function look() {
  if (currentView() !== "port" || document.hidden) return;
  const answer = await fetch("/ports.json").catch(() => null);
  if (answer === null) return;
  if (!answer.ok) {
    say(byId("port-note"), "The port is chosen at the bench.");
    byId("port-help").hidden = true;
    return;
  }
  const { ports, problem } = await answer.json();
  known ??= new Set(ports.map(({ address }) => address));
  listed = ports;
  const real = ports.some(({ practice }) => !practice);
  say(byId("port-note"), problem || (real ? "" : "No port is there yet. Plug the analyzer in: its port appears here by itself."));
  byId("port-help").hidden = !real;
  show();
}

function show() {
  if (port === null || currentView() !== "port") return;
  const fresh = listed.filter(isNew);
  const answered = listed.find((each) => each.answered && !inUse(each));
  const real = listed.filter(({ practice }) => !practice);
  // One button stands out: of the port that answered, that was just plugged in, or the only one there is.
  const loud = answered ?? fresh[0] ?? only(real.filter(({ usb_id }) => usb_id)) ?? only(real) ?? only(listed);
  const rows = [...fresh, ...listed.filter((each) => !isNew(each))];
  const of = rows.map((each) => ({
    ...each,
    loud: each === loud && !inUse(each) && port.phase !== "sweeping",
    fresh: isNew(each),
    phase: inUse(each) ? port.phase : "",
  }));
  if (showing(byId("ports"), of, (each) => each.map(row))) listChanged();
}

function only(ports) {
  return ports.length === 1 ? ports[0] : null;
}

function isNew({ address }) {
  return known !== null && !known.has(address);
}

function inUse({ address }) {
  return address === port.address;
}

function row({ address, description, usb_id, serial_number, practice, answer, answered, asking, loud, fresh, phase }) {
  const name = practice ? "Virtual bench" : address;
  const facts = practice
    ? ["Practise without an analyzer. Analyzer, standards and antenna are simulated, and all data is invented."]
    : [description, usb_id && `USB ${usb_id}`, serial_number && `serial number ${serial_number}`].filter(Boolean);
  const words = practice ? "practise" : `use ${address}`;
  const busy = ["connecting", "sweeping", "refused"].includes(phase);
  return html(
    "li",
    { "data-phase": phase, "data-answered": answered },
    html(
      "div",
      { class: "facts" },
      html("strong", {}, name),
      html("span", {}, facts.length > 0 ? facts.join(", ") : "No description"),
      html("em", {}, state(phase, asking, answer, fresh)),
    ),
    html(
      "div",
      { class: "actions" },
      practice || phase !== ""
        ? null
        : html(
            "button",
            {
              type: "button",
              disabled: asking ? "" : null,
              "aria-label": `Identify ${name}`,
              "data-identify": "",
              "data-action": JSON.stringify({ do: "identify port", address }),
            },
            asking ? "Asking…" : "Identify",
          ),
      html(
        "button",
        {
          type: "button",
          class: loud ? "primary" : "",
          disabled: busy ? "" : null,
          "aria-label": practice ? null : `Use ${name}`,
          "data-use": address,
          "data-words": words,
        },
        busy ? "In use" : practice ? "Practise here" : phase === "lost" ? "Try again" : "Use this port",
      ),
    ),
  );
}

function state(phase, asking, answer, fresh) {
  if (phase === "connecting") return "Connecting. This takes a few seconds.";
  if (phase === "sweeping") return "Measuring here.";
  if (phase === "lost") return "No analyzer answers here.";
  if (asking) return "Asking who is there. This takes a few seconds.";
  if (answer) return answer;
  return fresh ? "Just plugged in." : "";
}

// A change is asked about where it would stop something.
function wish(address) {
  if (port.phase !== "sweeping") return use(address, false);
  const to = listed.find((each) => each.address === address)?.practice ? "the virtual bench" : address;
  const calibrated = byId("calibration-state").dataset.state === "held";
  const kept = " The calibration stays with its analyzer: it holds again when you come back to this port.";
  say(byId("port-change-words"), `Measuring stops here and begins at ${to}.${calibrated ? kept : ""}`);
  byId("port-change-sure").dataset.address = address;
  byId("port-change").showModal();
}

function use(address, sure) {
  chosen = address;
  perform({ do: "use port", address, sure });
}
