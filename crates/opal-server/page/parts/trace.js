// A stone traced from a photo: its scale, the outline over it, a point that can be
// moved by touch, mouse or keys, and a loupe on that point.

import * as api from "../api.js";
import { h, s, put, say } from "../dom.js";
import { T } from "../strings.js";
import { number, typed } from "../format.js";
import { choice, field } from "./fields.js";
import { refusal } from "./refusal.js";

const W = T.trace;
/** Points that can be taken hold of; those between follow. */
const HANDLES = 16;
/** How far from a handle a touch still takes it, px on the screen. */
const REACH = 40;
/** Half of what the loupe shows, px of the photo. */
const LOUPE = 36;

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
    const image = new Image();
    image.onload = () => {
      held.size = [image.naturalWidth, image.naturalHeight];
      const [w, hgt] = held.size;
      held.points = [[w * 0.3, hgt * 0.8], [w * 0.7, hgt * 0.8]].map((p) => p.map(Math.round));
      redraw();
    };
    image.onerror = () => { held.error = { message: W.notShown }; redraw(); };
    image.src = held.url;
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
  const show = () => put(result,
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
    choose("trace-top", W.top, W.topHint, held.top, load),
    choice({ legend: W.scale, options: [["card", W.byCard, W.byCardHint], ["points", W.byPoints, W.byPointsHint]], value: held.by, onchange: (by) => { held.by = by; redraw(); } }),
    h("div", { class: "fields" },
      held.by === "card" && field({ label: W.rule, hint: W.ruleHint, value: held.rule, kind: "number", unit: "mm", oninput: (v) => { held.rule = v; } }),
      held.by === "points" && field({ label: W.apart, hint: W.apartHint, value: held.apart, kind: "number", unit: "mm", oninput: (v) => { held.apart = v; } }),
      field({ label: W.height, hint: W.heightHint, value: held.height, kind: "number", unit: "mm", path: "shape.outline.heights_mm", oninput: (v) => { held.height = v; } }),
      field({ label: W.camera, hint: W.cameraHint, value: held.camera, kind: "number", unit: "mm", oninput: (v) => { held.camera = v; } })),
    choose("trace-side", W.side, W.sideHint, held.side, (file) => { held.side = file; redraw(); }),
    result);
}

const sizes = (doc) => [number(doc.length_mm.value, 1), number(doc.width_mm.value, 1), number(doc.area_mm2.value, 0), number(doc.area_mm2.sigma, 0)];

function choose(id, label, hint, file, take) {
  return h("div", { class: "field wide" },
    h("label", { for: id }, label),
    h("input", { id, type: "file", class: "big-tap", accept: "image/jpeg,image/png", onchange: (e) => take(e.target.files[0] ?? null) }),
    h("p", { class: "hint" }, file ? W.chosen(file.name) : hint));
}

/** The photo with what lies over it. */
function photo({ held, correct }) {
  const outline = held.px !== null;
  const handles = outline ? handlesOf(held.px, held.near) : [0, 1];
  if (outline && held.near) held.chosen = 0;
  const points = () => (outline ? held.px : held.points);
  const at = () => points()[handles[held.chosen % handles.length]];
  const picture = () => s("image", { href: held.url, x: -0.5, y: -0.5, width: held.size[0], height: held.size[1] });
  const shape = s(outline ? "polygon" : "polyline", { class: "traced" });
  const marks = s("g");
  const svg = s("svg", { class: "photo", role: "group", tabindex: 0, "aria-label": outline ? W.outlineLabel : W.pointsLabel }, picture(), shape, marks);
  const lens = s("g");
  const loupe = s("svg", { class: "loupe", "aria-hidden": "true" }, picture(), lens);
  const told = h("p", { class: "told", role: "status" });
  const view = () => {
    const [w, hgt] = held.size.map((v) => v / held.zoom);
    const [x, y] = held.zoom === 1 ? [held.size[0] / 2, held.size[1] / 2] : at();
    return [x - w / 2, y - hgt / 2, w, hgt];
  };
  let box = view();
  const draw = () => {
    const flat = points().map((p) => p.map((v) => v.toFixed(1)).join()).join(" ");
    shape.setAttribute("points", flat);
    svg.setAttribute("viewBox", box.join(" "));
    const r = box[2] / 90;
    put(marks, handles.map((k, n) => s("circle", { class: n === held.chosen ? "handle chosen" : "handle", cx: points()[k][0], cy: points()[k][1], r: n === held.chosen ? 1.5 * r : r })));
    const [x, y] = at();
    loupe.setAttribute("viewBox", `${x - LOUPE} ${y - LOUPE} ${2 * LOUPE} ${2 * LOUPE}`);
    put(lens, s(outline ? "polygon" : "polyline", { class: "traced", points: flat }), s("path", { class: "cross", d: `M${x - 8},${y}H${x - 2}M${x + 2},${y}H${x + 8}M${x},${y - 8}V${y - 2}M${x},${y + 2}V${y + 8}` }));
    told.textContent = W.pointAt(held.chosen + 1, handles.length, number(x, 0), number(y, 0));
  };
  const move = (to) => {
    const inside = to.map((v, axis) => Math.min(held.size[axis] - 1, Math.max(0, v)));
    if (outline) held.px = moved(held.px, handles, held.chosen, inside);
    else held.points = held.points.map((p, k) => (k === held.chosen ? inside : p));
    draw();
  };
  const around = () => [-1, 0, 1].map((step) => handles[(held.chosen + step + handles.length) % handles.length]);
  /** What the outline was before the point was taken hold of. */
  let start = held.px;
  const settled = () => {
    box = view();
    draw();
    if (!outline) return;
    if (start !== held.px) held.before.push(start);
    held.near = at();
    correct(held.snap && handles.length > 2 ? around() : undefined);
  };
  const undo = () => { held.px = held.before.pop(); correct(); };
  const pick = (step) => { held.chosen = (held.chosen + step + handles.length) % handles.length; box = view(); draw(); };
  const zoom = (factor) => { held.zoom = Math.min(8, Math.max(1, held.zoom * factor)); box = view(); draw(); };
  const place = (e) => {
    const onto = svg.getScreenCTM().inverse();
    const { x, y } = new DOMPoint(e.clientX, e.clientY).matrixTransform(onto);
    return { at: [x, y], k: onto.a };
  };
  let dragging = false;
  svg.addEventListener("pointerdown", (e) => {
    const { at: p, k } = place(e);
    const far = handles.map((n) => Math.hypot(points()[n][0] - p[0], points()[n][1] - p[1]) / k);
    const nearest = far.indexOf(Math.min(...far));
    if (far[nearest] > REACH) return;
    e.preventDefault();
    svg.focus({ preventScroll: true });
    svg.setPointerCapture(e.pointerId);
    held.chosen = nearest;
    dragging = true;
    draw();
  });
  svg.addEventListener("pointermove", (e) => { if (dragging) move(place(e).at); });
  svg.addEventListener("pointerup", () => { if (dragging) { dragging = false; settled(); } });
  svg.addEventListener("pointercancel", () => { dragging = false; });
  svg.addEventListener("keydown", (e) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    if (e.key === "Enter") { e.preventDefault(); return settled(); }
    if (!step) return;
    e.preventDefault();
    const far = e.shiftKey ? 10 : 1;
    move(at().map((v, axis) => v + far * step[axis]));
  });
  const button = (text, onclick) => h("button", { type: "button", class: "quiet big-tap", onclick }, text);
  held.chosen %= handles.length;
  draw();
  return h("div", {}, h("p", { class: "hint" }, outline ? W.correctHelp : W.pointsHelp), h("div", { class: "photo-box" }, svg, loupe), told,
    h("div", { class: "row tight" }, button(W.previous, () => pick(-1)), button(W.next, () => pick(1)), button(W.nearer, () => zoom(2)), button(W.farther, () => zoom(0.5)), outline && button(W.apply, settled), held.before.length > 0 && button(W.undo, undo)),
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
