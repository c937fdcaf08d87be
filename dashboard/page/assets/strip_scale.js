// Where a frequency lies in a band's strip. Uplink and downlink may lie far apart: then the strip
// shows two stretches with a break between them, so that neither is squeezed to a line.

const LEAST_MARGIN_MHZ = 6; // a dip on its way in is seen before it arrives
const MARGIN = 0.25; // of the widest link, on either side
const BREAK_PX = 14;

export function stretchesOf(links) {
  const widest = Math.max(...links.map((link) => link.high_mhz - link.low_mhz));
  const total = links.reduce((sum, link) => sum + link.high_mhz - link.low_mhz, 0);
  const margin = Math.max(MARGIN * widest, LEAST_MARGIN_MHZ);
  const stretches = [];
  for (const link of [...links].sort((a, b) => a.low_mhz - b.low_mhz)) {
    const last = stretches.at(-1);
    if (last && link.low_mhz - last.high < Math.max(total, 2 * margin)) {
      last.high = Math.max(last.high, link.high_mhz);
    } else {
      stretches.push({ low: link.low_mhz, high: link.high_mhz });
    }
  }
  return stretches.map(({ low, high }) => ({ low: low - margin, high: high + margin }));
}

// Lays the stretches side by side between two x positions, each as wide as it spans frequencies.
export function placed(stretches, left, right) {
  const span = stretches.reduce((sum, { low, high }) => sum + high - low, 0);
  const room = right - left - BREAK_PX * (stretches.length - 1);
  let x = left;
  return stretches.map(({ low, high }) => {
    const width = (room * (high - low)) / span;
    const scale = { low, high, left: x, right: x + width };
    scale.x = (mhz) => scale.left + ((mhz - low) / (high - low)) * width;
    x += width + BREAK_PX;
    return scale;
  });
}

// The index of the first point at or above a frequency.
export function firstAtOrAbove(gridMhz, mhz) {
  let low = 0;
  let high = gridMhz.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (gridMhz[middle] < mhz) low = middle + 1;
    else high = middle;
  }
  return low;
}

// An SVG path of a trace over one stretch, from edge to edge.
export function pathOf(gridMhz, values, scale, y) {
  const first = firstAtOrAbove(gridMhz, scale.low);
  const last = firstAtOrAbove(gridMhz, scale.high);
  const points = [between(gridMhz, values, first, scale.low)];
  for (let i = first; i < last; i += 1) points.push([gridMhz[i], values[i]]);
  points.push(between(gridMhz, values, last, scale.high));
  let path = "";
  let pen = "M";
  for (const [mhz, value] of points) {
    if (value === null) {
      pen = "M"; // not measured here: the pen is lifted
      continue;
    }
    path += `${pen}${scale.x(mhz).toFixed(1)} ${y(value).toFixed(1)}`;
    pen = "L";
  }
  return path;
}

// The trace at a frequency that lies before point i; null outside of what was swept.
function between(gridMhz, values, i, mhz) {
  const [before, after] = [values[i - 1] ?? null, values[i] ?? null];
  if (before === null || after === null) return [mhz, null];
  const part = (mhz - gridMhz[i - 1]) / (gridMhz[i] - gridMhz[i - 1]);
  return [mhz, before + part * (after - before)];
}
