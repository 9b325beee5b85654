// A spread as a strip: thick where it is likely. For setting several under one
// another on one number line.

import { s, fitted } from "../dom.js";
import { anchorAt, ticks, scaler } from "./axis.js";

/**
 * `rows`: `{ name, figure, strong }`. `range`: of the number line.
 */
export function strips(rows, { label, format, range, zero = false }) {
  return fitted((width) => draw(rows, width, { label, format, range, zero }));
}

function draw(rows, width, { label, format, range, zero }) {
  const pad = 10;
  const rowHeight = 50;
  const x = scaler(range, pad, width - pad);
  const base = rows.length * rowHeight + 4;
  const height = base + 26;
  return s("svg", { class: "strips", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": label },
    zero && range[0] < 0 && range[1] > 0 && s("line", { class: "zero", x1: x(0), x2: x(0), y1: 0, y2: base }),
    rows.map(({ name, figure, strong }, k) => {
      const middle = k * rowHeight + 34;
      return s("g", { class: strong ? "strip strong" : "strip" },
        s("text", { class: "strip-name", x: pad, y: middle - 17 }, name),
        s("text", { class: "strip-value", x: width - pad, y: middle - 17, "text-anchor": "end" }, format(figure.mean)),
        s("path", { class: "density", d: outline(figure.dots, range, x, middle, 9) }),
        s("line", { class: "whisker", x1: x(figure.quantiles["0.05"]), x2: x(figure.quantiles["0.95"]), y1: middle, y2: middle }),
        s("circle", { class: "mean", cx: x(figure.mean), cy: middle, r: 4.5 }));
    }),
    s("line", { class: "axis", x1: pad, x2: width - pad, y1: base, y2: base }),
    ticks(...range, width / 75).map((v) => [
      s("line", { class: "axis", x1: x(v), x2: x(v), y1: base, y2: base + 5 }),
      s("text", { class: "tick", x: x(v), y: base + 19, "text-anchor": anchorAt(x(v), width) }, format(v)),
    ]));
}

/** A mirrored density: normal kernels on the twenty values, Silverman's width (1986, eq. 3.31). */
function outline(values, [low, high], x, middle, half) {
  const n = values.length;
  const mean = values.reduce((a, b) => a + b, 0) / n;
  const sd = Math.sqrt(values.reduce((a, v) => a + (v - mean) ** 2, 0) / (n - 1));
  const quartiles = (values[Math.floor(0.75 * n)] - values[Math.floor(0.25 * n)]) / 1.34;
  const spread = Math.min(sd, quartiles > 0 ? quartiles : sd);
  const width = Math.max(0.9 * spread * n ** -0.2, (high - low) * 0.008);
  const from = Math.max(low, values[0] - 2 * width);
  const to = Math.min(high, values[n - 1] + 2 * width);
  const points = [];
  for (let k = 0; k <= 60; k++) {
    const v = from + ((to - from) * k) / 60;
    points.push([v, values.reduce((a, u) => a + Math.exp(-0.5 * ((v - u) / width) ** 2), 0)]);
  }
  const most = Math.max(...points.map((p) => p[1]));
  const at = ([v, d], sign) => `${x(v).toFixed(1)},${(middle - (sign * half * d) / most).toFixed(1)}`;
  return `M${points.map((p) => at(p, 1)).join("L")}L${points.reverse().map((p) => at(p, -1)).join("L")}Z`;
}
