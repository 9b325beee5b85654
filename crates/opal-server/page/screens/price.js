// What a finished stone would fetch: weighed, measured, graded in the trade's words;
// what nobody judged stays open.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { carats, money, number, reading, typed } from "../format.js";
import { T } from "../strings.js";
import { choice, field, markFault } from "../parts/fields.js";
import { figureTable } from "../parts/figure-table.js";
import { rangeBar } from "../parts/range-bar.js";
import { refusal } from "../parts/refusal.js";
import { why } from "../parts/why.js";

const P = T.price;
/** Scales that move the price most; the others wait behind 'more'. */
const FIRST = ["brightness", "variety"];

export async function price(n) {
  const [scales, page] = await Promise.all([api.scales(), n === undefined ? null : api.stone(n)]);
  const told = { stone: page ? page.card.name : "", sizes: ["", "", ""], grade: {}, outline: "oval" };
  const form = h("div", { class: "form" });
  const answer = h("div", { "aria-live": "polite" });
  const text = (key, more = {}) => field({ path: key, value: told[key] ?? "", oninput: (said) => { told[key] = said; }, ...P.fields[key], ...more });

  const scale = (s) => choice({
    legend: P.scales[s.key] ?? s.says, value: [], several: true, path: `grade.${s.key}`,
    options: s.words.map(({ word, plain }) => [word, capital(word), plain]),
    onchange: (words) => { told.grade[s.key] = words.join(", "); },
  });

  put(form,
    h("section", { class: "panel", "aria-labelledby": "price-piece" },
      h("h2", { id: "price-piece" }, P.piece),
      text("stone", { wide: true }),
      h("div", { class: "fields" },
        text("weight_ct", { kind: "number", unit: "ct" }),
        ["length", "width", "height"].map((key, k) => field({
          label: P.sizes[k], kind: "number", unit: "mm", path: `sizes_mm[${k}]`, value: "", oninput: (said) => { told.sizes[k] = said; },
        })),
        text("colour_mm", { kind: "number", unit: "mm" }),
        text("clean_share", { kind: "number", unit: "%" })),
      choice({ legend: P.outline, path: "outline", value: told.outline, options: [...Object.entries(T.plans.families), ["freeform", T.plans.kinds.freeform], ["specimen", P.specimen]], onchange: (v) => { told.outline = v; } })),
    h("section", { class: "panel", "aria-labelledby": "price-grade" },
      h("h2", { id: "price-grade" }, P.grade), h("p", { class: "hint" }, P.gradeHint),
      text("body_tone"),
      scales.filter((s) => FIRST.includes(s.key)).sort((a, b) => FIRST.indexOf(a.key) - FIRST.indexOf(b.key)).map(scale),
      h("details", { class: "why" }, h("summary", {}, P.more), scales.filter((s) => !FIRST.includes(s.key)).map(scale), text("note", { wide: true }))),
    h("section", { class: "panel", "aria-labelledby": "price-cost" },
      h("h2", { id: "price-cost" }, P.floor),
      h("div", { class: "fields" }, text("cost", { kind: "number" }), text("origin"))));

  async function see(event) {
    const button = event.currentTarget;
    put(answer);
    const { doc, faults } = read(told);
    if (faults.length > 0) return show(faults);
    button.disabled = true;
    try {
      put(answer, result(await api.price(doc)));
      answer.scrollIntoView({ block: "start" });
      say(answer.querySelector(".price").textContent);
    } catch (error) {
      if (error.kind !== "faults") return put(answer, refusal(error));
      show(error.faults.map((f) => [f.field, `${f.value}: ${f.limit}`]));
    } finally {
      button.disabled = false;
    }
  }

  function show(faults) {
    const left = [];
    let first = null;
    for (const [path, words] of faults) {
      const node = markFault(form, path, words) ?? markFault(form, `grade.${path}`, words);
      if (node) first ??= node;
      else left.push(`${P.fields[path]?.label ?? path}: ${words}`);
    }
    put(answer, h("div", { class: "refusal", role: "alert" },
      h("p", {}, h("strong", {}, P.notYet(faults.length))), left.length > 0 && h("ul", {}, left.map((words) => h("li", {}, words)))));
    first?.focus();
  }

  return {
    title: P.title,
    node: h("div", { class: "page" },
      h("h1", { tabindex: -1 }, P.title), h("p", {}, P.lead), form,
      h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: see }, P.see)),
      answer),
  };
}

const capital = (word) => word[0].toUpperCase() + word.slice(1);

/** What was filled in, as the server takes it, and what is missing or no figure. */
function read(told) {
  const faults = [];
  const figure = (path, said, needed, scale = 1) => {
    if ((said ?? "").trim() === "") return void (needed && faults.push([path, T.books.missing]));
    const value = typed(said);
    if (Number.isNaN(value)) return void faults.push([path, T.books.noNumber(said)]);
    return value / scale;
  };
  const doc = {
    stone: told.stone.trim() || P.unnamed,
    weight_ct: figure("weight_ct", told.weight_ct, true),
    sizes_mm: told.sizes.map((said, k) => figure(`sizes_mm[${k}]`, said, true)),
    outline: told.outline,
    grade: Object.fromEntries(Object.entries(told.grade).filter(([, words]) => words !== "")),
  };
  for (const [key, scale] of [["colour_mm", 1], ["clean_share", 100], ["cost", 1]]) {
    const value = figure(key, told[key], false, scale);
    if (value !== undefined) doc[key] = value;
  }
  if (told.body_tone?.trim()) doc.grade["body-tone"] = told.body_tone.trim();
  for (const key of ["note", "origin"]) if (told[key]?.trim()) doc[key] = told[key].trim();
  return { doc, faults };
}

function result(doc) {
  const cash = (v) => money(v, doc.currency);
  const { amount, asking } = doc;
  const [low, middle, high] = ["0.05", "0.5", "0.95"].map((level) => amount[level]);
  const days = asking.days.map((v) => number(v, 0));
  return h("section", { class: "panel", "aria-labelledby": "price-answer" },
    h("h2", { id: "price-answer" }, P.answer(doc.piece)),
    h("p", { class: "price" }, P.about(cash(middle))),
    h("p", { class: "plain" }, T.nineInTen(cash(low), cash(high)), "."),
    rangeBar(amount, { label: P.barLabel(cash(middle), cash(low), cash(high)), format: (v) => money(v, "").trim(), mark: { at: asking.ask, label: P.askMark } }),
    doc.prices_invented && h("p", { class: "note warn" }, T.stone.pricesInvented),
    h("p", {}, P.by[doc.price_by]),
    figureTable({
      caption: P.offer, columns: [P.what, P.figure],
      rows: [
        [P.ask, cash(asking.ask)],
        asking.floor != null && [P.floorRow, [cash(asking.floor), asking.below_floor != null && h("small", {}, P.below(number(20 * asking.below_floor, 0)))]],
        [P.days, [P.daysAbout(days[1]), h("small", {}, P.daysBetween(days[0], days[2]))]],
        doc.price_by === "carat" && [P.perCarat, P.aCarat(cash(doc.per_counted_carat), carats(doc.counted_ct))],
        [P.perFace, P.aFace(`${doc.currency} ${reading(doc.per_face_mm2)}`)],
      ].filter(Boolean),
    }),
    doc.finished.not_judged.length > 0 && h("p", { class: "hint" }, P.open(doc.finished.not_judged.map((key) => P.nouns[key] ?? key).join(", "))),
    doc.warnings.map((words) => h("p", { class: "hint" }, words)),
    why(P.title, doc.why));
}
