// The live feed: follows the server for as long as the page is open.
//
// Frames are drawn when the browser paints, and acknowledged only then: the server keeps a newest
// frame for each viewer and sends no more than a few ahead, so a slow page skips and never lags.
// Silence is noticed here, by the page itself: the server says something every second.
//
// What is told of it: "connecting" until the first message, "live", "again" while a server that was
// heard is silent or its socket is closed, and "lost" only once that has lasted: a program that has
// ended refuses every new socket, while a busy machine makes it late, and late is not gone.

import { decode, forgetParts } from "./frame.js";

const SILENCE_MS = 3500;
const OPENING_MS = 20_000; // a socket that does not open for so long is given up, and tried anew
const REFUSED_MS = 6000; // so long after the last message a server that refuses has stopped
const HUNG_MS = 60_000; // and one that takes a socket, and says nothing
const TICK_MS = 500;
const FIRST_WAIT_MS = 250;
const LONGEST_WAIT_MS = 3000;
const PUT_OUT = 4001; // the server's close code for a viewer that is let in no more

let socket = null;
let drawn = 0; // the newest message that was drawn
let markers = []; // MHz: where this page wants readings

// This viewer's own markers: the server answers with the readings, in the next frame.
export function wantReadings(mhz) {
  markers = mhz;
  report();
}

function report() {
  if (socket?.readyState === WebSocket.OPEN) socket.send(JSON.stringify({ drawn, markers }));
}

export function follow({ draw, changed }) {
  let waitMs = FIRST_WAIT_MS;
  let waiting = null; // the newest message that has not been drawn
  let heard = false; // the server has said something since the page was opened
  // Silence is counted in ticks of the page's own: while the page is held up itself, nothing is missed.
  let silentMs = 0; // since this socket last said something, or was made
  let awayMs = 0; // since any did
  let refused = false; // the last socket was closed before it was open

  function connect() {
    const scheme = location.protocol === "https:" ? "wss:" : "ws:";
    const mine = new WebSocket(`${scheme}//${location.host}/feed`);
    mine.binaryType = "arraybuffer";
    socket = mine;
    drawn = 0;
    silentMs = 0;
    mine.onopen = () => {
      refused = false;
      forgetParts();
    };
    mine.onmessage = ({ data }) => mine === socket && take(data);
    mine.onclose = ({ code }) => mine === socket && (code === PUT_OUT ? putOut() : lost());
    mine.onerror = () => mine === socket && (refused = true);
  }

  function take(data) {
    heard = true;
    silentMs = awayMs = 0;
    waitMs = FIRST_WAIT_MS;
    changed("live");
    if (typeof data === "string") return; // a heartbeat: nothing new
    const frame = decode(data);
    frame.receivedAt = performance.now();
    const scheduled = waiting !== null;
    waiting = frame;
    // A hidden page is not painted. It keeps the newest frame and says that it goes on listening.
    if (document.hidden) acknowledge(frame);
    else if (!scheduled) requestAnimationFrame(paint);
  }

  function paint() {
    if (waiting === null) return;
    const frame = waiting;
    waiting = null;
    try {
      draw(frame);
    } finally {
      // Also where drawing failed: one frame that cannot be drawn must not stop the next.
      acknowledge(frame);
    }
  }

  function acknowledge({ header }) {
    drawn = header.message;
    report();
  }

  // Not let in any more: no new attempt would be, either.
  function putOut() {
    socket = null;
    document.getElementById("page").dataset.putOut = "true";
    changed("lost");
  }

  function lost() {
    socket = null;
    tell();
    setTimeout(connect, waitMs * (0.75 + Math.random() / 2));
    waitMs = Math.min(2 * waitMs, LONGEST_WAIT_MS);
  }

  // Nothing was heard lately: what that means.
  function tell() {
    if (document.getElementById("page").dataset.putOut === "true") return;
    const gone = awayMs >= (refused ? REFUSED_MS : HUNG_MS);
    changed(!heard ? "connecting" : gone ? "lost" : "again");
  }

  setInterval(() => {
    silentMs += TICK_MS;
    awayMs += TICK_MS;
    if (awayMs > SILENCE_MS) tell();
    if (socket === null) return;
    if (silentMs < (socket.readyState === WebSocket.OPEN ? SILENCE_MS : OPENING_MS)) return;
    const silent = socket;
    lost();
    silent.close();
  }, TICK_MS);

  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) requestAnimationFrame(paint);
  });

  connect();
}
