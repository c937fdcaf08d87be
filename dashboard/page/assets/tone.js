// A tone for those who cannot look up: the higher, the nearer the worst band is to passing; once
// every band passes it rests. Off until asked for, as browsers want it too.

import { byId } from "./element.js";

const [LOW_HZ, HIGH_HZ] = [220, 880];
const FAR_DB = 12; // so far from passing the tone is lowest
const GLIDE_S = 0.08;

let sound = null; // { context, oscillator, gain } once it was asked for
let on = false;

export function startTone() {
  byId("tone").addEventListener("click", () => {
    on = !on;
    byId("tone").setAttribute("aria-pressed", on);
    byId("page").dataset.tone = on;
    if (on && sound === null) sound = makeSound();
    if (!on) quiet();
  });
}

export function showTone({ header }) {
  if (!on || sound === null) return;
  const margins = header.strips.flatMap(({ links }) => links.map(({ margin_db }) => margin_db)).filter((db) => db !== null);
  const worst = Math.min(...margins);
  const passes = header.overall.state === "pass";
  if (passes || margins.length === 0 || header.port.phase !== "sweeping") return quiet();
  const near = 1 - Math.min(Math.max(-worst, 0), FAR_DB) / FAR_DB;
  const { context, oscillator, gain } = sound;
  oscillator.frequency.setTargetAtTime(LOW_HZ * (HIGH_HZ / LOW_HZ) ** near, context.currentTime, GLIDE_S);
  gain.gain.setTargetAtTime(0.25 * (Number(byId("volume").value) / 100) ** 2, context.currentTime, GLIDE_S);
}

function makeSound() {
  const context = new AudioContext();
  const oscillator = context.createOscillator();
  const gain = context.createGain();
  oscillator.type = "sine";
  gain.gain.value = 0;
  oscillator.connect(gain).connect(context.destination);
  oscillator.start();
  return { context, oscillator, gain };
}

function quiet() {
  sound?.gain.gain.setTargetAtTime(0, sound.context.currentTime, GLIDE_S);
}
