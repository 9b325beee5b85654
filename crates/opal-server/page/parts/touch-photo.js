// A photo with points over it that are moved by touch, mouse or keys, and a loupe on the
// one that was chosen.

import { h, put, s } from "../dom.js";
import { T } from "../strings.js";
import { number } from "../format.js";

const W = T.trace;
/** How far from a point a touch still takes it, px on the screen. */
const REACH = 40;
/** Half of what the loupe shows, px of the photo. */
const LOUPE = 36;

export const flat = (points) => points.map((p) => p.map((v) => v.toFixed(1)).join()).join(" ");

/** A button beside the photo. */
export const key = (text, onclick) => h("button", { type: "button", class: "quiet big-tap", onclick }, text);

/** Width and height of a picture, pixels. */
export const sizeOf = (url) => new Promise((take, refuse) => {
  const image = new Image();
  image.onload = () => take([image.naturalWidth, image.naturalHeight]);
  image.onerror = refuse;
  image.src = url;
});

export function choosePhoto(id, label, hint, file, take) {
  return h("div", { class: "field wide" },
    h("label", { for: id }, label),
    h("input", { id, type: "file", class: "big-tap", accept: "image/jpeg,image/png", onchange: (e) => take(e.target.files[0] ?? null) }),
    h("p", { class: "hint" }, file ? W.chosen(file.name) : hint));
}

/**
 * `held`: `url`, `size`, `zoom` and `chosen`, kept while the form is open. `points()` those
 * that can be moved; `shapes()` what is drawn under them; `move(to)` the chosen one was
 * moved; `settled()` it was let go; `add(at)` a place was touched where none is.
 */
export function touchPhoto({ held, label, points, shapes, move, settled, add }) {
  const picture = () => s("image", { href: held.url, x: -0.5, y: -0.5, width: held.size[0], height: held.size[1] });
  const under = s("g"), marks = s("g"), lens = s("g");
  const svg = s("svg", { class: "photo", role: "group", tabindex: 0, "aria-label": label }, picture(), under, marks);
  const loupe = s("svg", { class: "loupe", "aria-hidden": "true" }, picture(), lens);
  const told = h("p", { class: "told", role: "status" });
  const middle = () => held.size.map((v) => v / 2);
  const at = () => points()[held.chosen] ?? middle();
  const view = () => {
    const [w, height] = held.size.map((v) => v / held.zoom);
    const [x, y] = held.zoom === 1 ? middle() : at();
    return [x - w / 2, y - height / 2, w, height];
  };
  let box;
  const draw = () => {
    const there = points();
    held.chosen = there.length === 0 ? 0 : Math.min(held.chosen, there.length - 1);
    box ??= view();
    put(under, shapes());
    svg.setAttribute("viewBox", box.join(" "));
    const r = box[2] / 90;
    put(marks, there.map(([cx, cy], k) => s("circle", { class: k === held.chosen ? "handle chosen" : "handle", cx, cy, r: k === held.chosen ? 1.5 * r : r })));
    const [x, y] = at();
    loupe.setAttribute("viewBox", `${x - LOUPE} ${y - LOUPE} ${2 * LOUPE} ${2 * LOUPE}`);
    put(lens, shapes(), s("path", { class: "cross", d: `M${x - 8},${y}H${x - 2}M${x + 2},${y}H${x + 8}M${x},${y - 8}V${y - 2}M${x},${y + 2}V${y + 8}` }));
    told.textContent = there.length === 0 ? "" : W.pointAt(held.chosen + 1, there.length, number(x, 0), number(y, 0));
  };
  const anew = () => { box = view(); draw(); };
  const settle = () => { anew(); settled(); };
  const within = (p) => p.map((v, axis) => Math.min(held.size[axis] - 1, Math.max(0, v)));
  const pick = (step) => {
    const n = points().length;
    if (n > 0) held.chosen = (held.chosen + step + n) % n;
    anew();
  };
  const zoom = (factor) => { held.zoom = Math.min(8, Math.max(1, held.zoom * factor)); anew(); };
  const place = (e) => {
    const onto = svg.getScreenCTM().inverse();
    const { x, y } = new DOMPoint(e.clientX, e.clientY).matrixTransform(onto);
    return { at: [x, y], k: onto.a };
  };
  let dragging = false;
  svg.addEventListener("pointerdown", (e) => {
    const { at: p, k } = place(e);
    const far = points().map(([x, y]) => Math.hypot(x - p[0], y - p[1]) / k);
    const nearest = far.indexOf(Math.min(...far));
    if (nearest < 0 || far[nearest] > REACH) {
      if (!add) return;
      add(within(p));
    } else held.chosen = nearest;
    e.preventDefault();
    svg.focus({ preventScroll: true });
    svg.setPointerCapture(e.pointerId);
    dragging = true;
    draw();
  });
  svg.addEventListener("pointermove", (e) => { if (dragging) { move(within(place(e).at)); draw(); } });
  svg.addEventListener("pointerup", () => { if (dragging) { dragging = false; settle(); } });
  svg.addEventListener("pointercancel", () => { dragging = false; });
  svg.addEventListener("keydown", (e) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[e.key];
    if (e.key === "Enter") { e.preventDefault(); return settle(); }
    if (!step || points().length === 0) return;
    e.preventDefault();
    const far = e.shiftKey ? 10 : 1;
    move(within(at().map((v, axis) => v + far * step[axis])));
    draw();
  });
  draw();
  return {
    element: h("div", {}, h("div", { class: "photo-box" }, svg, loupe), told),
    buttons: [key(W.previous, () => pick(-1)), key(W.next, () => pick(1)), key(W.nearer, () => zoom(2)), key(W.farther, () => zoom(0.5))],
    anew, settle,
  };
}
