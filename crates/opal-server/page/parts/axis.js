// A number line.

/** Round steps that cut a range into about `wanted` parts. */
export function ticks(low, high, wanted) {
  const raw = (high - low) / Math.max(1, wanted);
  if (!(raw > 0)) return [low];
  const power = 10 ** Math.floor(Math.log10(raw));
  const step = power * ([1, 2, 5, 10].find((m) => m * power >= raw) ?? 10);
  const out = [];
  for (let v = Math.ceil(low / step) * step; v <= high + 1e-9 * step; v += step) {
    out.push(Math.abs(v) < 1e-9 * step ? 0 : v);
  }
  return out;
}

/** A range that holds all values, with a little air at both ends. */
export function rangeOf(values, air = 0.06) {
  let [low, high] = [Math.min(...values), Math.max(...values)];
  if (!(high > low)) { low -= 0.5; high += 0.5; }
  const more = air * (high - low);
  return [low - more, high + more];
}

/** Keeps the outermost labels of a number line on the drawing. */
export const anchorAt = (x, width) => (x < 22 ? "start" : x > width - 22 ? "end" : "middle");

export const scaler = ([low, high], from, to) => (v) => from + ((v - low) / (high - low)) * (to - from);
