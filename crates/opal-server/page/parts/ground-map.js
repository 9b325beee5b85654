// Ground that no stone may take in: corners are touched one after another on the
// stone from above.

import { h, s, fitted, put, say } from "../dom.js";
import { T } from "../strings.js";
import { number } from "../format.js";
import { bounds } from "./grid.js";

const W = T.wishes;

/** `polygons` is changed in place; the last one is the one that grows. */
export function groundMap({ scene, polygons, onchange }) {
  const { low, high } = bounds(scene);
  let growing = false;
  let at = [0, 1].map((axis) => (low[axis] + high[axis]) / 2);
  const told = h("p", { class: "told", role: "status" });
  const rows = h("div", { class: "row tight" });
  const tell = () => { told.textContent = growing ? W.corners(polygons.at(-1)?.length ?? 0) : polygons.length > 0 ? W.areas(polygons.length) : ""; };
  const changed = () => { tell(); buttons(); drawing.redraw(); onchange(); };
  const corner = () => {
    if (!growing) return;
    polygons.at(-1).push(at.map((v) => Math.round(10 * v) / 10));
    changed();
  };
  const buttons = () => put(rows,
    !growing && h("button", { type: "button", class: "quiet", onclick: () => { polygons.push([]); growing = true; changed(); drawing.focus(); } }, W.addGround),
    growing && h("button", { type: "button", class: "quiet", onclick: corner }, W.corner),
    growing && h("button", { type: "button", class: "quiet", onclick: () => { if (polygons.at(-1).length < 3) polygons.pop(); growing = false; changed(); say(told.textContent); } }, W.close),
    polygons.length > 0 && h("button", { type: "button", class: "quiet", onclick: () => { polygons.pop(); growing = false; changed(); } }, W.dropGround));
  const drawing = fitted((width) => {
    const pad = 14;
    const scale = Math.min((width - 2 * pad) / (high[0] - low[0]), 280 / (high[1] - low[1]));
    const height = (high[1] - low[1]) * scale + 2 * pad;
    const left = (width - (high[0] - low[0]) * scale) / 2;
    const px = (x) => left + (x - low[0]) * scale;
    const py = (y) => height - pad - (y - low[1]) * scale;
    const path = (ring) => ring.map(([x, y]) => `${px(x).toFixed(1)},${py(y).toFixed(1)}`).join(" ");
    const svg = s("svg", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" },
      s("path", { class: "ground", d: spans(scene).map(([x0, x1, y0, y1]) => `M${px(x0).toFixed(1)},${py(y0).toFixed(1)}H${px(x1).toFixed(1)}V${py(y1).toFixed(1)}H${px(x0).toFixed(1)}Z`).join("") }),
      polygons.map((ring, k) => s("polygon", { class: growing && k === polygons.length - 1 ? "left-out growing" : "left-out", points: path(ring) })),
      growing && polygons.at(-1).map(([x, y]) => s("circle", { class: "corner", cx: px(x), cy: py(y), r: 5 })),
      growing && s("g", { class: "cursor", transform: `translate(${px(at[0])} ${py(at[1])})` }, s("circle", { r: 9 }), s("path", { d: "M-14,0H-5M5,0H14M0,-14V-5M0,5V14" })));
    svg.addEventListener("click", (e) => {
      const r = svg.getBoundingClientRect();
      at = [low[0] + (e.clientX - r.left - left) / scale, low[1] + (r.height - pad - (e.clientY - r.top)) / scale];
      corner();
    });
    return svg;
  }, { class: "fitted ground-map", tabindex: "0", role: "group", "aria-label": W.groundLabel });
  drawing.addEventListener("keydown", (e) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
    if (step) {
      e.preventDefault();
      at = at.map((v, axis) => Math.min(high[axis], Math.max(low[axis], v + step[axis])));
      told.textContent = W.at(...at.map((v) => number(v, 0)));
      drawing.redraw();
    } else if (e.key === "Enter") {
      e.preventDefault();
      corner();
    }
  });
  tell();
  buttons();
  return h("div", {}, drawing, told, rows);
}

/** The stone from above as strips, one or more for each row of nodes. */
function spans(scene) {
  const out = [];
  const half = scene.cell_mm / 2;
  const [x, y] = scene.origin_mm;
  for (let j = 0; j < scene.ny; j++) {
    let from = null;
    for (let i = 0; i <= scene.nx; i++) {
      const inside = i < scene.nx && scene.skin_top_mm[j * scene.nx + i] != null;
      if (inside && from === null) from = i;
      if (!inside && from !== null) {
        out.push([x + from * scene.cell_mm - half, x + i * scene.cell_mm - half, y + j * scene.cell_mm - half, y + (j + 1) * scene.cell_mm - half]);
        from = null;
      }
    }
  }
  return out;
}
