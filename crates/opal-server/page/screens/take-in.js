// Taking in a stone without writing a file: the piece, the bar, the look.

import * as api from "../api.js";
import { h, s, put, say } from "../dom.js";
import { T } from "../strings.js";
import { carats, typed } from "../format.js";
import { draftOf, emptyDraft, evidenceOf, ownFaults } from "../evidence.js";
import { choice, field, markFault } from "../parts/fields.js";
import { guideNote } from "../parts/guide.js";
import { outline, ring } from "../parts/outline.js";
import { faultText, refusal } from "../parts/refusal.js";
import { emptySide, sideBar } from "../parts/side-bar.js";
import { emptyTrace, traceForm } from "../parts/trace.js";
import { withTerms } from "../parts/terms.js";
import { view3d } from "../parts/view3d.js";

const KEPT = "opalwright-draft";

/** `number`: of a stone whose evidence is to be changed; else a new stone. */
export async function takeIn(number) {
  // What a seller asks is in the price book's currency unless it was noted otherwise.
  const { currency } = await api.prices();
  let draft = { ...emptyDraft(), currency };
  let scan = null;
  const trace = emptyTrace();
  const side = emptySide();
  let before = null;
  let surface = null;
  let title = T.takeIn.title;
  if (number !== undefined) {
    const there = await api.stone(number);
    before = there.evidence;
    if (there.scene.has_scan) surface = scanned(number, there.scene);
    draft = draftOf(before, currency);
    title = T.takeIn.again(draft.name);
  } else {
    draft = { ...draft, ...kept(), currency };
  }
  let step = 0;
  let faults = [];
  const heading = h("h1", { tabindex: -1 }, title);
  const progress = h("p", { class: "steps" });
  const alert = h("div");
  const lead = h("div");
  const body = h("div", { class: "form" });
  const buttons = h("div", { class: "row ends" });
  const node = h("form", { class: "page narrow", novalidate: true, onsubmit: (e) => { e.preventDefault(); go(1); } },
    lead, heading, progress, alert, body, buttons);

  const set = (key) => (value) => {
    draft[key] = value;
    if (number === undefined) keep(draft);
  };
  const again = (key) => (value) => { set(key)(value); show(false); };

  function show(toTop = true) {
    put(progress, T.takeIn.step(step + 1, T.takeIn.steps.length, T.takeIn.steps[step]));
    put(lead, guideNote(["piece", "bar", "look"][step]));
    put(body, [pieceStep, barStep, lookStep][step]({ draft, set, again, before, chooseScan, scan, trace, side, surface, redraw: () => show(false) }));
    put(buttons,
      step > 0 ? h("button", { type: "button", class: "quiet", onclick: () => go(-1) }, T.back) : h("a", { class: "button quiet", href: number === undefined ? "#/" : `#/stone/${number}` }, T.back),
      h("button", { type: "submit", class: "main" },
        step < 2 ? T.next : number === undefined ? T.takeIn.finish : T.takeIn.finishAgain));
    mark();
    if (toTop) { scrollTo(0, 0); heading.focus({ preventScroll: true }); say(progress.textContent); }
  }

  function chooseScan(file) { scan = file; }

  function mark() {
    put(alert);
    if (faults.length === 0) return;
    put(alert, h("div", { class: "refusal", role: "alert" },
      h("p", {}, h("strong", {}, T.takeIn.faults(faults.length))),
      h("ul", {}, faults.map((fault) => {
        const place = markFault(body, fault.field, fault.limit);
        return h("li", {}, place
          ? h("button", { type: "button", class: "link", onclick: () => { place.focus(); place.scrollIntoView({ block: "center" }); } }, faultText(fault))
          : faultText(fault));
      }))));
    scrollTo(0, 0);
  }

  async function go(way) {
    if (way > 0) {
      faults = ownFaults(draft, step, scan, before);
      if (faults.length > 0) return mark();
    }
    faults = [];
    if (step + way < T.takeIn.steps.length) { step += way; return show(); }
    const main = buttons.querySelector(".main");
    main.disabled = true;
    main.textContent = T.takeIn.working;
    try {
      const evidence = evidenceOf(draft, scan, before);
      const n = number === undefined ? await api.takeIn(evidence, scan) : (await api.takeInAgain(number, evidence, scan), number);
      if (number === undefined) keep(null);
      location.hash = `#/stone/${n}/work-out`;
    } catch (error) {
      if (error.kind === "faults") {
        faults = error.faults;
        step = stepOf(faults[0].field);
        show(false);
      } else {
        show(false);
        put(alert, refusal(error));
      }
    }
  }

  show(false);
  return { title, node, close: () => { surface?.close(); for (const { url } of [trace, side]) if (url) URL.revokeObjectURL(url); } };
}

/** The step on which a field of the evidence document stands. */
const stepOf = (path) => path.startsWith("bar") ? 1 : path.startsWith("look") || path.startsWith("torch") || path.startsWith("piece.asking") ? 2 : 0;

function kept() {
  try {
    return JSON.parse(sessionStorage.getItem(KEPT)) ?? {};
  } catch {
    return {};
  }
}

export function keep(draft) {
  try {
    if (draft) sessionStorage.setItem(KEPT, JSON.stringify(draft));
    else sessionStorage.removeItem(KEPT);
  } catch {
    // Without storage a reload starts anew; nothing else is lost.
  }
}

function pieceStep({ draft, set, again, before, chooseScan, scan, trace, redraw }) {
  const W = T.takeIn;
  const sum = h("p", { class: "hint", role: "status" });
  const weigh = (text) => {
    set("weight")(text);
    const v = typed(text);
    sum.textContent = draft.weightUnit === "g" && v > 0 ? `= ${carats(5 * v)}` : "";
  };
  weigh(draft.weight);
  const shapes = [["callipers", W.callipers, W.callipersHint], ["traced", W.traced, W.tracedHint], ["mesh", W.scan, W.scanHint]];
  if (before?.shape && !before.shape.callipers) shapes.unshift(["kept", W.keepShape, W.keepShapeHint]);
  return [
    field({ label: W.name, hint: W.nameHint, value: draft.name, path: "piece.name", oninput: set("name"), wide: true }),
    choice({ legend: W.form, options: Object.entries(T.forms).map(([k, v]) => [k, v, T.formHints[k]]), value: draft.form, onchange: set("form"), path: "piece.form" }),
    h("div", { class: "group" },
      field({ label: W.weight, hint: W.weightHint, value: draft.weight, kind: "number", unit: draft.weightUnit, path: draft.weightUnit === "g" ? "piece.weight_g" : "piece.weight_ct", oninput: weigh }),
      choice({ legend: W.unit, options: [["ct", W.carats], ["g", W.grams]], value: draft.weightUnit, onchange: again("weightUnit") }),
      sum),
    choice({ legend: W.shape, options: shapes, value: draft.shape, onchange: again("shape"), path: "shape" }),
    draft.shape === "callipers" && h("div", { class: "group" },
      h("p", { class: "hint" }, W.sizesIntro), sizesPicture(),
      h("div", { class: "fields" },
        field({ label: W.length, value: draft.length, kind: "number", unit: "mm", path: "shape.callipers.length_mm", oninput: set("length") }),
        field({ label: W.width, value: draft.width, kind: "number", unit: "mm", path: "shape.callipers.width_mm", oninput: set("width") }),
        field({ label: W.height, hint: W.across, value: draft.height, kind: "number", unit: "mm", path: "shape.callipers.height_mm", oninput: set("height") }))),
    draft.shape === "traced" && traceForm({ held: trace, before: draft.traced, onchange: set("traced"), redraw }),
    draft.shape === "mesh" && h("div", { class: "group" },
      h("div", { class: "field wide" },
        h("label", { for: "scan-file" }, W.scanFile),
        h("input", { id: "scan-file", type: "file", accept: ".ply,.obj,.stl", "data-path": "shape.mesh.file", onchange: (e) => chooseScan(e.target.files[0] ?? null) }),
        h("p", { class: "hint" }, scan?.name ?? ""), h("p", { class: "fault" })),
      choice({ legend: W.scanUnit, options: Object.entries(W.units), value: draft.scanUnit, onchange: set("scanUnit"), path: "shape.mesh.unit" })),
    field({ label: W.origin, hint: W.originHint, value: draft.origin, path: "piece.origin", oninput: set("origin"), wide: true }),
  ];
}

/** Which size is which. */
function sizesPicture() {
  return s("svg", { viewBox: "0 0 330 128", class: "sizes", role: "img", "aria-label": T.takeIn.sizesIntro },
    s("path", { class: "stone-shape", d: "M40 70C44 40 92 26 146 28s96 14 98 40-44 40-104 38S36 96 40 70z" }),
    s("path", { class: "bar-line", d: "M41 66C90 56 190 78 244 64l1 6C190 86 90 64 40 73z" }),
    s("path", { class: "arrow", d: "M40 118H244M40 113v10M244 113v10M262 28V106M257 28h10M257 106h10M52 24L84 8M49 20l6 8M81 4l6 8" }),
    s("text", { x: 142, y: 114, "text-anchor": "middle" }, T.takeIn.length),
    s("text", { x: 272, y: 71 }, T.takeIn.height),
    s("text", { x: 94, y: 16 }, T.takeIn.width));
}

function barStep({ draft, set, again, side, surface, redraw }) {
  const W = T.takeIn;
  return [
    h("p", {}, withTerms(W.barIntro)),
    choice({ legend: W.way, options: Object.entries(W.ways).map(([k, [name, hint]]) => [k, name, hint]), value: draft.barWay, onchange: again("barWay"), path: "bar" }),
    draft.barWay === "quick" && [
      h("div", { class: "group" },
        field({ label: W.thickness, hint: W.thicknessHint, value: draft.thickness, kind: "number", unit: "mm", path: "bar[0].quick.thickness_mm", oninput: set("thickness") }),
        choice({ legend: W.share, options: W.shares, value: draft.share, onchange: set("share"), path: "bar[0].quick.edge_share" }),
        field({ label: W.barHeight, hint: W.barHeightHint, value: draft.barHeight, kind: "number", unit: "mm", path: "bar[0].quick.top_mm", oninput: set("barHeight") })),
    ],
    draft.barWay === "places" && places({ draft, set, side, surface, redraw }),
  ];
}

function places({ draft, set, side, surface, redraw }) {
  const W = T.takeIn;
  const points = draft.shape === "traced" ? draft.traced?.outline_mm : undefined;
  const [length, width] = points ? [0, 1].map((axis) => Math.max(...points.map((p) => p[axis]))) : [typed(draft.length), typed(draft.width)];
  const drawn = (draft.shape === "callipers" || points) && length > 0 && width > 0;
  const change = (k, part) => {
    set("places")(draft.places.map((v, n) => (n === k ? { ...v, ...part } : v)));
  };
  const add = (at, top = "") => {
    set("places")([...draft.places, { at, kind: "measured", thickness: "", top }]);
    set("chosen")(draft.places.length - 1);
    redraw();
    say(W.placesSoFar(draft.places.length));
  };
  const height = points ? draft.traced.height_mm ?? 0 : typed(draft.height);
  const addAll = (more) => {
    set("places")([...draft.places, ...more]);
    set("chosen")(draft.places.length - 1);
    say(W.placesSoFar(draft.places.length));
  };
  const k = draft.chosen;
  const seen = draft.places[k];
  const path = `bar[0].sighting[${k}]`;
  return [
    drawn
      ? [h("p", { class: "hint" }, W.outlineHelp),
        outline({ size: () => [length, width], points, list: () => draft.places, chosen: () => draft.chosen, add, pick: (n) => { set("chosen")(n); redraw(); } })]
      : surface && draft.shape === "kept" ? surface.show(draft.places, add)
      : draft.shape === "callipers" && h("p", { class: "note warn" }, W.sizesFirst),
    drawn && sideBar({ held: side, outline: points ?? ring(length, width), height, take: addAll, redraw }),
    h("div", { class: "row tight" },
      h("p", { class: "grow" }, draft.places.length === 0 ? W.noPlaces : W.placesSoFar(draft.places.length)),
      h("button", { type: "button", class: "quiet", onclick: () => add(drawn ? [length / 2, 0] : [0, 0]) }, W.addPlace)),
    seen && h("section", { class: "panel place-editor", "aria-labelledby": "place-name" },
      h("h2", { id: "place-name" }, W.place(k + 1)),
      choice({ legend: W.placeSeen, options: Object.entries(W.seen).map(([key, name]) => [key, name, W.seenHints[key]]), value: seen.kind, onchange: (kind) => { change(k, { kind }); redraw(); }, path }),
      h("div", { class: "fields" },
        seen.kind !== "absent" && field({
          label: seen.kind === "measured" ? W.placeThickness : W.placeLeast, hint: seen.kind === "at_least" ? W.placeLeastHint : undefined,
          value: seen.thickness, kind: "number", unit: "mm", path: `${path}.${seen.kind === "measured" ? "thickness_mm" : "thickness_at_least_mm"}`, oninput: (thickness) => change(k, { thickness }),
        }),
        seen.kind !== "absent" && field({ label: W.placeTop, hint: W.placeTopHint, value: seen.top, kind: "number", unit: "mm", path: `${path}.top_mm`, oninput: (top) => change(k, { top }) }),
        field({ label: W.placeX, value: seen.at[0], kind: "number", unit: "mm", path: `${path}.at_mm`, oninput: (v) => change(k, { at: [v, draft.places[k].at[1]] }) }),
        field({ label: W.placeY, value: seen.at[1], kind: "number", unit: "mm", path: `${path}.at_mm[1]`, oninput: (v) => change(k, { at: [draft.places[k].at[0], v] }) })),
      h("button", {
        type: "button", class: "quiet",
        onclick: () => { set("places")(draft.places.filter((_, n) => n !== k)); set("chosen")(Math.max(0, k - 1)); redraw(); },
      }, W.removePlace)),
  ];
}

/** The scanned stone, to touch where the bar was seen; drawn once, when it is first shown. */
function scanned(number, scene) {
  let view = null;
  let add;
  const tenth = (v) => Math.round(10 * v) / 10;
  return {
    show(list, adding) {
      add = adding;
      if (!view) {
        view = view3d(scene, ([x, y, z]) => add([tenth(x), tenth(y)], String(tenth(z))));
        api.scan(number).then((mesh) => mesh && view.addScan(mesh)).catch(() => {});
      }
      view.mark(list.map((v) => ({ at_mm: v.at.map(typed), seen: v.kind, top_mm: Number.isNaN(typed(v.top)) ? null : typed(v.top) })));
      return [h("p", { class: "hint" }, T.takeIn.surfaceHelp), view.element];
    },
    close: () => view?.close(),
  };
}

function lookStep({ draft, set }) {
  const W = T.takeIn;
  const open = ["", W.open];
  return [
    h("p", {}, W.lookIntro),
    choice({ legend: W.torch, options: [open, ...Object.entries(W.torches).map(([k, [name, hint]]) => [k, name, hint])], value: draft.torch, onchange: set("torch"), path: "torch.look" }),
    choice({ legend: W.variety, options: [open, ...Object.entries(W.varieties)], value: draft.variety, onchange: set("variety"), path: "look.variety" }),
    choice({ legend: W.brightness, hint: W.brightnessHint, options: Object.entries(W.brightnesses), value: draft.brightness, onchange: set("brightness"), several: true, path: "look.brightness" }),
    choice({ legend: W.tone, options: [open, ...W.tones.map(([k, v]) => [String(k), v])], value: draft.tone, onchange: set("tone"), path: "look.body_tone" }),
    field({ label: W.asking, hint: W.askingHint(draft.currency), value: draft.asking, kind: "number", unit: draft.currency, path: "piece.asking.amount", oninput: set("asking") }),
  ];
}
