// At the counter: what a customer's stone most likely is, step by step, what to
// look at next, and the words for it.

import * as api from "../api.js";
import { freshId, h, put, say } from "../dom.js";
import { typed } from "../format.js";
import { T } from "../strings.js";
import { lookDrawing } from "../parts/counter-looks.js";
import { field } from "../parts/fields.js";
import { refusal } from "../parts/refusal.js";
import { shareBars } from "../parts/shares.js";

const STEPS = [["side-view", "back"], ["pattern", "specks", "body", "transparency"], ["fluorescence", "afterglow", "water-drop"]];
/** Looks that need a word of caution before they are done. */
const CAUTIONS = ["fluorescence", "water-drop"];
const SIZES = ["length_mm", "width_mm", "height_mm"];
const OUTLINES = ["oval", "round", "freeform"];
const MARKETS = ["international", "united-states", "australia"];

const emptyDraft = () => ({ name: "", by: "", described: "", weight: "", gravity: "", index: "", looks: {}, seen: {}, outline: OUTLINES[0], sizes: {}, market: MARKETS[0] });
/** Kept while the page is open, so that a look elsewhere loses nothing. */
let draft = emptyDraft();

/** What cannot be read as a number is sent as it is: the answer names its place. */
const number = (text) => {
  if (text.trim() === "") return undefined;
  const value = typed(text);
  return Number.isNaN(value) ? text : value;
};

/** The readings file of what was typed and chosen. */
function readingsOf(d) {
  const by = d.by.trim() || undefined;
  const reading = Object.entries(d.looks).map(([look, value]) => ({ id: look, look, value, by, at: d.seen[look] }));
  for (const look of ["gravity", "index"]) {
    const value = number(d[look]);
    if (value !== undefined) reading.push({ id: look, look, value, by, at: d.seen[look] });
  }
  const sizes = Object.fromEntries(SIZES.map((key) => [key, number(d.sizes[key] ?? "")]));
  const sized = SIZES.some((key) => sizes[key] !== undefined);
  return {
    format: "opalwright-readings/1",
    stone: {
      name: d.name.trim() || T.counter.unnamed,
      described_as: d.described.trim() || undefined,
      weight_ct: number(d.weight),
      sizes: sized ? { outline: d.outline, ...sizes } : undefined,
    },
    reading,
  };
}

const today = () => new Date().toISOString().slice(0, 10);

export async function counter() {
  const { looks } = await api.looks();
  const place = h("div");
  const go = (step) => {
    put(place, step < 3 ? form(looks, step, go) : result(go));
    place.querySelector("h2")?.focus({ preventScroll: true });
    scrollTo(0, 0);
  };
  put(place, form(looks, 0, go));
  return {
    title: T.counter.title,
    node: h("div", { class: "page narrow" },
      h("h1", { tabindex: -1 }, T.counter.title),
      h("p", { class: "note" }, T.counter.truth),
      place),
  };
}

function form(looks, step, go) {
  const asked = STEPS[step].map((key) => looks.find((look) => look.key === key)).filter(Boolean);
  const keep = (key) => (text) => { draft[key] = text; draft.seen[key] = today(); };
  return h("div", { class: "form" },
    h("h2", { tabindex: -1 }, T.counter.step(step + 1, 3, T.counter.steps[step])),
    step === 0 && h("div", { class: "fields" },
      field({ label: T.counter.name, hint: T.counter.nameHint, value: draft.name, oninput: keep("name") }),
      field({ label: T.counter.described, hint: T.counter.describedHint, value: draft.described, oninput: keep("described") }),
      field({ label: T.counter.by, hint: T.counter.byHint, value: draft.by, oninput: keep("by") })),
    asked.map(lookChoice),
    step === 2 && h("div", { class: "fields" },
      field({ label: T.counter.weight, hint: T.counter.weightHint, unit: "ct", kind: "number", value: draft.weight, oninput: keep("weight") }),
      SIZES.map((key) => field({ label: T.counter.sizes[key], unit: "mm", kind: "number", value: draft.sizes[key] ?? "", oninput: (text) => { draft.sizes[key] = text; } })),
      field({ label: T.counter.index, hint: T.counter.indexHint, kind: "number", value: draft.index, oninput: keep("index") }),
      field({ label: T.counter.gravity, hint: T.counter.gravityHint, kind: "number", value: draft.gravity, oninput: keep("gravity") })),
    step === 2 && h("fieldset", { class: "pills" }, h("legend", {}, T.counter.outline),
      OUTLINES.map((key) => h("label", { class: "pill" },
        h("input", { type: "radio", name: "outline", value: key, checked: draft.outline === key, onchange: () => { draft.outline = key; } }),
        h("span", {}, T.counter.outlines[key])))),
    h("div", { class: "row ends" },
      step > 0
        ? h("button", { type: "button", onclick: () => go(step - 1) }, T.back)
        : h("button", { type: "button", onclick: () => { draft = emptyDraft(); go(0); } }, T.counter.fresh),
      h("button", { type: "button", class: "main", onclick: () => go(step + 1) }, step < 2 ? T.next : T.counter.tell)));
}

function lookChoice(look) {
  const name = freshId("look");
  const option = (key, text, drawing) => h("label", { class: "option" },
    h("input", {
      type: "radio", name, value: key ?? "", checked: draft.looks[look.key] === key,
      onchange: () => {
        if (key === undefined) delete draft.looks[look.key];
        else { draft.looks[look.key] = key; draft.seen[look.key] = today(); }
      },
    }),
    h("span", { class: "option-text" }, drawing, text));
  return h("fieldset", { class: "choice" },
    h("legend", {}, look.question),
    CAUTIONS.includes(look.key) && h("p", { class: "note warn" }, T.counter.cautions[look.key]),
    h("div", { class: "options looks" },
      look.values.map((value) => option(value.key, value.name, lookDrawing(look.key, value.key))),
      option(undefined, T.counter.notLooked)));
}

function result(go) {
  const place = h("div", { "aria-busy": "true" }, h("p", {}, T.counter.working));
  const heading = h("h2", { tabindex: -1 }, T.counter.result);
  api.identify(readingsOf(draft)).then((doc) => {
    place.removeAttribute("aria-busy");
    put(place, answer(doc), doc.grounds.length > 0 ? papers() : h("p", { class: "note" }, T.counter.noPapers));
    say(doc.answer);
  }, (error) => {
    place.removeAttribute("aria-busy");
    put(place, refusal(error));
  });
  return h("div", {}, heading, place,
    h("div", { class: "row ends" },
      h("button", { type: "button", onclick: () => go(2) }, T.back),
      h("button", { type: "button", onclick: () => { draft = emptyDraft(); go(0); } }, T.counter.fresh)));
}

const listed = (items) => h("ul", {}, items.map((item) => h("li", {}, item)));
const folded = (title, items) => items.length > 0 && h("details", { class: "why" }, h("summary", {}, title), listed(items));

function answer(doc) {
  const [first, ...others] = doc.next_tests;
  const test = (t) => [h("strong", {}, t.name), T.counter.test(t)];
  return [
    h("section", { class: "panel", id: "identity" },
      h("h3", {}, doc.stone),
      h("p", { class: "plain" }, doc.answer),
      shareBars(doc.groups.filter((share) => share.high >= 0.02)),
      doc.contradictions.length > 0 && h("div", { class: "note warn" }, h("strong", {}, T.counter.contradictions), listed(doc.contradictions.map((c) => c.words))),
      doc.notes.length > 0 && h("div", { class: "note" }, listed(doc.notes)),
      folded(T.counter.particular, doc.classes.filter((share) => share.share >= 0.02).map((share) => T.counter.shareSaid(share.name, share.share, share.low, share.high))),
      folded(T.counter.grounds(doc.classes[0].name), doc.grounds.map((g) => T.counter.ground(g))),
      folded(T.counter.notTested, doc.not_tested)),
    h("section", { class: "panel", id: "next" },
      h("h3", {}, T.counter.next),
      first ? h("p", {}, test(first)) : h("p", {}, T.counter.nothingNext),
      first && h("p", { class: first.harm === "none" ? "note good" : "note warn" }, T.counter.harm(first.harm)),
      folded(T.counter.others, others.map(test)),
      doc.laboratory && h("p", { class: "note" }, doc.laboratory),
      folded(T.counter.refused, doc.refused_tests.map((t) => [h("strong", {}, t.name), ": ", t.why]))),
  ];
}

function papers() {
  const shown = h("div");
  const trouble = h("div");
  const checked = h("div", { role: "status" });
  const id = freshId("words");
  const text = h("textarea", { id, rows: 4, class: "flow" });
  const fail = (node) => (error) => put(node, refusal(error));
  const show = () => {
    put(checked);
    api.papers(readingsOf(draft), draft.market).then((doc) => put(shown,
      doc.described_as_faults.length > 0 && h("div", { class: "note warn" },
        h("strong", {}, T.counter.doNotCopy), wordFaults(doc.described_as_faults)),
      h("h4", {}, doc.title),
      h("ul", { class: "claims" }, doc.card.slice(1).map((line) => h("li", {}, line.text,
        line.rests_on.length > 0 && h("small", { class: "hint" }, " ", T.counter.restsOn(line.rests_on.map((one) => doc.on_file.find((r) => r.id === one)?.words ?? one)))))),
      h("h4", {}, T.counter.invoice), h("p", {}, doc.invoice),
      h("h4", {}, T.counter.care), listed(doc.care),
      h("p", { class: "hint" }, doc.no_certificate, " ", T.counter.rules(doc.market))), fail(shown));
  };
  const download = async () => {
    put(trouble);
    try {
      const { name, file } = await api.card(readingsOf(draft), draft.market);
      const href = URL.createObjectURL(file);
      h("a", { href, download: name }).click();
      // The browser has its own hold on the file once the click is handled.
      setTimeout(() => URL.revokeObjectURL(href), 60_000);
      say(T.counter.cardDone);
    } catch (error) {
      put(trouble, refusal(error));
    }
  };
  const check = () => api.lookOverWords(readingsOf(draft), draft.market, text.value).then((doc) => put(checked,
    doc.faults.length === 0 ? h("p", { class: "note good" }, T.counter.wordsGood) : h("div", { class: "note warn" }, wordFaults(doc.faults))), fail(checked));
  show();
  return h("section", { class: "panel", id: "papers" },
    h("h3", {}, T.counter.papers),
    h("fieldset", { class: "pills" }, h("legend", {}, T.counter.market),
      MARKETS.map((key) => h("label", { class: "pill" },
        h("input", { type: "radio", name: "market", value: key, checked: draft.market === key, onchange: () => { draft.market = key; show(); } }),
        h("span", {}, T.counter.markets[key])))),
    shown,
    h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: download }, T.counter.card)),
    trouble,
    h("div", { class: "field wide what-if" }, h("label", { for: id }, T.counter.words), h("p", { class: "hint" }, T.counter.wordsHint), text),
    h("div", { class: "row" }, h("button", { type: "button", onclick: check }, T.counter.check)),
    checked);
}

const wordFaults = (faults) => listed(faults.map((fault) => T.counter.wordFault(fault)));
