// A cross-section: what a saw cut through here would show, as far as is known.

import { h, s, fitted, freshId } from "../dom.js";
import { T } from "../strings.js";
import { mm, number } from "../format.js";
import { bounds, nodeAt } from "./grid.js";
import { ticks } from "./axis.js";

/** Gives the element, and `show(stones)` to change the planned stones. */
export function section(scene) {
  const box = bounds(scene);
  let along = "x";
  let at = 0.5;
  let stones = [];
  const id = freshId("cut");
  const slider = h("input", { type: "range", min: 0, max: 100, value: 50, id, class: "slider" });
  const told = h("output", { for: id });
  const drawing = fitted((width) => draw(scene, box, along, place(), stones, width));
  const place = () => {
    const across = along === "x" ? 1 : 0;
    return box.low[across] + at * (box.high[across] - box.low[across]);
  };
  const tell = () => {
    const across = along === "x" ? 1 : 0;
    told.textContent = T.section.at(mm(place() - box.low[across]));
    slider.setAttribute("aria-valuetext", told.textContent);
  };
  slider.addEventListener("input", () => { at = slider.value / 100; tell(); drawing.redraw(); });
  tell();
  const ways = ["x", "y"].map((way) =>
    h("label", { class: "pill" },
      h("input", { type: "radio", name: `${id}-way`, checked: way === along, onchange: () => { along = way; tell(); drawing.redraw(); } }),
      h("span", {}, T.section.along[way])));
  return {
    element: h("div", { class: "section-view" },
      h("fieldset", { class: "pills" }, h("legend", { class: "unseen" }, T.section.way), ways),
      drawing,
      h("div", { class: "depth" }, h("label", { for: id }, T.section.where), slider, told),
      h("ul", { class: "legend" },
        h("li", {}, h("i", { class: "swatch skin" }), T.section.key.skin),
        h("li", {}, h("i", { class: "swatch bar" }), T.section.key.bar),
        h("li", {}, h("i", { class: "swatch doubt" }), T.section.key.doubt),
        h("li", {}, h("i", { class: "swatch stones" }), T.section.key.stones))),
    show: (more) => { stones = more; drawing.redraw(); },
  };
}

function draw(scene, box, along, cut, stones, width) {
  const [run, across] = along === "x" ? [0, 1] : [1, 0];
  const pad = 26;
  const span = box.high[run] - box.low[run];
  const rise = box.high[2] - box.low[2];
  const scale = Math.min((width - 2 * pad) / span, 300 / rise);
  const height = rise * scale + 2 * pad;
  const left = (width - span * scale) / 2;
  const px = (u) => left + (u - box.low[run]) * scale;
  const pz = (z) => pad + (box.high[2] - z) * scale;
  const nodes = row(scene, along, cut);
  const area = (top, bottom) => patches(nodes, top, bottom)
    .map((points) => `M${points.map(([u, z]) => `${px(u).toFixed(1)},${pz(z).toFixed(1)}`).join("L")}Z`).join("");
  const inSkin = (heights) => (k) => heights[k] == null ? null
    : Math.min(scene.skin_top_mm[k], Math.max(scene.skin_bottom_mm[k], heights[k]));
  const near = scene.sightings.filter((v) => Math.abs(v.at_mm[across] - cut) < 2.5);
  return s("svg", { class: "cross", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": T.section.label },
    s("path", { class: "skin", d: area((k) => scene.skin_top_mm[k], (k) => scene.skin_bottom_mm[k]) }),
    scene.bars.map((bar) => [
      s("path", { class: "doubt", d: area(inSkin(bar.top_mm[2]), inSkin(bar.bottom_mm[0])) }),
      s("path", { class: "bar", d: area(
        (k) => bar.chance[k] >= 0.5 ? inSkin(bar.top_mm[1])(k) : null,
        (k) => bar.chance[k] >= 0.5 ? inSkin(bar.bottom_mm[1])(k) : null) }),
    ]),
    stones.map((stone) => s("path", { class: "stone-line", d: sliced(stone.surface, run, across, cut, px, pz) })),
    near.map((v) => s("circle", { class: `sighting ${v.seen}`, cx: px(v.at_mm[run]), cy: pz(v.top_mm ?? (box.low[2] + box.high[2]) / 2), r: 5 })),
    s("g", { class: "ruler" },
      ticks(0, span, width / 80).map((t) => [
        s("line", { class: "axis", x1: px(box.low[run] + t), x2: px(box.low[run] + t), y1: height - 18, y2: height - 13 }),
        s("text", { class: "tick", x: px(box.low[run] + t), y: height - 2, "text-anchor": "middle" }, t === 0 ? T.section.zero : number(t, 0)),
      ])));
}

/** The nodes along the cut, with where they stand along it. */
function row(scene, along, cut) {
  const out = [];
  const [across, count] = along === "x" ? [1, scene.nx] : [0, scene.ny];
  const fixed = Math.round((cut - scene.origin_mm[across]) / scene.cell_mm);
  for (let n = 0; n < count; n++) {
    const [i, j] = along === "x" ? [n, fixed] : [fixed, n];
    if (i < 0 || j < 0 || i >= scene.nx || j >= scene.ny) continue;
    out.push({ k: j * scene.nx + i, u: nodeAt(scene, i, j)[along === "x" ? 0 : 1] });
  }
  return out;
}

/** Closed outlines between two heights, one for each unbroken run. */
function patches(nodes, top, bottom) {
  const out = [];
  let run = [];
  const close = () => {
    if (run.length > 1) {
      out.push([...run.map(({ u, t }) => [u, t]), ...run.reverse().map(({ u, b }) => [u, b])]);
    }
    run = [];
  };
  for (const { k, u } of nodes) {
    const [t, b] = [top(k), bottom(k)];
    if (t == null || b == null) close();
    else run.push({ u, t, b });
  }
  close();
  return out;
}

/** Where a surface meets the cut: a segment for each face that crosses it. */
function sliced({ positions_mm: p, faces }, run, across, cut, px, pz) {
  let d = "";
  for (let f = 0; f < faces.length; f += 3) {
    const hits = [];
    for (let e = 0; e < 3; e++) {
      const [a, b] = [3 * faces[f + e], 3 * faces[f + ((e + 1) % 3)]];
      const [da, db] = [p[a + across] - cut, p[b + across] - cut];
      if (da < 0 === db < 0) continue;
      const t = da / (da - db);
      hits.push(`${px(p[a + run] + t * (p[b + run] - p[a + run])).toFixed(1)},${pz(p[a + 2] + t * (p[b + 2] - p[a + 2])).toFixed(1)}`);
    }
    if (hits.length === 2) d += `M${hits[0]}L${hits[1]}`;
  }
  return d;
}
