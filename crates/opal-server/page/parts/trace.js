// A stone traced from a photo: its scale, and the outline over it with points to move.

import * as api from "../api.js";
import { h, putAgain, s, say } from "../dom.js";
import { T } from "../strings.js";
import { number, typed } from "../format.js";
import { choice, field } from "./fields.js";
import { refusal } from "./refusal.js";
import { choosePhoto, flat, key, sizeOf, touchPhoto } from "./touch-photo.js";

const W = T.trace;
/** Points that can be taken hold of; those between follow. */
const HANDLES = 16;

/** What is held of the photos while the form is open. */
export const emptyTrace = () => ({ top: null, side: null, url: null, size: null, by: "card", rule: "", points: null, apart: "", sidePoints: null, camera: "", height: "", doc: null, px: null, chosen: 0, near: null, zoom: 1, error: null, working: false, snap: true, before: [] });

/** `held` from `emptyTrace`; `before` the shape that was traced before a reload; `onchange(shape)` is told `{ outline_mm, height_mm }` or null; `redraw()` shows the form anew. */
export function traceForm({ held, before, onchange, redraw }) {
  const result = h("div");
  const shape = () => held.doc && { outline_mm: held.doc.outline_mm, height_mm: held.doc.height_mm?.value ?? null };
  const load = (file) => {
    if (held.url) URL.revokeObjectURL(held.url);
    Object.assign(held, { top: file, url: file && URL.createObjectURL(file), size: null, points: null, doc: null, px: null, error: null, zoom: 1, chosen: 0, near: null, before: [] });
    onchange(null);
    if (!file) return redraw();
    sizeOf(held.url).then((size) => {
      held.size = size;
      const [w, hgt] = size;
      held.points = [[w * 0.3, hgt * 0.8], [w * 0.7, hgt * 0.8]].map((p) => p.map(Math.round));
    }, () => { held.error = { message: W.notShown }; }).then(redraw);
  };
  /** `follow`: the point that was moved last and those between which the line is to follow the edge. */
  const find = async (corrected, follow) => {
    held.working = true;
    held.error = null;
    show();
    try {
      const numeric = (v) => (String(v).trim() === "" ? undefined : typed(v));
      const top = held.by === "card" ? { rule_mm: numeric(held.rule) } : { points_px: held.points, apart_mm: numeric(held.apart) };
      const side = { rule_mm: numeric(held.rule) };
      held.doc = await api.trace({ top, side, height_mm: numeric(held.height), camera_mm: numeric(held.camera), corrected_px: corrected, follow }, held.top, held.side);
      if (!corrected) held.before = [];
      if (!corrected || follow) held.px = held.doc.outline_px;
      say(W.found(...sizes(held.doc)));
    } catch (error) {
      if (!corrected) Object.assign(held, { doc: null, px: null });
      held.error = error.faults?.length > 0 ? { message: error.faults.map((f) => `${f.field}: ${f.value}. ${f.limit}`).join(" ") } : error;
    }
    held.working = false;
    onchange(shape());
    show();
  };
  const show = () => putAgain(result,
    held.size && (held.px || held.by === "points") && photo({ held, correct: (follow) => find(held.px, follow) }),
    !held.doc && before && h("p", { class: "told" }, W.before(before.outline_mm.length)),
    held.error && refusal(held.error),
    held.doc && h("p", { class: "told", role: "status" }, W.found(...sizes(held.doc))),
    held.doc?.notes.map((note) => h("p", { class: "hint" }, note)),
    h("button", { type: "button", class: held.doc ? "quiet big-tap" : "big-tap", disabled: !held.size || held.working, onclick: () => find() },
      held.working ? W.working : held.doc ? W.again : W.find));
  show();
  return h("div", { class: "group trace" },
    h("p", {}, W.intro),
    h("p", {}, h("a", { class: "button quiet big-tap", href: api.scaleCardPath("a4"), target: "_blank" }, W.cardA4), " ",
      h("a", { class: "button quiet big-tap", href: api.scaleCardPath("letter"), target: "_blank" }, W.cardLetter)),
    h("p", { class: "hint" }, W.cardHint),
    choosePhoto("trace-top", W.top, W.topHint, held.top, load),
    choice({ legend: W.scale, options: [["card", W.byCard, W.byCardHint], ["points", W.byPoints, W.byPointsHint]], value: held.by, onchange: (by) => { held.by = by; redraw(); } }),
    h("div", { class: "fields" },
      held.by === "card" && field({ label: W.rule, hint: W.ruleHint, value: held.rule, kind: "number", unit: "mm", oninput: (v) => { held.rule = v; } }),
      held.by === "points" && field({ label: W.apart, hint: W.apartHint, value: held.apart, kind: "number", unit: "mm", oninput: (v) => { held.apart = v; } }),
      field({ label: W.height, hint: W.heightHint, value: held.height, kind: "number", unit: "mm", path: "shape.outline.heights_mm", oninput: (v) => { held.height = v; } }),
      field({ label: W.camera, hint: W.cameraHint, value: held.camera, kind: "number", unit: "mm", oninput: (v) => { held.camera = v; } })),
    choosePhoto("trace-side", W.side, W.sideHint, held.side, (file) => { held.side = file; redraw(); }),
    result);
}

const sizes = (doc) => [number(doc.length_mm.value, 1), number(doc.width_mm.value, 1), number(doc.area_mm2.value, 0), number(doc.area_mm2.sigma, 0)];

/** The photo with what lies over it. */
function photo({ held, correct }) {
  const outline = held.px !== null;
  const handles = outline ? handlesOf(held.px, held.near) : [0, 1];
  if (outline && held.near) held.chosen = 0;
  const points = () => (outline ? held.px : held.points);
  const around = () => [-1, 0, 1].map((step) => handles[(held.chosen + step + handles.length) % handles.length]);
  /** What the outline was before the point was taken hold of. */
  const start = held.px;
  const frame = touchPhoto({
    held,
    label: outline ? W.outlineLabel : W.pointsLabel,
    points: () => handles.map((k) => points()[k]),
    shapes: () => s(outline ? "polygon" : "polyline", { class: "traced", points: flat(points()) }),
    move: (to) => {
      if (outline) held.px = moved(held.px, handles, held.chosen, to);
      else held.points = held.points.map((p, k) => (k === held.chosen ? to : p));
    },
    settled: () => {
      if (!outline) return;
      if (start !== held.px) held.before.push(start);
      held.near = points()[handles[held.chosen]];
      correct(held.snap && handles.length > 2 ? around() : undefined);
    },
  });
  const undo = () => { held.px = held.before.pop(); correct(); };
  return h("div", {}, h("p", { class: "hint" }, outline ? W.correctHelp : W.pointsHelp), frame.element,
    h("div", { class: "row tight" }, frame.buttons, outline && key(W.apply, frame.settle), held.before.length > 0 && key(W.undo, undo)),
    outline && h("label", { class: "option snap" },
      h("input", { type: "checkbox", checked: held.snap, onchange: (e) => { held.snap = e.target.checked; } }),
      h("span", { class: "option-text" }, W.snap, h("small", {}, W.snapHint))));
}

/** Points evenly along the outline, by their place in the list; the first one near a place that was touched. */
function handlesOf(px, near) {
  const away = (p) => Math.hypot(p[0] - near[0], p[1] - near[1]);
  const first = near ? px.reduce((best, p, k) => (away(p) < away(px[best]) ? k : best), 0) : 0;
  const along = [0];
  px.forEach((_, k) => {
    const [p, q] = [px[(first + k) % px.length], px[(first + k + 1) % px.length]];
    along.push(along[k] + Math.hypot(q[0] - p[0], q[1] - p[1]));
  });
  const n = Math.min(HANDLES, px.length);
  const found = Array.from({ length: n }, (_, k) => (first + along.findIndex((v) => v >= (k * along.at(-1)) / n)) % px.length);
  return [...new Set(found)];
}

/** The outline with one handle moved; what lies between it and its neighbours follows, less the farther off. */
function moved(px, handles, chosen, to) {
  const k = handles[chosen];
  const by = [to[0] - px[k][0], to[1] - px[k][1]];
  const n = px.length;
  const ahead = (handles[(chosen + 1) % handles.length] - k + n) % n || n;
  const behind = (k - handles[(chosen - 1 + handles.length) % handles.length] + n) % n || n;
  return px.map(([x, y], i) => {
    const forward = (i - k + n) % n, back = (k - i + n) % n;
    const share = forward < ahead ? forward / ahead : back < behind ? back / behind : 1;
    const weight = 0.5 + 0.5 * Math.cos(Math.PI * share);
    return [x + weight * by[0], y + weight * by[1]];
  });
}
