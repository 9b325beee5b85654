// The words for a finished stone, its card, and a look over a text of one's own.

import * as api from "../api.js";
import { h, put, say, freshId } from "../dom.js";
import { T } from "../strings.js";
import { listed } from "./counter-answer.js";
import { refusal } from "./refusal.js";

const MARKETS = ["international", "united-states", "australia"];
/** Kept while the page is open: a shop sells in one market. */
let market = MARKETS[0];

const wordFaults = (faults) => listed(faults.map((fault) => T.counter.wordFault(fault)));

/** Hands a file to the browser to save. */
function save({ name, file }) {
  const href = URL.createObjectURL(file);
  h("a", { href, download: name }).click();
  // The browser has its own hold on the file once the click is handled.
  setTimeout(() => URL.revokeObjectURL(href), 60_000);
}

/** `keptWith()` gives the number of the stone that readings were kept with, if any. */
export function papers(readings, keptWith) {
  const shown = h("div");
  const trouble = h("div");
  const checked = h("div", { role: "status" });
  const id = freshId("words");
  const text = h("textarea", { id, rows: 4, class: "flow" });
  const fail = (node) => (error) => put(node, refusal(error));
  const show = () => {
    put(checked);
    api.papers(readings, market).then((doc) => put(shown,
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
      const stone = keptWith();
      save(await api.card(readings, market, stone));
      const done = stone === undefined ? T.counter.cardDone : T.counter.cardKept;
      put(trouble, h("p", { class: "note good" }, done));
      say(done);
    } catch (error) {
      put(trouble, refusal(error));
    }
  };
  const check = () => api.lookOverWords(readings, market, text.value).then((doc) => put(checked,
    doc.faults.length === 0 ? h("p", { class: "note good" }, T.counter.wordsGood) : h("div", { class: "note warn" }, wordFaults(doc.faults))), fail(checked));
  show();
  return h("section", { class: "panel", id: "papers" },
    h("h3", {}, T.counter.papers),
    h("fieldset", { class: "pills" }, h("legend", {}, T.counter.market),
      MARKETS.map((key) => h("label", { class: "pill" },
        h("input", { type: "radio", name: "market", value: key, checked: market === key, onchange: () => { market = key; show(); } }),
        h("span", {}, T.counter.markets[key])))),
    shown,
    h("div", { class: "row" }, h("button", { type: "button", class: "main", id: "card", onclick: download }, T.counter.card)),
    trouble,
    h("div", { class: "field wide what-if" }, h("label", { for: id }, T.counter.words), h("p", { class: "hint" }, T.counter.wordsHint), text),
    h("div", { class: "row" }, h("button", { type: "button", onclick: check }, T.counter.check)),
    checked);
}
