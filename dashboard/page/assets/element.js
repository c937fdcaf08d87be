// Elements made of plain data. Text is always set as text: names come from plans, files and
// analyzers, and must never become markup.

const SVG = "http://www.w3.org/2000/svg";

export function html(tag, attributes = {}, ...children) {
  return fill(document.createElement(tag), attributes, children);
}

export function svg(tag, attributes = {}, ...children) {
  return fill(document.createElementNS(SVG, tag), attributes, children);
}

function fill(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes)) {
    if (value !== null && value !== undefined) element.setAttribute(name, value);
  }
  element.append(...children.filter((child) => child !== null));
  return element;
}

// Changes text only where it differs, so that screen readers and the painter are left in peace.
export function say(element, text) {
  if (element && element.textContent !== text) element.textContent = text;
}

// Replaces an element's children only when what they are made of has changed.
const shown = new WeakMap();

export function showing(element, data, make) {
  const key = JSON.stringify(data);
  if (shown.get(element) === key) return false;
  shown.set(element, key);
  element.replaceChildren(...make(data));
  return true;
}

export function byId(id) {
  return document.getElementById(id);
}
