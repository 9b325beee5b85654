// A spread as twenty dots, each one chance in twenty. Dots below a mark (a loss,
// say) are hollow squares, so that colour is never alone in telling.

import { s, fitted } from "../dom.js";
import { anchorAt, ticks, rangeOf, scaler } from "./axis.js";

/**
 * `figure`: as the server sends it. `mark`: a value to draw a line at, with its
 * label; dots below it are drawn as the bad kind when `badBelow`.
 */
export function dots(figure, { label, format, mark, badBelow = false, range }) {
  return fitted((width) => draw(figure, width, { label, format, mark, badBelow, range }));
}

/** Tallest heap of dots, in pixels, before the dots get smaller. */
const TALLEST = 130;

/** Heaps the dots in columns one dot wide. */
function heap(values, x, size, pad, width) {
  const columns = new Map();
  const placed = values.map((v) => {
    const column = Math.round(x(v) / size);
    const level = columns.get(column) ?? 0;
    columns.set(column, level + 1);
    return { v, cx: Math.min(width - pad, Math.max(pad, column * size)), level };
  });
  return { placed, tallest: Math.max(...columns.values()) };
}

function draw(figure, width, { label, format, mark, badBelow, range }) {
  const pad = 14;
  const held = mark ? [...figure.dots, mark.at] : figure.dots;
  const span = range ?? rangeOf(held);
  const x = scaler(span, pad, width - pad);
  let size = Math.max(10, Math.min(18, (width - 2 * pad) / 14));
  let { placed, tallest } = heap(figure.dots, x, size, pad, width);
  while (tallest * size > TALLEST && size > 6) {
    size *= 0.85;
    ({ placed, tallest } = heap(figure.dots, x, size, pad, width));
  }
  const top = mark ? 22 : 6;
  const base = top + tallest * size + 2;
  const height = base + 30;
  return s("svg", { class: "dots", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": label },
    s("line", { class: "axis", x1: pad, x2: width - pad, y1: base, y2: base }),
    ticks(...span, width / 65).map((v) => [
      s("line", { class: "axis", x1: x(v), x2: x(v), y1: base, y2: base + 5 }),
      s("text", { class: "tick", x: x(v), y: base + 20, "text-anchor": anchorAt(x(v), width) }, format(v)),
    ]),
    placed.map(({ v, cx, level }) => {
      const cy = base - size * (level + 0.5) - 1;
      const r = size * 0.42;
      return badBelow && mark && v < mark.at
        ? s("rect", { class: "dot bad", x: cx - r + 1, y: cy - r + 1, width: 2 * r - 2, height: 2 * r - 2 })
        : s("circle", { class: "dot", cx, cy, r });
    }),
    mark && [
      s("line", { class: "mark", x1: x(mark.at), x2: x(mark.at), y1: 16, y2: base + 5 }),
      s("text", {
        class: "mark-label", y: 12, x: x(mark.at),
        "text-anchor": x(mark.at) < width * 0.25 ? "start" : x(mark.at) > width * 0.75 ? "end" : "middle",
      }, mark.label),
    ]);
}
