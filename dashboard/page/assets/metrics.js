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
  },
  vswr: {
    label: "VSWR",
    top: 5,
    bottom: 1,
    ticks: [5, 4, 3, 2, 1],
    of: (size) => (size < 1 ? (1 + size) / (1 - size) : Infinity),
    tick: (value) => `${value}`,
  },
};

export const REFERENCE_OHM = 50;

// The size of the reflection at point i of a trace of (real, imaginary) pairs.
export function sizeAt(trace, i) {
  return Math.hypot(trace[2 * i], trace[2 * i + 1]);
}

// Normalised impedance z = (1 + G) / (1 - G), which is what Plotly's Smith chart wants: given G
// itself it draws a wrong picture without a word. Near G = 1 there is no finite z.
export function impedanceAt(trace, i) {
  const re = trace[2 * i];
  const im = trace[2 * i + 1];
  const below = (1 - re) ** 2 + im ** 2;
  if (!(below > 1e-6)) return [null, null];
  return [(1 - re * re - im * im) / below, (2 * im) / below];
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
