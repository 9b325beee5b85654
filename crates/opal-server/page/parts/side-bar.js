// The bar's edge followed on a photo of the stone's side: places for the evidence.

import * as api from "../api.js";
import { h, putAgain, s, say } from "../dom.js";
import { T } from "../strings.js";
import { number } from "../format.js";
import { choice } from "./fields.js";
import { refusal } from "./refusal.js";
import { choosePhoto, flat, key, sizeOf, touchPhoto } from "./touch-photo.js";

const W = T.sideBar;
/** Where the first two points that are not touched lie, as shares of the stone's width. */
const FIRST_POINTS = [0.25, 0.75];

/** What is held of the photo while the form is open. */
export const emptySide = () => ({ file: null, url: null, size: null, zoom: 1, chosen: 0, from: "front", tool: "upper", box: null, upper: [], lower: [], follow: true, noneBeyond: false, doc: null, error: null, working: false, open: false });

/**
 * `held` from `emptySide`; `outline` the stone from above and `height` how high it stands,
 * mm; `take(places)` is given places for the evidence; `redraw()` shows the form anew.
 */
export function sideBar({ held, outline, height, take, redraw }) {
  const result = h("div");
  const clear = { box: null, upper: [], lower: [], doc: null, error: null, zoom: 1, chosen: 0, tool: "upper" };
  const load = async (file) => {
    if (held.url) URL.revokeObjectURL(held.url);
    Object.assign(held, clear, { file, url: file && URL.createObjectURL(file), size: null });
    if (file) {
      try {
        held.size = await sizeOf(held.url);
        await ask();
      } catch {
        held.error = { message: T.trace.notShown };
      }
    }
    redraw();
  };
  /** Only the newest answer counts: a point may be moved while another is looked for. */
  let newest = 0;
  const ask = async () => {
    const mine = ++newest;
    held.working = true;
    held.error = null;
    show();
    const line = (points) => (points.length > 1 ? points : []);
    const what = { from: held.from, outline_mm: outline, height_mm: height, stone_px: held.box ?? undefined, upper_px: line(held.upper), lower_px: held.upper.length > 1 ? line(held.lower) : [], as_put: !held.follow, none_beyond: held.noneBeyond };
    try {
      const doc = await api.traceBar(what, held.file);
      if (mine !== newest) return;
      held.doc = doc;
      held.box = doc.stone_px;
      if (doc.places.length > 0) say(W.found(doc.places.length));
    } catch (error) {
      if (mine !== newest) return;
      held.error = error;
      if (held.doc) held.doc = { ...held.doc, upper_px: [], lower_px: [], places: [] };
      // Where the stone does not stand out, its box is put by hand.
      if (!held.box) {
        held.box = [[0.15, 0.25], [0.85, 0.75]].map((p) => p.map((v, axis) => v * held.size[axis]));
        held.tool = "box";
      }
    }
    held.working = false;
    show();
  };
  const points = () => held[held.tool];
  const set = (list) => { held[held.tool] = list; };
  const show = () => putAgain(result,
    held.size && held.box && [
      choice({ legend: W.tool, options: W.tools, value: held.tool, onchange: (tool) => { held.tool = tool; held.chosen = Math.max(0, points().length - 1); show(); } }),
      photo(),
    ],
    held.error && refusal(held.error),
    held.doc?.notes.map((note) => h("p", { class: "note warn" }, note)),
    held.working && h("p", { class: "thinking" }, T.trace.working),
    held.doc?.places.length > 0 && [
      h("p", { class: "told", role: "status" }, told(held.doc)),
      h("button", { type: "button", class: "main big-tap", onclick: () => { take(placesOf(held.doc)); Object.assign(held, clear, { file: null, url: null, size: null, open: false }); redraw(); } }, W.take(held.doc.places.length)),
    ]);
  const photo = () => {
    const lines = held.tool !== "box";
    const frame = touchPhoto({
      held,
      label: W.label,
      points,
      shapes: () => drawn(held),
      move: (to) => set(points().map((p, k) => (k === held.chosen ? to : p))),
      settled: ask,
      add: lines && ((at) => { set([...points(), at]); held.chosen = points().length - 1; }),
    });
    // For those who touch nothing: a new point between the two that lie farthest apart.
    const another = () => {
      const [[left, top], [right, foot]] = held.box;
      const n = points().length;
      const share = n < 2 ? FIRST_POINTS[n] : widest(points().map((p) => (p[0] - left) / (right - left)));
      set([...points(), [left + share * (right - left), (top + foot) / 2]]);
      held.chosen = n;
      frame.anew();
    };
    const undo = () => { set(points().slice(0, -1)); held.chosen = Math.max(0, points().length - 1); ask(); };
    const tick = (name, hint, field, turned) => h("label", { class: "option snap" },
      h("input", { type: "checkbox", checked: held[field], onchange: (e) => { held[field] = e.target.checked; turned(); } }),
      h("span", { class: "option-text" }, name, h("small", {}, hint)));
    return h("div", {}, h("p", { class: "hint" }, lines ? W.help : W.boxHelp), frame.element,
      h("div", { class: "row tight" }, lines && key(W.another, another), frame.buttons, key(T.trace.apply, frame.settle), lines && points().length > 0 && key(T.trace.undo, undo)),
      tick(T.trace.snap, W.followHint, "follow", ask),
      tick(W.noneBeyond, W.noneBeyondHint, "noneBeyond", ask));
  };
  show();
  return h("details", { class: "more side-bar", open: held.open, ontoggle: (e) => { held.open = e.target.open; } },
    h("summary", {}, W.title),
    h("p", { class: "hint" }, W.intro),
    height > 0 ? [
      choice({ legend: W.from, options: W.sides, value: held.from, onchange: (from) => { held.from = from; if (held.size) ask(); } }),
      choosePhoto("side-photo", W.photo, W.photoHint, held.file, load),
      result,
    ] : h("p", { class: "note warn" }, W.heightFirst));
}

/** The bar and the stone's box over the photo. */
function drawn({ box, doc, tool, upper, lower }) {
  const [[left, top], [right, foot]] = [[0, 1].map((d) => Math.min(box[0][d], box[1][d])), [0, 1].map((d) => Math.max(box[0][d], box[1][d]))];
  const line = (found, put, name) => {
    const points = found?.length > 1 ? found : [...put].sort((p, q) => p[0] - q[0]);
    return points.length > 1 && s("polyline", { class: `bar-edge ${name}`, points: flat(points) });
  };
  return s("g", {},
    s("rect", { class: tool === "box" ? "stone-box chosen" : "stone-box", x: left, y: top, width: right - left, height: foot - top }),
    line(doc?.upper_px, upper, "upper"), line(doc?.lower_px, lower, "lower"),
    doc?.places.map(({ at_px: [x, y], absent }) => (absent
      ? s("path", { class: "bar-none", d: `M${x - 6},${y - 6}L${x + 6},${y + 6}M${x - 6},${y + 6}L${x + 6},${y - 6}` })
      : s("line", { class: "bar-place", x1: x, x2: x, y1: y, y2: foot }))));
}

/** The middle of the widest gap between shares from 0 to 1. */
function widest(shares) {
  const all = [0, ...shares, 1].sort((p, q) => p - q);
  const gaps = all.slice(1).map((v, k) => v - all[k]);
  const k = gaps.indexOf(Math.max(...gaps));
  return (all[k] + all[k + 1]) / 2;
}

function told({ places }) {
  const range = (name) => {
    const values = places.map((v) => v[name]?.value).filter((v) => v !== undefined);
    return values.length > 0 && [Math.min(...values), Math.max(...values)].map((v) => number(v, 1));
  };
  const sigma = Math.max(...places.map((v) => v.thickness_mm?.sigma ?? v.top_mm?.sigma ?? 0));
  return W.told(places.length, range("top_mm"), range("thickness_mm"), number(sigma, 2));
}

/** As the form keeps places; how sure they are goes with them. */
const placesOf = ({ places }) => places.map(({ at_mm: at, absent, top_mm: top, thickness_mm: thickness }) => (absent
  ? { at, kind: "absent", thickness: "", top: "" }
  : {
    at, kind: "measured", thickness: thickness ? String(thickness.value) : "", top: String(top.value),
    kept: { top_sigma_mm: top.sigma, thickness_sigma_mm: thickness?.sigma },
  }));
