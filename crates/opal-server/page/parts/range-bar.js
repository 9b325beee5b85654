// A spread by its five figures: a thin line for nine in ten, a thick one for every
// second, a mark in the middle.

import { s, fitted } from "../dom.js";
import { anchorAt, ticks, rangeOf, scaler } from "./axis.js";

/** `quantiles`: by level, as the server's documents have them (`"0.05"` to `"0.95"`). */
export function rangeBar(quantiles, { label, format, mark }) {
  const [low, quarter, middle, upper, high] = ["0.05", "0.25", "0.5", "0.75", "0.95"].map((level) => quantiles[level]);
  return fitted((width) => {
    const pad = 14, line = 22, base = 44;
    const span = rangeOf([0, high, ...(mark ? [mark.at] : [])]);
    const x = scaler(span, pad, width - pad);
    return s("svg", { class: "range-bar", viewBox: `0 0 ${width} 72`, width, height: 72, role: "img", "aria-label": label },
      s("line", { class: "axis", x1: pad, x2: width - pad, y1: base, y2: base }),
      ticks(...span, width / 75).map((v) => [
        s("line", { class: "axis", x1: x(v), x2: x(v), y1: base, y2: base + 5 }),
        s("text", { class: "tick", x: x(v), y: base + 20, "text-anchor": anchorAt(x(v), width) }, format(v)),
      ]),
      s("line", { class: "nine", x1: x(low), x2: x(high), y1: line, y2: line }),
      s("line", { class: "half", x1: x(quarter), x2: x(upper), y1: line, y2: line }),
      s("circle", { class: "mean", cx: x(middle), cy: line, r: 6 }),
      mark && [s("line", { class: "mark", x1: x(mark.at), x2: x(mark.at), y1: 4, y2: base }), s("text", { class: "mark-label", x: x(mark.at) + (x(mark.at) > width - 60 ? -6 : 6), y: 12, "text-anchor": x(mark.at) > width - 60 ? "end" : "start" }, mark.label)]);
  });
}
