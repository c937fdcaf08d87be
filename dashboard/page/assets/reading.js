// What one viewer reads off: its markers, and the part of the axis that it looks at. Nothing of it
// changes the bench, and none of it is lost when the page is loaded again.

import { wantReadings } from "./feed.js";
import { ALL } from "./plot_axis.js";

const KEPT = "bandwright-markers";
export const MOST_MARKERS = 12;
const SAME_MHZ = 0.0005; // two markers nearer than this are one
const listeners = [];
let markers = load(); // {number, mhz}
let window_ = ALL;

export function onReading(listener) {
  listeners.push(listener);
}

export function currentMarkers() {
  return markers;
}

export function currentWindow() {
  return window_;
}

export function look(window) {
  window_ = window;
  changed();
}

// Returns why no marker was set; empty where one was.
export function addMarker(mhz) {
  if (!Number.isFinite(mhz) || mhz <= 0) return "Type a frequency in MHz, such as 836.5.";
  if (markers.some((each) => Math.abs(each.mhz - mhz) < SAME_MHZ)) return "There is a marker already.";
  if (markers.length >= MOST_MARKERS) return `Up to ${MOST_MARKERS} markers. Remove one first.`;
  const taken = new Set(markers.map(({ number }) => number));
  let number = 1;
  while (taken.has(number)) number += 1;
  markers = [...markers, { number, mhz: Math.round(mhz * 1000) / 1000 }].sort((a, b) => a.mhz - b.mhz);
  changed();
  return "";
}

export function removeMarker(number) {
  markers = markers.filter((each) => each.number !== number);
  changed();
}

export function clearMarkers() {
  markers = [];
  changed();
}

export function startReading() {
  wantReadings(markers.map(({ mhz }) => mhz));
}

// The readings of a frame beside the markers they were asked for.
export function readMarkers(header) {
  const found = new Map((header.markers ?? []).map((each) => [each.mhz, each]));
  return markers.map((each) => ({ ...each, reading: found.get(each.mhz) ?? null }));
}

function changed() {
  try {
    localStorage.setItem(KEPT, JSON.stringify(markers));
  } catch {
    // kept until the page is closed, then
  }
  wantReadings(markers.map(({ mhz }) => mhz));
  for (const listener of listeners) listener();
}

function load() {
  try {
    const kept = JSON.parse(localStorage.getItem(KEPT) ?? "[]");
    const good = ({ number, mhz }) => Number.isInteger(number) && Number.isFinite(mhz) && mhz > 0;
    return Array.isArray(kept) ? kept.filter(good).slice(0, MOST_MARKERS) : [];
  } catch {
    return [];
  }
}
