// The whole price book as text: curves, rough, shapes and remarks, which a form would
// only make harder.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { T } from "../strings.js";
import { faultText, refusal } from "./refusal.js";

const P = T.prices;

/** The whole book as text: curves, rough, shapes and remarks too. */
export function wholeBook(kept) {
  const answer = h("div");
  const text = h("textarea", { id: "book", rows: 28, spellcheck: "false", autocapitalize: "off", "aria-describedby": "text-faults" });
  const keep = async () => {
    put(answer);
    try {
      await api.setPrices(text.value);
      await kept();
      put(answer, h("p", { class: "note good" }, P.saved));
      say(P.saved);
    } catch (error) {
      if (error.kind !== "faults") return put(answer, refusal(error));
      put(answer, h("div", { class: "refusal", role: "alert" },
        h("p", {}, h("strong", {}, P.faults(error.faults.length))),
        h("ul", {}, error.faults.map((fault) => h("li", {},
          fault.line
            ? h("button", { type: "button", class: "link", onclick: () => goToLine(text, fault.line) }, faultText(fault))
            : faultText(fault))))));
    }
  };
  return {
    show: (book) => { text.value = book.text; },
    element: h("details", { class: "why whole-book" },
      h("summary", {}, P.asText),
      h("p", { class: "hint" }, P.asTextHint),
      h("div", { class: "field wide" }, h("label", { for: "book" }, P.label), text),
      h("div", { id: "text-faults" }, answer),
      h("div", { class: "row" }, h("button", { type: "button", onclick: keep }, P.saveText))),
  };
}

function goToLine(text, line) {
  const lines = text.value.split("\n");
  const from = lines.slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
  text.focus();
  text.setSelectionRange(from, from + (lines[line - 1] ?? "").length);
}
