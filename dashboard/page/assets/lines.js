// Every link as one line: mark, name, a small curve, the worst point, and the margin with its
// uncertainty on one scale that all lines share. The worst stands first. Lines that do not fit
// beneath each other stand in columns, and a narrow column leaves out what can be read elsewhere.

import { html, say, showing, svg } from "./element.js";
import { shape } from "./marks.js";
import { METRICS, curve } from "./metrics.js";
import { firstAtOrAbove } from "./strip_scale.js";
import { rateOf } from "./strips.js";

const SCALE_DB = 10; // the common scale runs so far to either side of the limit
const SWAP_DB = 0.3; // two lines change places where they differ by more
const [WIDE, HIGH] = [100, 24]; // of a small curve, in its own units
const AROUND = 0.35; // so much of a link's width is shown on either side of it
const DEEPEST_DB = 24;
const OLD_S = 1.5;
const ROW_EM = 1.1; // the least height of a line
const MOST_COLUMNS = 3;
const ROOM_EM = { all: 36, curve: 22, whisker: 17 }; // a column so wide has room for as much
const COUNTED = ["fail", "conditional fail", "not measured", "conditional pass", "pass", "withheld"];

export class Lines {
  #rows;
  #order;
  #count = html("span", { class: "count" });
  #list = html("ul", {});
  #resized = new ResizeObserver(() => this.#arrange());

  constructor(bands, pick) {
    this.#rows = bands.flatMap((band) => band.links.map((link) => new Line(band, link, pick)));
    this.#order = this.#rows.map((_, i) => i);
    this.panel = html(
      "section",
      { class: "lines", "aria-label": "All links, the worst first" },
      html("header", {}, this.#count, html("span", { class: "scale", "aria-hidden": "true" }, `Scale: ±${SCALE_DB} dB round the limit`)),
      this.#list,
    );
    this.#list.append(...this.#rows.map((row) => row.item));
    this.#resized.observe(this.#list);
  }

  stop() {
    this.#resized.disconnect();
  }

  // As few columns as show every line, and lines shared evenly among them.
  #arrange() {
    const em = parseFloat(getComputedStyle(this.#list).fontSize);
    const most = Math.max(Math.floor(this.#list.clientHeight / (ROW_EM * em)), 1);
    const columns = Math.min(Math.ceil(this.#rows.length / most), MOST_COLUMNS);
    const wide = this.#list.clientWidth / columns / em;
    this.#list.dataset.columns = columns;
    this.#list.style.setProperty("--rows", Math.ceil(this.#rows.length / columns));
    this.#list.dataset.room = Object.keys(ROOM_EM).find((name) => wide >= ROOM_EM[name]) ?? "least";
  }

  show(bands, frame, large) {
    const links = bands.flatMap((band) => band.links.map((link) => ({ band, link })));
    links.forEach(({ band, link }, i) => this.#rows[i].show(band, link, frame, band.name === large));
    this.#sort(links.map(({ link }) => rateOf(link)));
    say(this.#count, counted(links.map(({ link }) => link)));
  }

  // Neighbours change places only where they differ by more than noise does.
  #sort(rates) {
    const order = [...this.#order];
    for (let i = 1; i < order.length; i += 1) {
      for (let k = i; k > 0 && rates[order[k]] < rates[order[k - 1]] - SWAP_DB; k -= 1) {
        [order[k - 1], order[k]] = [order[k], order[k - 1]];
      }
    }
    if (order.every((row, i) => row === this.#order[i])) return;
    this.#order = order;
    const focused = document.activeElement;
    this.#list.append(...order.map((row) => this.#rows[row].item));
    if (this.#list.contains(focused)) focused.focus({ preventScroll: true });
  }
}

function counted(links) {
  const parts = COUNTED.map((state) => [state, links.filter((link) => link.state === state)])
    .filter(([, found]) => found.length > 0)
    .map(([state, found]) => (state === "withheld" ? found[0].instead : `${found.length} ${state}`));
  return `${links.length} ${links.length === 1 ? "link" : "links"}: ${[...new Set(parts)].join(", ")}`;
}

class Line {
  constructor(band, link, pick) {
    this.state = html("span", { class: "state" });
    this.age = html("small", { class: "age" });
    this.worst = html("span", { class: "worst" });
    this.margin = html("span", { class: "margin" });
    this.interval = html("i", { class: "interval" });
    this.dot = html("i", { class: "dot" });
    this.whisker = html("span", { class: "whisker", "aria-hidden": "true" }, this.interval, this.dot);
    this.trace = svg("path", { class: "trace" });
    const width = link.high_mhz - link.low_mhz;
    this.low = link.low_mhz - AROUND * width;
    this.high = link.high_mhz + AROUND * width;
    const [left, right] = [link.low_mhz, link.high_mhz].map((mhz) => this.#x(mhz));
    const limit = y(METRICS.loss.of(link.limit.reflection));
    this.plot = svg(
      "svg",
      { class: "small", viewBox: `0 0 ${WIDE} ${HIGH}`, preserveAspectRatio: "none", "aria-hidden": "true" },
      svg("rect", { class: "blocked", x: left, y: 0, width: right - left, height: limit }),
      svg("line", { class: "limit", x1: left, x2: right, y1: limit, y2: limit }),
      this.trace,
    );
    this.button = html(
      "button",
      { type: "button", title: band.note || null },
      this.state, title(band.name, link.link), this.age, this.plot, this.worst, this.whisker, this.margin,
    );
    this.button.addEventListener("click", () => pick(band.name));
    this.item = html("li", { class: "strip", "data-band": band.name, "data-link": link.link }, this.button);
  }

  show(band, link, frame, large) {
    const { state, words, instead, worst, margin, margin_with_doubt: full, margin_db: db, doubt_db: doubt, trust } = link;
    this.item.dataset.state = state;
    this.item.dataset.judged = db !== null;
    this.button.setAttribute("aria-pressed", large);
    const old = band.age_s !== null && band.age_s > OLD_S;
    say(this.age, old ? `${Math.round(band.age_s)} s old` : "");
    showing(this.state, [state, words], () => [shape(state), html("span", { class: "overall only-spoken" }, words)]);
    const unknown = state === "withheld" || state === "not measured" ? instead : words;
    say(this.worst, worst?.words ?? (state === "not measured" && instead === "not judged yet" ? words : unknown));
    showing(this.margin, full ?? margin ?? "", (decibels) => withUnit(decibels));
    this.item.title = trust ?? link.reason ?? "";
    this.whisker.hidden = db === null;
    if (db !== null) {
      const off = doubt ?? 0;
      this.dot.style.left = `${across(db)}%`;
      this.interval.style.left = `${across(db - off)}%`;
      this.interval.style.width = `${across(db + off) - across(db - off)}%`;
    }
    this.trace.setAttribute("d", this.#path(frame));
  }

  #x(mhz) {
    return (WIDE * (mhz - this.low)) / (this.high - this.low);
  }

  #path({ gridMhz, trace }) {
    if (!gridMhz || !trace) return "";
    const first = Math.max(firstAtOrAbove(gridMhz, this.low) - 1, 0);
    const last = Math.min(firstAtOrAbove(gridMhz, this.high) + 1, gridMhz.length);
    const values = curve(trace.subarray(2 * first, 2 * last), METRICS.loss);
    let path = "";
    let pen = "M";
    values.forEach((value, i) => {
      if (value === null) {
        pen = "M";
        return;
      }
      path += `${pen}${this.#x(gridMhz[first + i]).toFixed(1)} ${y(value).toFixed(1)}`;
      pen = "L";
    });
    return path;
  }
}

function title(band, link) {
  const [word, short] = { uplink: ["uplink", "up"], downlink: ["downlink", "down"] }[link] ?? [];
  const words = word ? [" ", html("span", { class: "in-full" }, word), html("span", { class: "in-short" }, short)] : [];
  return html("span", { class: "name" }, html("b", {}, band), ...words);
}

// The unit apart, for a narrow column leaves it out.
function withUnit(decibels) {
  const [figures, unit] = decibels.split(/(?= dB$)/);
  return [figures, unit ? html("span", { class: "unit" }, unit) : ""];
}

function y(decibels) {
  return Math.min(Math.max((HIGH * decibels) / DEEPEST_DB, 0.5), HIGH - 0.5);
}

function across(decibels) {
  return 50 + (50 * Math.max(Math.min(decibels, SCALE_DB), -SCALE_DB)) / SCALE_DB;
}
