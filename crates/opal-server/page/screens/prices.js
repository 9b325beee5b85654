// The price book as a form: classes by brightness, costs, limits, the bench. What a
// form would only make harder stays text, which is the whole book.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { typed } from "../format.js";
import { T } from "../strings.js";
import { wholeBook } from "../parts/book-text.js";
import { choice, field, markFault } from "../parts/fields.js";
import { refusal } from "../parts/refusal.js";

const P = T.prices;
const VARIETIES = ["black", "dark", "light", "crystal", "boulder", "matrix"];
const BRIGHTNESS = ["brilliant", "very-bright", "bright", "subdued", "dull"];
/** Carats of these are mostly rock: they go by the face. */
const BY_FACE = new Set(["boulder", "matrix"]);

/** Where each figure of the form stands in the book; `share` is shown in percent. */
const FIGURES = {
  bid: [["bid.margin", "share"], ["bid.chance_of_loss", "share"], ["bid.capital", "money"], ["bid.fee", "share"]],
  costs: [
    ["costs.labour_per_hour", "money"], ["costs.selling_fee", "share"],
    ["costs.minutes.a_stone", "min"], ["costs.minutes.a_cut", "min"], ["costs.minutes.sawing_a_cm2", "min"], ["costs.minutes.grinding_a_cm3", "min"],
    ["costs.minutes.finishing_a_cm2", "min"], ["costs.minutes.selling_a_stone", "min"], ["costs.minutes.a_piece", "min"],
    ["costs.consumables.blade_a_cm2", "money"], ["costs.consumables.wheels_a_cm3", "money"], ["costs.consumables.polish_a_cm2", "money"],
    ["costs.consumables.sundries_a_stone", "money"], ["costs.consumables.posting_a_stone", "money"],
  ],
  bench: [["bench.kerf_mm", "mm"], ["bench.saw_reach_mm", "mm"]],
};

export async function prices() {
  let book = await api.prices();
  const changed = new Map();
  const form = h("div", { class: "form" });
  const answer = h("div", { id: "book-faults" });
  const status = h("p");
  let variety = "black";

  const at = (path) => path.split(/[.[\]]+/).filter(Boolean).reduce((node, key) => node?.[key], book.fields);
  const shown = (path, kind) => {
    if (changed.has(path)) return changed.get(path).said;
    const value = at(path);
    return value === undefined ? "" : kind === "share" ? String(Number((100 * value).toPrecision(12))) : String(value);
  };
  const note = (path, kind, said) => changed.set(path, { kind, said });
  const units = { share: "%", money: book.currency, min: P.minutes, mm: "mm" };
  const figure = ([path, kind]) => {
    const [label, hint] = P.fields[path];
    return field({ label, hint, unit: units[kind], kind: "number", path, value: shown(path, kind), oninput: (said) => note(path, kind, said) });
  };

  /** The rows of one variety, brightest first; one that is not there yet is empty. */
  function rows() {
    const all = book.fields.row ?? [];
    let fresh = all.length + [...changed.keys()].filter((p) => /^row\[\d+\]\.variety$/.test(p)).length;
    const by = BY_FACE.has(variety) ? "per_face_mm2" : "per_carat";
    return h("div", { class: "classes" }, BRIGHTNESS.map((bright) => {
      const k = all.findIndex((row) => row.variety === variety && row.brightness === bright);
      const added = [...changed].find(([p, c]) => c.row === `${variety}/${bright}` && p.endsWith(".variety"));
      const index = k >= 0 ? k : added ? Number(/\d+/.exec(added[0])[0]) : undefined;
      const kept = k >= 0 && all[k].per_face_mm2 ? "per_face_mm2" : k >= 0 && all[k].per_carat ? "per_carat" : by;
      const end = (which) => {
        let path = index === undefined ? undefined : `row[${index}].${kept}.${which}`;
        return field({
          label: h("span", {}, P.ends[which], h("span", { class: "unseen" }, `, ${T.takeIn.brightnesses[bright.replace("-", " ")]}`)), hint: "", kind: "number",
          path: path ?? `row.${bright}.${which}`, value: path ? shown(path, "money") : "",
          oninput: (said) => {
            if (!path) {
              // The first figure of a class that the book does not have makes its row.
              const row = [...changed].find(([p, c]) => c.row === `${variety}/${bright}` && p.endsWith(".variety"));
              const place = row ? /^row\[\d+\]/.exec(row[0])[0] : `row[${fresh++}]`;
              if (!row) {
                changed.set(`${place}.variety`, { kind: "word", said: variety, row: `${variety}/${bright}` });
                changed.set(`${place}.brightness`, { kind: "word", said: bright });
              }
              path = `${place}.${kept}.${which}`;
            }
            note(path, "money", said);
          },
        });
      };
      return h("fieldset", { class: "class" },
        h("legend", {}, T.takeIn.brightnesses[bright.replace("-", " ")], " ", h("span", { class: "hint" }, kept === "per_carat" ? P.aCarat(book.currency) : P.aSquare(book.currency))),
        end("low"), end("high"));
    }));
  }

  function draw() {
    status.className = book.example ? "note warn" : "note";
    status.textContent = book.example ? P.example : P.own;
    const invented = at("invented") && !changed.has("invented");
    const classes = h("div");
    const showClasses = () => put(classes, rows());
    showClasses();
    put(form,
      h("section", { class: "panel", "aria-labelledby": "price-head" },
        h("h2", { id: "price-head" }, P.head),
        field({ label: P.titleLabel, hint: P.titleHint, path: "title", wide: true, value: shown("title"), oninput: (said) => note("title", "word", said) }),
        h("div", { class: "fields" },
          field({ label: P.currency, hint: P.currencyHint, path: "currency", value: shown("currency"), oninput: (said) => note("currency", "word", said.toUpperCase()) }),
          figure(["market_spread", "share"])),
        h("label", { class: "check" },
          h("input", { type: "checkbox", checked: !invented, onchange: (e) => changed.set("invented", { kind: "flag", said: !e.target.checked }) }),
          h("span", {}, P.mine))),
      h("section", { class: "panel narrow-choices", "aria-labelledby": "price-classes" },
        h("h2", { id: "price-classes" }, P.classes),
        h("p", { class: "hint" }, P.classesHint),
        choice({ legend: P.variety, value: variety, options: VARIETIES.map((v) => [v, T.takeIn.varieties[v]]), onchange: (v) => { variety = v; showClasses(); } }),
        classes),
      ["bid", "costs", "bench"].map((part) => h("section", { class: "panel", "aria-labelledby": `price-${part}` },
        h("h2", { id: `price-${part}` }, P.parts[part]), h("p", { class: "hint" }, P.partHints[part]),
        h("div", { class: "fields" }, FIGURES[part].map(figure)))));
  }

  async function keep(event) {
    const button = event.currentTarget;
    put(answer);
    const { changes, faults } = read(changed);
    if (faults.length > 0) return told(faults);
    if (changes.length === 0) return put(answer, h("p", { class: "note" }, P.unchanged));
    button.disabled = true;
    try {
      await api.changePrices(changes);
      await again();
      put(answer, h("p", { class: "note good" }, P.saved));
      say(P.saved);
    } catch (error) {
      if (error.kind !== "faults") put(answer, refusal(error));
      else told(error.faults.map((f) => [f.field, `${f.value}; ${f.limit}`]));
    } finally {
      button.disabled = false;
    }
  }

  function told(faults) {
    const left = [];
    let first = null;
    for (const [path, words] of faults) {
      // A class that is not on the screen is brought there.
      const row = /^row\[(\d+)\]/.exec(path);
      const its = row && (changed.get(`${row[0]}.variety`)?.said ?? book.fields.row[row[1]]?.variety);
      if (its && its !== variety && !first) { variety = its; draw(); }
      const node = markFault(form, path, words);
      if (node) first ??= node;
      else left.push(`${P.fields[path]?.[0] ?? path}: ${words}`);
    }
    put(answer, h("div", { class: "refusal", role: "alert" },
      h("p", {}, h("strong", {}, P.faults(faults.length))),
      left.length > 0 && h("ul", {}, left.map((words) => h("li", {}, words)))));
    first?.focus();
  }

  const text = wholeBook(async () => { await again(); });
  async function again() {
    book = await api.prices();
    changed.clear();
    draw();
    text.show(book);
  }
  draw();
  text.show(book);
  return {
    title: P.title,
    node: h("div", { class: "page" },
      h("div", { class: "lead" },
        h("div", {}, h("h1", { tabindex: -1 }, P.title), h("p", {}, P.lead)),
        h("div", { class: "row tight" },
          h("a", { class: "button quiet", href: "#/wheels" }, T.wheels.title),
          h("a", { class: "button quiet", href: "#/price" }, T.price.go))),
      status, form, answer,
      h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: keep }, P.save)),
      text.element),
  };
}

/** What was changed, as the server takes it, and what is no figure. */
function read(changed) {
  const changes = [];
  const faults = [];
  const emptied = emptyRows(changed);
  for (const [row, isNew] of emptied) if (!isNew) changes.push({ field: row, value: null });
  for (const [path, { kind, said }] of changed) {
    if (emptied.has(/^row\[\d+\]/.exec(path)?.[0])) continue;
    if (kind === "word" || kind === "flag") changes.push({ field: path, value: said });
    else if (said.trim() === "") changes.push({ field: path, value: null });
    else {
      const value = typed(said);
      if (Number.isNaN(value)) faults.push([path, T.books.noNumber(said)]);
      else changes.push({ field: path, value: kind === "share" ? Number((value / 100).toPrecision(12)) : value });
    }
  }
  return { changes, faults };
}

/** Classes whose two figures were both rubbed out: they leave the book. */
function emptyRows(changed) {
  const rows = new Map();
  for (const [path, { said }] of changed) {
    const row = /^(row\[\d+\])\.per_/.exec(path)?.[1];
    if (row) rows.set(row, [...(rows.get(row) ?? []), said.trim()]);
  }
  return new Map([...rows].filter(([, said]) => said.length === 2 && said.every((v) => v === "")).map(([row]) => [row, changed.has(`${row}.variety`)]));
}
