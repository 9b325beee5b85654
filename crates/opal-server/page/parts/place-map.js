// The stone from above as it is now; one touch says where.

import { h, s, fitted } from "../dom.js";
import { T } from "../strings.js";
import { number } from "../format.js";

const TALLEST = 300, TALLEST_FIXED = 140;

/** The box around all outlines. */
function boxOf(outlines) {
  const low = [Infinity, Infinity], high = [-Infinity, -Infinity];
  for (const point of outlines.flat()) for (const axis of [0, 1]) {
    low[axis] = Math.min(low[axis], point[axis]);
    high[axis] = Math.max(high[axis], point[axis]);
  }
  return { low, high };
}

/**
 * `places`: how many touches are wanted, 1 or 2; `fixed`: only to be looked at. Gives `{ element, at() }`: the
 * places touched; the middle of the stone stands until a first touch.
 */
export function placeMap({ page, label, places = 1, at: first, reach, oninput, fixed = false }) {
  const { low, high } = boxOf(page.outlines_mm);
  const middle = [0, 1].map((axis) => (low[axis] + high[axis]) / 2);
  let touched = first ? [first] : [];
  const at = () => (touched.length > 0 ? touched : [middle]);
  const told = h("p", { class: "told", role: "status" });
  const say = () => { told.textContent = at().map((p) => T.wheel.placeSaid(...p.map((v) => number(v, 1)))).join("; "); };
  const set = (point) => {
    const inside = point.map((v, axis) => Math.round(10 * Math.min(high[axis], Math.max(low[axis], v))) / 10);
    touched = places === 1 ? [inside] : [...touched, inside].slice(-places);
    say();
    drawing.redraw();
    oninput?.();
  };
  const drawing = fitted((width) => {
    const pad = 16;
    const scale = Math.min((width - 2 * pad) / (high[0] - low[0]), ((fixed ? TALLEST_FIXED : TALLEST) - 2 * pad) / (high[1] - low[1]));
    const height = (high[1] - low[1]) * scale + 2 * pad;
    const left = (width - (high[0] - low[0]) * scale) / 2;
    const px = (x) => left + (x - low[0]) * scale;
    const py = (y) => height - pad - (y - low[1]) * scale;
    const svg = s("svg", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" },
      page.outlines_mm.map((ring) => s("path", { class: "ground", d: `M${ring.map(([x, y]) => `${px(x).toFixed(1)},${py(y).toFixed(1)}`).join("L")}Z` })),
      page.scene.sightings.map((seen) => s("circle", { class: `sighting ${seen.seen}`, cx: px(seen.at_mm[0]), cy: py(seen.at_mm[1]), r: 5 })),
      touched.length === 2 && s("line", { class: "cut", x1: px(touched[0][0]), y1: py(touched[0][1]), x2: px(touched[1][0]), y2: py(touched[1][1]) }),
      at().map(([x, y]) => s("g", { class: touched.length ? "here" : "here not-yet", transform: `translate(${px(x)} ${py(y)})` },
        reach?.() > 0 && s("circle", { class: "reach", r: reach() * scale }),
        s("circle", { class: "ring", r: 13 }), s("path", { d: "M-22,0H-6M6,0H22M0,-22V-6M0,6V22" }))));
    if (!fixed) svg.addEventListener("click", (e) => {
      const r = svg.getBoundingClientRect();
      set([low[0] + (e.clientX - r.left - left) / scale, low[1] + (r.height - pad - (e.clientY - r.top)) / scale]);
    });
    return svg;
  }, fixed
    ? { class: "fitted place-map fixed", role: "img", "aria-label": label }
    : { class: "fitted place-map", tabindex: "0", role: "group", "aria-label": label ?? T.wheel.where });
  if (!fixed) drawing.addEventListener("keydown", (e) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
    if (!step) return;
    e.preventDefault();
    const last = at().at(-1);
    // Arrows move the last place; they never add one.
    touched = touched.slice(0, -1);
    set([last[0] + step[0], last[1] + step[1]]);
  });
  say();
  return { element: fixed ? drawing : h("div", {}, h("p", { class: "ask" }, label ?? T.wheel.where), drawing, told), at, middle, touched: () => touched.length };
}
