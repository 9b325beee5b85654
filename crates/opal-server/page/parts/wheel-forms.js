// What can happen at the wheel: for each kind the fewest touches that tell it.
// A form gives its `node` and `event()`: the event to log, or a text that says
// what is missing.

import { h, put } from "../dom.js";
import { T } from "../strings.js";
import { number } from "../format.js";
import { choice } from "./fields.js";
import { keypad } from "./keypad.js";
import { placeMap } from "./place-map.js";
import { nearest } from "./grid.js";

const W = T.wheel;
/** How far around a touched place is ground, mm: a fingertip's width on the wheel. */
const SPOT_RADIUS = 2;
const positive = (pad) => (pad.value() > 0 ? pad.value() : null);

/** One of several, as big keys; the node is drawn anew by `show`. */
const pick = (legend, options, value, onchange) => choice({ legend, options, value, onchange });

function weighed() {
  const pad = keypad({ label: W.scaleSays, unit: "ct", hint: W.dryHint });
  return { node: pad.element, event: () => positive(pad) === null ? W.needNumber : { kind: "weighed", weight_ct: pad.value() } };
}

function ground({ page, depth }) {
  const node = h("div");
  let place = page.log.stage === "face-open" ? "face" : "flat";
  let by = "callipers";
  const off = keypad({ label: W.depth, unit: "mm", value: depth ?? "", quick: [0.05, 0.1, 0.2, 0.5, 1] });
  const before = keypad({ label: W.before, unit: "ct", value: number(page.log.weight_ct, 2) });
  const after = keypad({ label: W.after, unit: "ct" });
  const side = placeMap({ page, label: W.sideWhere });
  const spot = placeMap({ page, reach: () => SPOT_RADIUS });
  const show = () => put(node,
    pick(W.groundWhere, Object.entries(W.places).map(([k, [name, hint]]) => [k, name, hint]), place, (v) => { place = v; show(); }),
    place === "side" && side.element,
    place === "spot" && spot.element,
    by === "callipers" ? off.element : [before.element, after.element],
    pick(W.byWhat, [["callipers", W.byCallipers], ["scale", W.byScale]], by, (v) => { by = v; show(); }));
  show();
  return {
    node,
    event() {
      const event = { kind: "ground", place: place === "spot" ? "face" : place };
      if (by === "callipers") {
        if (positive(off) === null) return W.needNumber;
        event.depth_mm = off.value();
      } else {
        if (positive(before) === null || positive(after) === null) return W.needNumber;
        event.weights_ct = [before.value(), after.value()];
      }
      if (place === "side") event.toward = side.at()[0].map((v, k) => v - side.middle[k]);
      if (place === "spot") Object.assign(event, { at_mm: spot.at()[0], radius_mm: SPOT_RADIUS });
      return event;
    },
  };
}

function windowOpened({ page, at }) {
  const where = placeMap({ page, at, reach: () => SPOT_RADIUS });
  const deep = keypad({ label: W.windowDepth, unit: "mm", quick: [0.2, 0.5, 1, 2] });
  return {
    node: h("div", {}, where.element, deep.element),
    event: () => positive(deep) === null ? W.needNumber
      : { kind: "window-opened", at_mm: where.at()[0], radius_mm: SPOT_RADIUS, depth_mm: deep.value() },
  };
}

function seen({ page }) {
  const node = h("div");
  let what = "bar-top";
  let where, pad;
  // At the face, a bar's top lies as high as the face itself.
  const propose = () => {
    if (what !== "bar-top" || !pad) return;
    const height = nearest(page.scene, page.scene.skin_top_mm, ...where.at()[0]);
    if (Number.isFinite(height)) pad.set(number(height, 1));
  };
  const show = () => {
    const measure = W.measures[what];
    where = what === "clean" ? null : placeMap(what === "crack" ? { page, places: 2, label: W.crackWhere } : { page, oninput: propose });
    pad = measure && keypad({ label: measure[0], hint: measure[1], unit: "mm", quick: what === "bar-top" ? [] : [0.2, 0.5, 1, 2] });
    put(node,
      pick(W.seenWhat, Object.entries(W.sights), what, (v) => { what = v; show(); where?.element.scrollIntoView({ block: "start" }); }),
      where?.element, pad?.element);
    propose();
  };
  show();
  const of = (mm) => ({
    "bar-top": { "bar-top": { mm } }, thickness: { thickness: { mm } }, "colour-left": { "colour-left": { mm } },
    "at-least": { "at-least": { mm } }, potch: { speck: { speck: "potch", diameter_mm: mm } }, sand: { speck: { speck: "sand", diameter_mm: mm } },
    clean: { clean: {} },
  }[what] ?? what);
  return {
    node,
    event() {
      if (pad && positive(pad) === null) return W.needNumber;
      if (what === "crack" && where.touched() < 2) return W.needPlaces;
      const [at_mm, to_mm] = where ? where.at() : [placeMap({ page }).middle];
      return { kind: "seen", at_mm, what: what === "crack" ? { crack: { to_mm, depth_mm: pad.value() } } : of(pad?.value()) };
    },
  };
}

function otherWheel({ page }) {
  const last = page.log.wheel;
  const put_on = page.log.events.findLast((v) => v.stands && v.event.kind === "wheel-changed");
  const since = put_on ? Math.round((Date.now() - new Date(put_on.at)) / 60_000) : 0;
  let to = page.wheels[Math.min(page.wheels.length - 1, page.wheels.indexOf(last) + 1)];
  const likely = since > 0 && since < 180;
  const minutes = last && keypad({ label: W.minutes(last), unit: "min", hint: likely ? W.minutesHint(since) : W.minutesOpen, quick: likely ? [since] : [] });
  return {
    node: h("div", {}, pick(W.wheelWhich, page.wheels.map((name) => [name, name]), to, (v) => { to = v; }), minutes?.element),
    event: () => ({ kind: "wheel-changed", to, ...(minutes && positive(minutes) !== null ? { minutes: minutes.value() } : {}) }),
  };
}

const lineOf = (label, hint) => {
  const input = h("input", { type: "text", id: "line", autocomplete: "off" });
  return { input, node: h("div", { class: "field wide" }, h("label", { for: "line" }, label), input, hint && h("p", { class: "hint" }, hint)) };
};

function note() {
  const line = lineOf(W.noteWhat);
  return { node: line.node, event: () => (line.input.value.trim() ? { kind: "note", text: line.input.value.trim() } : W.needWords) };
}

const told = (text, kind) => () => ({ node: h("p", { class: "plain" }, text), event: () => ({ kind }) });

function sawn({ page }) {
  const node = h("div");
  let how = "across", off = "right";
  const line = placeMap({ page, places: 2, label: W.sawLine });
  const slice = keypad({ label: W.slice, unit: "mm", quick: [1, 2, 3] });
  const keep = lineOf(W.offcut, W.offcutHint);
  const show = () => put(node,
    pick(W.sawnHow, Object.entries(W.saws).map(([k, [name, hint]]) => [k, name, hint]), how, (v) => { how = v; show(); }),
    how === "across"
      ? [line.element, pick(W.sawOff, Object.entries(W.sides), off, (v) => { off = v; })]
      : slice.element,
    keep.node);
  show();
  const heights = (list) => list.filter((v) => v != null);
  return {
    node,
    event() {
      const offcut = keep.input.value.trim() || undefined;
      if (how === "across") {
        if (line.touched() < 2) return W.needPlaces;
        const [[x, y], [u, v]] = line.at();
        const sign = off === "right" ? 1 : -1;
        return { kind: "sawn", point_mm: [x, y, 0], normal: [sign * (v - y), -sign * (u - x), 0], offcut };
      }
      if (positive(slice) === null) return W.needNumber;
      const z = how === "top"
        ? Math.max(...heights(page.scene.skin_top_mm)) - slice.value()
        : Math.min(...heights(page.scene.skin_bottom_mm)) + slice.value();
      return { kind: "sawn", point_mm: [0, 0, z], normal: [0, 0, how === "top" ? 1 : -1], offcut };
    },
  };
}

/** By kind, in the order in which a hand needs them. */
export const FORMS = {
  ground, seen, weighed, window: windowOpened, wheel: otherWheel, sawn, note,
  dropped: told(W.droppedAsk, "dropped"), broken: told(W.brokenAsk, "broken"),
};
