// What stopping at each depth brings: the middle, the band of nine in ten, and
// where the advice most likely stops. Beside it the chance of going through.

import { s, fitted } from "../dom.js";
import { T } from "../strings.js";
import { mm, money, number, percent } from "../format.js";
import { anchorAt, rangeOf, scaler, ticks } from "./axis.js";

export function depthCurve(facing, currency) {
  const { curve } = facing;
  const label = T.wheel.curveLabel(mm(facing.stop_depth_mm["0.5"]), curve.map((v) => T.wheel.curveRow(mm(v.depth_mm), money(v.worth.mean, currency), percent(v.through))).join(" "));
  return fitted((width) => draw(facing, currency, width, label));
}

function draw({ curve, stop_depth_mm: stop }, currency, width, label) {
  const pad = { left: 12, right: 12, top: 30, bottom: 52 };
  const height = Math.min(320, Math.max(220, 0.62 * width));
  const depths = curve.map((v) => v.depth_mm);
  const span = [depths[0], Math.max(depths.at(-1), depths[0] + 0.1)];
  const x = scaler(span, pad.left, width - pad.right);
  const money_range = rangeOf(curve.flatMap((v) => [v.worth["0.05"], v.worth["0.95"]]), 0.05);
  const base = height - pad.bottom;
  const y = scaler(money_range, base, pad.top);
  const line = (get) => curve.map((v) => `${x(v.depth_mm).toFixed(1)},${y(get(v)).toFixed(1)}`);
  const band = [...line((v) => v.worth["0.95"]), ...line((v) => v.worth["0.05"]).reverse()];
  const [from, middle, to] = ["0.05", "0.5", "0.95"].map((p) => Math.min(span[1], Math.max(span[0], stop[p])));
  return s("svg", { class: "curve", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": label },
    s("rect", { class: "stop-band", x: x(from), y: pad.top - 4, width: Math.max(2, x(to) - x(from)), height: base - pad.top + 4 }),
    s("path", { class: "band", d: `M${band.join("L")}Z` }),
    ticks(...money_range, 4).map((v) => [
      s("line", { class: "rule", x1: pad.left, x2: width - pad.right, y1: y(v), y2: y(v) }),
      s("text", { class: "tick", x: pad.left, y: y(v) - 4 }, `${currency} ${number(v, 0)}`),
    ]),
    s("path", { class: "middle", d: `M${line((v) => v.worth.mean).join("L")}` }),
    s("line", { class: "stop", x1: x(middle), x2: x(middle), y1: pad.top - 8, y2: base }),
    s("text", { class: "stop-label", x: x(middle), y: 16, "text-anchor": x(middle) < 90 ? "start" : x(middle) > width - 90 ? "end" : "middle" }, T.wheel.stopAbout(mm(stop["0.5"]))),
    s("line", { class: "axis", x1: pad.left, x2: width - pad.right, y1: base, y2: base }),
    ticks(...span, width / 80).map((v) => [
      s("line", { class: "axis", x1: x(v), x2: x(v), y1: base, y2: base + 5 }),
      s("text", { class: "tick", x: x(v), y: base + 22, "text-anchor": anchorAt(x(v), width) }, number(v, span[1] < 1 ? 2 : 1)),
    ]),
    s("text", { class: "tick", x: width / 2, y: height - 8, "text-anchor": "middle" }, T.wheel.curveAxis));
}
