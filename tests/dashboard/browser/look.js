// What the tests look at on a page that is open, and listen to.

// Visible texts whose contrast with what lies behind them is too small, by WCAG's relative luminance.
window.tooFaint = () => {
  const canvas = new OffscreenCanvas(1, 1).getContext("2d", { willReadFrequently: true });
  const rgba = (colour) => {
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = colour;
    canvas.fillRect(0, 0, 1, 1);
    const [r, g, b, a] = canvas.getImageData(0, 0, 1, 1).data;
    return [r, g, b, a / 255];
  };
  const over = ([r, g, b, a], [x, y, z]) => [r * a + x * (1 - a), g * a + y * (1 - a), b * a + z * (1 - a), 1];
  const ground = (element) => {
    if (element === null) return [255, 255, 255, 1];
    const own = rgba(getComputedStyle(element).backgroundColor);
    return own[3] >= 0.999 ? own : over(own, ground(element.parentElement));
  };
  const luminance = (colour) => {
    const [r, g, b] = colour.map((c) => (c / 255 <= 0.04045 ? c / 255 / 12.92 : ((c / 255 + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const found = [];
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node = walker.nextNode(); node; node = walker.nextNode()) {
    const element = node.parentElement;
    const style = getComputedStyle(element);
    const box = element.getBoundingClientRect();
    if (!node.data.trim() || !element.checkVisibility() || box.width < 2 || style.visibility !== "visible") continue;
    if (element.closest(":disabled, [aria-disabled=true], .only-spoken, .skip, .plot-box")) continue;
    const behind = ground(element);
    const ink = over(rgba(element.closest("svg") ? style.fill : style.color), behind);
    const [light, dark] = [luminance(ink), luminance(behind)].sort((a, b) => b - a);
    const size = parseFloat(style.fontSize);
    const large = size >= 24 || (size >= 18.66 && Number(style.fontWeight) >= 700);
    const ratio = (light + 0.05) / (dark + 0.05);
    if (ratio < (large ? 3 : 4.5)) found.push(`${node.data.trim().slice(0, 40)}: ${ratio.toFixed(2)}`);
  }
  return [...new Set(found)];
};

// Elements that move by themselves.
window.stillMoving = () => [...document.querySelectorAll("*")].filter((element) => {
  const style = getComputedStyle(element);
  const longest = (text) => Math.max(...text.split(",").map((each) => parseFloat(each) * (each.includes("ms") ? 1 : 1000)));
  const moves = style.animationName !== "none" && longest(style.animationDuration) > 1;
  return moves || longest(style.transitionDuration) > 1;
}).map((element) => element.id || element.getAttribute("class") || element.tagName);

// The texts an element has shown since, one after the other.
window.changesOf = (id) => {
  const changes = [];
  const element = document.getElementById(id);
  const whatever = { childList: true, characterData: true, subtree: true };
  new MutationObserver(() => changes.push(element.textContent)).observe(element, whatever);
  return changes;
};

// What the tone is told: its pitches, Hz, and its loudness.
window.pitches = [];
window.loudness = [];
const set = AudioParam.prototype.setTargetAtTime;
AudioParam.prototype.setTargetAtTime = function (value, ...rest) {
  (this.defaultValue === 440 ? window.pitches : window.loudness).push(value);
  return set.call(this, value, ...rest);
};

// Waits for a condition, looked at with every picture that is drawn: Playwright's own waiting makes
// code of a text, which the page's content policy forbids.
const PATIENCE_MS = 300_000;
window.until = (condition) =>
  new Promise((found, failed) => {
    const begun = performance.now();
    const look = () => {
      if (condition()) found();
      else if (performance.now() - begun > PATIENCE_MS) failed(new Error(`Not met: ${condition}`));
      else requestAnimationFrame(look);
    };
    look();
  });
