// The live feed: follows the server for as long as the page is open.
//
// Frames are drawn when the browser paints, and acknowledged only then: the server keeps a newest
// frame for each viewer and sends no more than a few ahead, so a slow page skips and never lags.
// Silence is noticed here, by the page itself: the server says something every second.

import { decode, forgetParts } from "./frame.js";

const SILENCE_MS = 3500;
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
  let heardAt = performance.now();

  function connect() {
    const scheme = location.protocol === "https:" ? "wss:" : "ws:";
    const mine = new WebSocket(`${scheme}//${location.host}/feed`);
    mine.binaryType = "arraybuffer";
    socket = mine;
    heardAt = performance.now();
    drawn = 0;
    mine.onopen = forgetParts;
    mine.onmessage = ({ data }) => mine === socket && heard(data);
    mine.onclose = ({ code }) => mine === socket && (code === PUT_OUT ? putOut() : lost());
  }

  function heard(data) {
    heardAt = performance.now();
    waitMs = FIRST_WAIT_MS;
    changed("live");
    if (typeof data === "string") return; // a heartbeat: nothing new
    const frame = decode(data);
    frame.receivedAt = heardAt;
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
    changed("lost");
    setTimeout(connect, waitMs * (0.75 + Math.random() / 2));
    waitMs = Math.min(2 * waitMs, LONGEST_WAIT_MS);
  }

  setInterval(() => {
    if (socket === null || performance.now() - heardAt < SILENCE_MS) return;
    const silent = socket;
    lost();
    silent.close();
  }, 500);

  document.addEventListener("visibilitychange", () => {
    if (!document.hidden) requestAnimationFrame(paint);
  });

  connect();
}
