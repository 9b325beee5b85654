// What the cutter's own stones have taught, field by field, and how forecasts did.

import * as api from "../api.js";
import { h } from "../dom.js";
import { number, percent, reading } from "../format.js";
import { T } from "../strings.js";
import { figureTable } from "../parts/figure-table.js";

const L = T.learned;

export async function learned() {
  const doc = await api.learned();
  return {
    title: L.title,
    node: h("div", { class: "page" },
      h("h1", { tabindex: -1 }, L.title), h("p", {}, L.lead),
      h("p", {}, L.onRecord(doc.stones, doc.finished)),
      doc.origins.length === 0 && h("div", { class: "panel empty" }, h("p", {}, L.empty)),
      doc.origins.map(field),
      doc.forecasts.length > 0 && forecasts(doc.forecasts),
      doc.warnings.map((words) => h("p", { class: "note" }, words))),
  };
}

const show = { "bar-thickness": (v) => L.usual(percent(v)), specks: (v) => L.usual(percent(v)), yield: (v) => `${number(100 * v, 0)} %` };
const told = (what, v) => (show[what] ?? reading)(v);

function field({ origin, stones, taught }, k) {
  return h("section", { class: "panel", "aria-labelledby": `field-${k}` },
    h("h2", { id: `field-${k}` }, L.field(origin)),
    h("p", { class: "hint" }, L.from(stones)),
    taught.length === 0 ? h("p", {}, L.nothingYet) : figureTable({
      caption: L.field(origin), columns: L.columns,
      rows: taught.map((t) => [
        [L.what[t.what] ?? t.what, h("small", {}, L.restsOn(t.stones))],
        [told(t.what, t.middle), h("small", {}, T.books.range(...t.between.map((v) => told(t.what, v))))],
        told(t.what, t.elsewhere),
      ]),
    }));
}

function forecasts(all) {
  const value = (f, v) => (f.what === "clean-share" ? `${number(100 * v, 0)} %` : f.what === "finished-weight" ? `${reading(v)} ct` : reading(v));
  return h("section", { class: "panel", "aria-labelledby": "forecasts" },
    h("h2", { id: "forecasts" }, L.forecasts), h("p", { class: "hint" }, L.forecastsHint),
    figureTable({
      caption: L.forecasts, columns: L.forecastColumns,
      rows: all.map((f) => [
        [L.what[f.what] ?? f.what, h("small", {}, f.of === "all" ? L.all : T.forms[f.of] ?? f.of)],
        L.held(f.held_90, f.stones),
        [f.bias >= 0 ? L.more(value(f, f.bias)) : L.less(value(f, -f.bias)), f.stones > 1 && h("small", {}, `± ${value(f, f.bias_error)}`)],
      ]),
    }));
}
