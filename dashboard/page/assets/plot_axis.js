// The frequency axis of a wide plot: broken where nothing was swept, and enlarged at will.
//
// Stretches lie side by side. A narrow one gets more room than its share, so that it stays a
// picture; along all of them runs one coordinate from 0 to 1, in which a window is enlarged and
// moved.

export const GAP_MHZ = 30; // points further apart are not joined by a line: nothing was swept there
const LEAST_SHARE = 0.07; // of the width, for one stretch
const BREAK_PX = 16;
const LEAST_WINDOW = 0.004;
export const ALL = Object.freeze({ from: 0, to: 1 });

// What was swept, in unbroken stretches; before the first sweep, where the bands lie.
export function sweptStretches(gridMhz, links) {
  if (gridMhz?.length > 1) {
    const found = [{ low: gridMhz[0], high: gridMhz[0] }];
    for (let i = 1; i < gridMhz.length; i += 1) {
      if (gridMhz[i] - gridMhz[i - 1] > GAP_MHZ) found.push({ low: gridMhz[i], high: gridMhz[i] });
      found.at(-1).high = gridMhz[i];
    }
    return found.filter(({ low, high }) => high > low);
  }
  const edges = links.flatMap(({ low_mhz, high_mhz }) => [low_mhz, high_mhz]);
  return edges.length ? [{ low: 0.85 * Math.min(...edges), high: 1.15 * Math.max(...edges) }] : [{ low: 690, high: 2700 }];
}

export class Axis {
  // window : part of the coordinate that is seen, {from, to} within 0 to 1.
  constructor(stretches, window, left, right) {
    const total = stretches.reduce((sum, { low, high }) => sum + high - low, 0);
    const weights = stretches.map(({ low, high }) => Math.max(high - low, LEAST_SHARE * total));
    const whole = weights.reduce((sum, weight) => sum + weight, 0);
    let at = 0;
    this.whole = stretches.map(({ low, high }, i) => {
      const piece = { low, high, from: at, to: at + weights[i] / whole };
      at = piece.to;
      return piece;
    });
    const seen = this.whole.filter(({ from, to }) => to > window.from && from < window.to);
    this.window = window;
    this.left = left;
    this.right = right;
    const px = (right - left - BREAK_PX * (seen.length - 1)) / (window.to - window.from);
    let x = left;
    this.pieces = seen.map(({ low, high, from, to }) => {
      const mhz = (u) => low + ((u - from) / (to - from)) * (high - low);
      const [u0, u1] = [Math.max(from, window.from), Math.min(to, window.to)];
      const piece = { low: mhz(u0), high: mhz(u1), left: x, right: x + px * (u1 - u0), u0, u1 };
      piece.x = (at_mhz) => piece.left + ((at_mhz - piece.low) / (piece.high - piece.low)) * (piece.right - piece.left);
      x = piece.right + BREAK_PX;
      return piece;
    });
  }

  pieceOf(mhz) {
    return this.pieces.find(({ low, high }) => mhz >= low && mhz <= high) ?? null;
  }

  // Where a frequency lies; null where it is not seen.
  x(mhz) {
    return this.pieceOf(mhz)?.x(mhz) ?? null;
  }

  // The frequency under a place; the nearest that is seen where it lies in a break.
  mhz(x) {
    const apart = ({ left, right }) => Math.max(left - x, x - right, 0);
    const piece = [...this.pieces].sort((a, b) => apart(a) - apart(b))[0];
    const part = Math.min(Math.max((x - piece.left) / (piece.right - piece.left), 0), 1);
    return piece.low + part * (piece.high - piece.low);
  }

  // The coordinate under a place.
  u(x) {
    const mhz = this.mhz(x);
    const { low, high, from, to } = this.whole.find((piece) => mhz >= piece.low && mhz <= piece.high);
    return from + ((mhz - low) / (high - low)) * (to - from);
  }
}

// The window enlarged by a factor, what lies at `u` staying where it is; smaller than 1 shrinks.
export function zoomed({ from, to }, factor, u = (from + to) / 2) {
  const width = Math.max((to - from) / factor, LEAST_WINDOW);
  if (width >= 1) return ALL;
  const start = u - ((u - from) / (to - from)) * width;
  return within(start, width);
}

// The window moved along by a part of its width.
export function moved({ from, to }, part) {
  return within(from + part * (to - from), to - from);
}

export function between(one, other) {
  const [from, to] = [Math.min(one, other), Math.max(one, other)];
  return within(from, Math.max(to - from, LEAST_WINDOW));
}

function within(start, width) {
  const from = Math.min(Math.max(start, 0), 1 - width);
  return { from, to: from + width };
}

// Round values between two, at most so many: steps of 1, 2 or 5 times a power of ten.
export function roundTicks(low, high, most) {
  const least = (high - low) / Math.max(most, 1);
  const power = 10 ** Math.floor(Math.log10(least));
  const step = [1, 2, 5, 10].map((each) => each * power).find((each) => each >= least * (1 - 1e-9));
  const found = [];
  for (let i = Math.ceil(low / step - 1e-9); i * step <= high * (1 + 1e-12); i += 1) found.push(+(i * step).toPrecision(12));
  return found;
}

// Puts each name into the first row where it does not touch the one before; a name that finds no
// room is left out. named : [{name, x}], px.
export function inRows(named, rows, left, right, letterPx = 6.6) {
  const ends = new Array(rows).fill(-Infinity);
  const found = [];
  for (const each of [...named].sort((a, b) => a.x - b.x)) {
    const half = (each.name.length * letterPx) / 2 + 4;
    const x = Math.min(Math.max(each.x, left + half), right - half);
    if (Math.abs(x - each.x) > half) continue;
    const row = ends.findIndex((end) => end <= x - half);
    if (row === -1) continue;
    ends[row] = x + half;
    found.push({ ...each, x, row });
  }
  return found;
}
