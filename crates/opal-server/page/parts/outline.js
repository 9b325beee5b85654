// Marking sightings by touching the outline of the stone from above.

import { h, s, fitted } from "../dom.js";
import { T } from "../strings.js";
import { number } from "../format.js";

/** How near to the edge a touch counts as on it, as a share of the half-sizes. */
const SNAP = 0.16;

/**
 * `size()` gives length and width in mm; `list()` the sightings, each with
 * `at: [x, y]` and `kind`; `points` the outline in mm where it was traced; `add(at)` takes a new one; `pick(index)` chooses one.
 */
export function outline({ size, points, list, chosen, add, pick }) {
  const box = fitted((width) => {
    const [length, breadth] = size();
    const pad = 34;
    const scale = Math.min((width - 2 * pad) / length, 380 / breadth);
    const height = breadth * scale + 2 * pad;
    const left = (width - length * scale) / 2;
    const px = (x) => left + x * scale;
    const py = (y) => height - pad - y * scale;
    const svg = s("svg", { class: "outline", viewBox: `0 0 ${width} ${height}`, width, height, role: "group", "aria-label": T.takeIn.outlineLabel },
      s("path", { class: "ground", d: (points ?? ring(length, breadth)).map(([x, y], k) => `${k ? "L" : "M"}${px(x)},${py(y)}`).join("") + "Z" }),
      s("text", { class: "tick", x: width / 2, y: height - 8, "text-anchor": "middle" }, T.takeIn.lengthMark(number(length, 1))),
      s("text", { class: "tick", x: 14, y: height / 2, "text-anchor": "middle", transform: `rotate(-90 14 ${height / 2})` }, T.takeIn.widthMark(number(breadth, 1))),
      list().map((seen, k) => {
        const mark = s("g", {
          class: `place ${seen.kind}${k === chosen() ? " chosen" : ""}`,
          transform: `translate(${px(seen.at[0])} ${py(seen.at[1])})`, tabindex: 0, role: "button",
          "aria-label": T.takeIn.placeLabel(k + 1, T.takeIn.seen[seen.kind]),
        }, s("circle", { class: "reach", r: 24 }), shape(seen.kind), s("text", { y: 5, "text-anchor": "middle" }, k + 1));
        const choose = (e) => { e.stopPropagation(); pick(k); };
        mark.addEventListener("pointerdown", choose);
        mark.addEventListener("keydown", (e) => { if (e.key === "Enter" || e.key === " ") { e.preventDefault(); choose(e); } });
        return mark;
      }));
    svg.addEventListener("click", (e) => {
      if (e.target.closest(".place")) return;
      const r = svg.getBoundingClientRect();
      const at = snapped((e.clientX - r.left - left) / scale, (r.height - pad - (e.clientY - r.top)) / scale, length, breadth, points);
      if (at) add(at);
    });
    return svg;
  }, { class: "fitted outline-box" });
  return box;
}

// A mark's shape tells what was seen as well as its colour does.
function shape(kind) {
  if (kind === "absent") return s("rect", { class: "disc", x: -14, y: -14, width: 28, height: 28 });
  if (kind === "at_least") return s("path", { class: "disc", d: "M0,-18L17,13H-17Z" });
  return s("circle", { class: "disc", r: 15 });
}

/** The outline that stands for the stone until it is traced: a rounded oblong. */
export function ring(length, breadth) {
  const [a, b] = [length / 2, breadth / 2];
  return Array.from({ length: 90 }, (_, k) => {
    const t = (2 * Math.PI * k) / 90;
    return [a + a * power(Math.cos(t)), b + b * power(Math.sin(t))];
  });
}

// Near the outline that a calliper-measured stone of usual fill gets.
const ROUND = 0.9;
const power = (v) => Math.sign(v) * Math.abs(v) ** ROUND;

/** A place in the stone, pulled onto the edge when it is near; null far outside. */
function snapped(x, y, length, breadth, points) {
  if (points) return onTraced([x, y], points, SNAP * Math.min(length, breadth) / 2);
  const [a, b] = [length / 2, breadth / 2];
  const [u, v] = [(x - a) / a, (y - b) / b];
  const out = (Math.abs(u) ** (2 / ROUND) + Math.abs(v) ** (2 / ROUND)) ** (ROUND / 2);
  if (out > 1 + 2 * SNAP || out === 0) return out === 0 ? [a, b] : null;
  const k = out > 1 - SNAP ? 0.985 / out : 1;
  const tenth = (w) => Math.round(10 * w) / 10;
  return [tenth(a + a * u * k), tenth(b + b * v * k)];
}

/** The same on a traced outline: its nearest point within `reach` mm. */
function onTraced(at, points, reach) {
  let [best, away, inside] = [null, Infinity, false];
  points.forEach((p, k) => {
    const q = points[(k + 1) % points.length];
    const [dx, dy] = [q[0] - p[0], q[1] - p[1]];
    const t = Math.min(1, Math.max(0, ((at[0] - p[0]) * dx + (at[1] - p[1]) * dy) / (dx * dx + dy * dy || 1)));
    const on = [p[0] + t * dx, p[1] + t * dy];
    const far = Math.hypot(at[0] - on[0], at[1] - on[1]);
    if (far < away) [best, away] = [on, far];
    if ((p[1] > at[1]) !== (q[1] > at[1]) && at[0] < p[0] + ((at[1] - p[1]) / dy) * dx) inside = !inside;
  });
  const tenth = (v) => Math.round(10 * v) / 10;
  if (away < reach) return best.map(tenth);
  return inside ? at.map(tenth) : null;
}
