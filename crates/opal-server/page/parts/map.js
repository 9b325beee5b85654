// The stone from above: how likely colour is at each place, and how thick, with
// the planned outline and the saw lines over it. Lines at one in two and nine in
// ten, and the reading under the finger in words, so that shade is never alone.

import { h, s, fitted, freshId, put } from "../dom.js";
import { T } from "../strings.js";
import { mm, inTwenty } from "../format.js";
import { bounds, nearest, nodeAt } from "./grid.js";

/** Gives the element, and `show(plan)` to change the plan. */
export function colourMap(scene) {
  const box = bounds(scene);
  const bar = scene.bars[0];
  const id = freshId("map");
  let plan = null;
  let shown = "chance";
  let at = [(box.low[0] + box.high[0]) / 2, (box.low[1] + box.high[1]) / 2];
  const told = h("p", { class: "told", id, role: "status" });
  const read = () => {
    const [chance, low, high] = [bar.chance, bar.thickness_mm[0], bar.thickness_mm[2]].map((v) => nearest(scene, v, ...at));
    told.textContent = Number.isNaN(chance) ? T.map.outside : T.map.here(inTwenty(chance), mm(low), mm(high));
  };
  const drawing = fitted((width) => draw(scene, box, bar, shown, plan, at, width, move), { class: "fitted map" });
  const move = (x, y) => {
    at = [Math.min(box.high[0], Math.max(box.low[0], x)), Math.min(box.high[1], Math.max(box.low[1], y))];
    read();
    drawing.redraw();
  };
  drawing.addEventListener("keydown", (e) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[e.key];
    if (!step) return;
    e.preventDefault();
    move(at[0] + step[0], at[1] + step[1]);
  });
  drawing.setAttribute("tabindex", "0");
  drawing.setAttribute("role", "group");
  drawing.setAttribute("aria-label", T.map.label);
  drawing.setAttribute("aria-describedby", id);
  const legend = h("ul", { class: "legend" });
  const keyed = () => put(legend, [
    ...LEVELS[shown].map(([level, name]) => [name, T.map.levels[shown](mm(level), level)]),
    ...Object.entries(T.map.key),
  ].map(([line, meaning]) => h("li", {}, h("i", { class: `line ${line}` }), meaning)));
  keyed();
  read();
  return {
    element: h("div", {},
      h("fieldset", { class: "pills" }, h("legend", { class: "unseen" }, T.map.which),
        Object.entries(T.map.shows).map(([key, name]) => h("label", { class: "pill" },
          h("input", { type: "radio", name: id, checked: key === shown, onchange: () => { shown = key; keyed(); drawing.redraw(); } }),
          h("span", {}, name)))),
      drawing, told, legend),
    show: (more) => { plan = more; drawing.redraw(); },
  };
}

/** What each map shows, and the levels that are lined: at the lower one dotted. */
const LEVELS = { chance: [[0.9, "nine"], [0.5, "half"]], thickness: [[2, "nine"], [1, "half"]] };
/** Thickness that is shaded deepest, mm: more colour than a stone needs. */
const DEEP_MM = 3;

function draw(scene, box, bar, shown, plan, at, width, move) {
  const pad = 8;
  const [values, deepest] = shown === "chance" ? [bar.chance, 1] : [bar.thickness_mm[1], DEEP_MM];
  const [w, d] = [box.high[0] - box.low[0], box.high[1] - box.low[1]];
  const scale = Math.min((width - 2 * pad) / w, 420 / d);
  const height = d * scale + 2 * pad;
  const left = (width - w * scale) / 2;
  const px = (x) => left + (x - box.low[0]) * scale;
  const py = (y) => pad + (box.high[1] - y) * scale;
  const path = (points) => `M${points.map(([x, y]) => `${px(x).toFixed(1)},${py(y).toFixed(1)}`).join("L")}`;
  const half = scene.cell_mm / 2;
  const [x0, y0] = [scene.origin_mm[0] - half, scene.origin_mm[1] - half];
  const svg = s("svg", { class: "map", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": T.map.label },
    s("image", {
      href: shaded(scene, values.map((v) => (v == null ? null : Math.min(1, v / deepest)))), x: px(x0), y: py(y0 + scene.ny * scene.cell_mm),
      width: scene.nx * scene.cell_mm * scale, height: scene.ny * scene.cell_mm * scale, preserveAspectRatio: "none",
    }),
    LEVELS[shown].map(([level, name]) =>
      s("path", { class: `level ${name}`, d: level_lines(scene, values, level).map((line) => path(line)).join("") })),
    // A slice parallel to the bar has no line from above.
    (plan?.cuts ?? []).filter((cut) => Math.abs(cut.tilt_deg) < 60).map((cut) => s("path", { class: "cut", d: path(cut.line_mm) })),
    (plan?.stones ?? []).filter((v) => v.outline_mm.length > 2).map((v) => [
      s("path", { class: "plan-halo", d: `${path(v.outline_mm)}Z` }),
      s("path", { class: "plan", d: `${path(v.outline_mm)}Z` }),
    ]),
    scene.cracks.map((line) => s("path", { class: "crack", d: path(line) })),
    scene.sightings.map((v) => s("circle", { class: `sighting ${v.seen}`, cx: px(v.at_mm[0]), cy: py(v.at_mm[1]), r: 5 })),
    s("g", { class: "cursor", transform: `translate(${px(at[0])} ${py(at[1])})` },
      s("circle", { r: 9 }), s("path", { d: "M-14,0H-5M5,0H14M0,-14V-5M0,5V14" })));
  const touch = (e) => {
    const r = svg.getBoundingClientRect();
    move(box.low[0] + (e.clientX - r.left - left) / scale, box.high[1] - (e.clientY - r.top - pad) / scale);
  };
  svg.addEventListener("pointerdown", touch);
  return svg;
}

/** The chances as a picture, one hue, deeper where colour is likelier. */
function shaded(scene, values) {
  const canvas = h("canvas", { width: scene.nx, height: scene.ny });
  const context = canvas.getContext("2d", { willReadFrequently: true });
  const probe = (name) => {
    context.fillStyle = getComputedStyle(document.documentElement).getPropertyValue(name).trim();
    context.fillRect(0, 0, 1, 1);
    return context.getImageData(0, 0, 1, 1).data;
  };
  const [none, sure] = [probe("--map-none"), probe("--map-sure")];
  const picture = context.createImageData(scene.nx, scene.ny);
  for (let j = 0; j < scene.ny; j++) {
    for (let i = 0; i < scene.nx; i++) {
      const v = values[j * scene.nx + i];
      const at = 4 * ((scene.ny - 1 - j) * scene.nx + i);
      for (let c = 0; c < 3; c++) picture.data[at + c] = none[c] + (sure[c] - none[c]) * (v ?? 0);
      picture.data[at + 3] = v == null ? 0 : 255;
    }
  }
  context.putImageData(picture, 0, 0);
  return canvas.toDataURL();
}

/** Segments on which the values pass a level (marching squares). */
function level_lines(scene, values, level) {
  const out = [];
  for (let j = 0; j + 1 < scene.ny; j++) {
    for (let i = 0; i + 1 < scene.nx; i++) {
      const corners = [[i, j], [i + 1, j], [i + 1, j + 1], [i, j + 1]];
      const v = corners.map(([a, b]) => values[b * scene.nx + a]);
      if (v.some((u) => u == null)) continue;
      const hits = [];
      for (let e = 0; e < 4; e++) {
        const [a, b] = [v[e], v[(e + 1) % 4]];
        if (a >= level === b >= level) continue;
        const t = (level - a) / (b - a);
        const [p, q] = [nodeAt(scene, ...corners[e]), nodeAt(scene, ...corners[(e + 1) % 4])];
        hits.push([p[0] + t * (q[0] - p[0]), p[1] + t * (q[1] - p[1])]);
      }
      for (let k = 0; k + 1 < hits.length; k += 2) out.push([hits[k], hits[k + 1]]);
    }
  }
  return out;
}
