// One message of the feed: the header's length (uint32), a JSON header padded to four bytes,
// then float32 parts, little-endian throughout. Parts that rarely change (the grid, a held
// trace) are sent once under an id and kept here until the header names another one.

const keptParts = new Map();

export function forgetParts() {
  keptParts.clear();
}

export function decode(buffer) {
  const length = new DataView(buffer).getUint32(0, true);
  const text = new TextDecoder().decode(new Uint8Array(buffer, 4, length));
  const header = JSON.parse(text);
  let offset = 4 + length;
  const arrays = {};
  for (const { name, id, count } of header.parts) {
    const values = new Float32Array(buffer.slice(offset, offset + 4 * count));
    offset += 4 * count;
    arrays[name] = values;
    if (id !== null) keptParts.set(name, { id, values });
  }
  return {
    header,
    gridMhz: kept("grid", header.grid),
    trace: arrays.trace ?? null,
    held: kept(`hold${header.hold?.number}`, header.hold?.id ?? null),
    helds: header.holds
      .map(({ number, name, id }) => ({ number, name, values: kept(`hold${number}`, id) }))
      .filter(({ values }) => values !== null),
    interval: arrays.interval ?? null, // (low, high) pairs of sizes, one a point
    history: kept("history", header.tuning?.history ?? null),
    after: kept("after", header.tuning?.after ?? null),
    floor: kept("floor", header.trust?.id ?? null),
  };
}

function kept(name, id) {
  const part = keptParts.get(name);
  return id !== null && part?.id === id ? part.values : null;
}
