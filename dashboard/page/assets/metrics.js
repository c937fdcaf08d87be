// What a reflection is shown as. Return loss is positive; the axis runs downwards, so that a good
// match is a dip in every metric.

export const METRICS = {
  loss: {
    label: "Return loss, dB",
    top: 0,
    bottom: 36,
    ticks: [0, 10, 20, 30],
    of: (size) => -20 * Math.log10(size),
    tick: (value) => `${value}`,
    words: (value) => `${value.toFixed(1)} dB`,
  },
  vswr: {
    label: "VSWR",
    top: 5,
    bottom: 1,
    ticks: [5, 4, 3, 2, 1],
    of: (size) => (size < 1 ? (1 + size) / (1 - size) : Infinity),
    tick: (value) => `${value}`,
    words: (value) => `VSWR ${value.toFixed(2)}`,
  },
};

export const REFERENCE_OHM = 50;
export const OHM = { label: "R (solid), X (dashed), Ω", top: 200, bottom: -150, ticks: [0, 50, 100, -100, 200, 150, -50] };

// The size of the reflection at point i of a trace of (real, imaginary) pairs.
export function sizeAt(trace, i) {
  return Math.hypot(trace[2 * i], trace[2 * i + 1]);
}

// Normalised impedance z = (1 + G) / (1 - G). Near G = 1 there is no finite z.
export function impedanceAt(trace, i) {
  const re = trace[2 * i];
  const im = trace[2 * i + 1];
  const below = (1 - re) ** 2 + im ** 2;
  if (!(below > 1e-6)) return [null, null];
  return [(1 - re * re - im * im) / below, (2 * im) / below];
}

// Resistance and reactance of every point, ohm; null where there is none.
export function ohmCurves(trace) {
  const points = trace.length / 2;
  const [resistance, reactance] = [new Array(points), new Array(points)];
  for (let i = 0; i < points; i += 1) {
    const [r, x] = impedanceAt(trace, i);
    const known = Number.isFinite(r) && Number.isFinite(x);
    resistance[i] = known ? r * REFERENCE_OHM : null;
    reactance[i] = known ? x * REFERENCE_OHM : null;
  }
  return [resistance, reactance];
}

// The y value of every size, as the trust floor's.
export function sizesCurve(sizes, metric) {
  return Array.from(sizes, (size) => {
    const value = metric.of(size);
    return Number.isFinite(value) ? value : null;
  });
}

// The y value of every point, null where it was not measured.
export function curve(trace, metric) {
  const values = new Array(trace.length / 2);
  for (let i = 0; i < values.length; i += 1) {
    const value = metric.of(sizeAt(trace, i));
    values[i] = Number.isFinite(value) ? value : null;
  }
  return values;
}

// The y values of both ends of the interval; an end without bound lies beyond the scale's bottom.
export function intervalCurves(interval, metric) {
  const points = interval.length / 2;
  const [worse, better] = [new Array(points), new Array(points)];
  for (let i = 0; i < points; i += 1) {
    const [low, high] = [interval[2 * i], interval[2 * i + 1]];
    const known = Number.isFinite(low) && Number.isFinite(high);
    worse[i] = known ? bounded(metric.of(Math.min(high, 1)), metric) : null;
    better[i] = known ? bounded(metric.of(low), metric) : null;
  }
  return [worse, better];
}

function bounded(value, { top, bottom }) {
  if (Number.isFinite(value)) return value;
  return top > bottom ? top : bottom; // an infinite VSWR lies at the top, an infinite loss below
}
