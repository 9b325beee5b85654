// A finished stone at the counter: look, read, tell, put it in words.

import * as api from "../api.js";
import { h, put, say, freshId } from "../dom.js";
import { T } from "../strings.js";
import { answer } from "../parts/counter-answer.js";
import { BRIGHTNESS, OUTLINES, SIZES, TOLD, TONES, VIEWS, emptyDraft, photoOf, photosOf, readingsOf, today } from "../parts/counter-draft.js";
import { keepPanel } from "../parts/counter-keep.js";
import { lookDrawing } from "../parts/counter-looks.js";
import { papers } from "../parts/counter-papers.js";
import { waterWeighing } from "../parts/counter-water.js";
import { field } from "../parts/fields.js";
import { refusal } from "../parts/refusal.js";

const STEPS = [["side-view", "back"], ["pattern", "specks", "body", "transparency"], ["fluorescence", "afterglow", "water-drop"], []];
const LAST = STEPS.length - 1;
/** Looks that need a word of caution before they are done. */
const CAUTIONS = ["fluorescence", "water-drop"];

/** Kept while the page is open, so that a look elsewhere loses nothing. */
let draft = emptyDraft();

const keep = (key) => (text) => { draft[key] = text; draft.seen[key] = today(); };

function page(...content) {
  return {
    title: T.counter.title,
    node: h("div", { class: "page narrow" },
      h("div", { class: "lead" },
        h("h1", { tabindex: -1 }, T.counter.title),
        h("div", { class: "row tight" }, h("a", { class: "button quiet", href: "#/counter/kept" }, T.counter.keptList))),
      h("p", { class: "note" }, T.counter.truth),
      content),
  };
}

export async function counter() {
  const [{ looks }, stones] = await Promise.all([api.looks(), api.stones()]);
  const place = h("div");
  const go = (step) => {
    put(place, step <= LAST ? form(looks, step, go) : result(stones, go));
    place.querySelector("h2")?.focus({ preventScroll: true });
    scrollTo(0, 0);
  };
  put(place, form(looks, 0, go));
  return page(place);
}

/** Readings that were kept: the same answer and the same papers again. */
export async function counterAgain(stone, mark) {
  const readings = await api.keptReadings(stone, mark);
  const doc = await api.identify(readings);
  return page(
    h("h2", {}, T.counter.again),
    answer(doc),
    doc.grounds.length > 0 && papers(readings, () => stone));
}

function form(looks, step, go) {
  const asked = STEPS[step].map((key) => looks.find((look) => look.key === key)).filter(Boolean);
  return h("div", { class: "form" },
    h("h2", { tabindex: -1 }, T.counter.step(step + 1, STEPS.length, T.counter.steps[step])),
    step === 0 && h("div", { class: "fields" },
      field({ label: T.counter.name, hint: T.counter.nameHint, value: draft.name, oninput: keep("name") }),
      field({ label: T.counter.described, hint: T.counter.describedHint, value: draft.described, oninput: keep("described") }),
      field({ label: T.counter.by, hint: T.counter.byHint, value: draft.by, oninput: keep("by") })),
    asked.map(lookChoice),
    step === 2 && numbers(),
    step === 3 && looksLike(),
    h("div", { class: "row ends" },
      step > 0
        ? h("button", { type: "button", onclick: () => go(step - 1) }, T.back)
        : h("button", { type: "button", onclick: () => { draft = emptyDraft(); go(0); } }, T.counter.fresh),
      h("button", { type: "button", class: "main", onclick: () => go(step + 1) }, step < LAST ? T.next : T.counter.tell)));
}

function numbers() {
  return [
    h("div", { class: "fields" },
      field({ label: T.counter.weight, hint: T.counter.weightHint, unit: "ct", kind: "number", value: draft.weight, oninput: keep("weight") }),
      SIZES.map((key) => field({ label: T.counter.sizes[key], unit: "mm", kind: "number", value: draft.sizes[key] ?? "", oninput: (text) => { draft.sizes[key] = text; } })),
      field({ label: T.counter.index, hint: T.counter.indexHint, kind: "number", value: draft.index, oninput: keep("index") }),
      field({ label: T.counter.gravity, hint: T.counter.gravityHint, kind: "number", value: draft.gravity, oninput: keep("gravity") })),
    pills(T.counter.outline, OUTLINES, T.counter.outlines, draft.outline, (key) => { draft.outline = key; }),
    waterWeighing(draft),
  ];
}

/** What papers state beside what the stone is. */
function looksLike() {
  const notStated = { [undefined]: T.counter.notStated };
  const same = (keys) => Object.fromEntries(keys.map((key) => [key, key]));
  const glued = ["straight-join", "cap-and-back"].includes(draft.looks["side-view"]);
  const told = TOLD.filter((what) => glued || !["cap", "back"].includes(what));
  return [
    h("p", { class: "hint" }, T.counter.looksLikeHint),
    pills(T.counter.tone, [...TONES, undefined], { ...same(TONES), ...notStated }, draft.tone, (key) => { draft.tone = key; draft.seen["body-tone"] = today(); }),
    pills(T.counter.viewed, VIEWS, T.counter.views, draft.viewed, (key) => { draft.viewed = key; }),
    pills(T.counter.brightness, [...BRIGHTNESS, undefined], { ...same(BRIGHTNESS), ...notStated }, draft.brightness, (key) => { draft.brightness = key; draft.seen.brightness = today(); }),
    h("div", { class: "fields" },
      told.map((what) => field({ label: T.counter.said[what], hint: T.counter.saidHints[what], value: draft.said[what] ?? "", oninput: (text) => { draft.said[what] = text; draft.seen[what] = today(); } })),
      field({ label: T.counter.toldBy, hint: T.counter.toldByHint, value: draft.toldBy, oninput: keep("toldBy") })),
  ];
}

function pills(legend, keys, names, value, onchange) {
  const name = freshId("pills");
  return h("fieldset", { class: "pills" }, h("legend", {}, legend),
    keys.map((key) => h("label", { class: "pill" },
      h("input", { type: "radio", name, value: key ?? "", checked: value === key, onchange: () => onchange(key) }),
      h("span", {}, names[key]))));
}

function lookChoice(look) {
  const name = freshId("look");
  const photo = h("div", { class: "look-photo" });
  const option = (key, text, drawing) => h("label", { class: "option" },
    h("input", {
      type: "radio", name, value: key ?? "", checked: draft.looks[look.key] === key,
      onchange: () => {
        if (key === undefined) delete draft.looks[look.key];
        else { draft.looks[look.key] = key; draft.seen[look.key] = today(); }
        put(photo, photoChoice(look));
      },
    }),
    h("span", { class: "option-text" }, drawing, text));
  put(photo, photoChoice(look));
  return h("fieldset", { class: "choice" },
    h("legend", {}, look.question),
    CAUTIONS.includes(look.key) && h("p", { class: "note warn" }, T.counter.cautions[look.key]),
    h("div", { class: "options looks" },
      look.values.map((value) => option(value.key, value.name, lookDrawing(look.key, value.key))),
      option(undefined, T.counter.notLooked)),
    photo);
}

/** A photo of what was seen; there is none of what was not looked at. */
function photoChoice(look) {
  if (draft.looks[look.key] === undefined) return null;
  const said = h("span", { class: "hint", role: "status" }, draft.photos[look.key] && T.counter.photoTaken);
  return h("label", { class: "button quiet" },
    h("input", {
      type: "file", accept: "image/jpeg,image/png,image/webp", class: "unseen",
      onchange: async (e) => {
        const [file] = e.target.files;
        const photo = file && await photoOf(look.key, file);
        if (photo) draft.photos[look.key] = photo;
        said.textContent = photo ? T.counter.photoTaken : T.counter.photoRefused;
      },
    }),
    T.counter.photo(look.name), " ", said);
}

function result(stones, go) {
  const place = h("div", { "aria-busy": "true" }, h("p", {}, T.counter.working));
  const heading = h("h2", { tabindex: -1 }, T.counter.result);
  const readings = readingsOf(draft);
  let keptWith;
  api.identify(readings).then((doc) => {
    place.removeAttribute("aria-busy");
    put(place, answer(doc), doc.grounds.length > 0
      ? [keepPanel(readings, photosOf(draft), stones, (stone) => { keptWith = stone; }), papers(readings, () => keptWith)]
      : h("p", { class: "note" }, T.counter.noPapers));
    say(doc.answer);
  }, (error) => {
    place.removeAttribute("aria-busy");
    put(place, refusal(error));
  });
  return h("div", {}, heading, place,
    h("div", { class: "row ends" },
      h("button", { type: "button", onclick: () => go(LAST) }, T.back),
      h("button", { type: "button", onclick: () => { draft = emptyDraft(); go(0); } }, T.counter.fresh)));
}
