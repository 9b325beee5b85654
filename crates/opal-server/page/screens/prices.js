// The price book, as the cutter's own text.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { T } from "../strings.js";
import { faultText, refusal } from "../parts/refusal.js";

export async function prices() {
  const book = await api.prices();
  const answer = h("div");
  const status = h("p", { class: book.example ? "note warn" : "note" }, book.example ? T.prices.example : T.prices.own);
  const text = h("textarea", { id: "book", rows: 28, spellcheck: "false", autocapitalize: "off", "aria-describedby": "book-faults" });
  text.value = book.text;
  const keep = async () => {
    put(answer);
    try {
      await api.setPrices(text.value);
      status.className = "note";
      status.textContent = T.prices.own;
      put(answer, h("p", { class: "note good" }, T.prices.saved));
      say(T.prices.saved);
    } catch (error) {
      if (error.kind !== "faults") return put(answer, refusal(error));
      put(answer, h("div", { class: "refusal", role: "alert" },
        h("p", {}, h("strong", {}, T.prices.faults(error.faults.length))),
        h("ul", {}, error.faults.map((fault) => h("li", {},
          fault.line
            ? h("button", { type: "button", class: "link", onclick: () => goToLine(text, fault.line) }, faultText(fault))
            : faultText(fault))))));
    }
  };
  return {
    title: T.prices.title,
    node: h("div", { class: "page" },
      h("h1", { tabindex: -1 }, T.prices.title),
      h("p", {}, T.prices.lead),
      status,
      h("div", { class: "field wide" }, h("label", { for: "book" }, T.prices.label), text),
      h("div", { id: "book-faults" }, answer),
      h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: keep }, T.prices.save))),
  };
}

function goToLine(text, line) {
  const lines = text.value.split("\n");
  const from = lines.slice(0, line - 1).join("\n").length + (line > 1 ? 1 : 0);
  text.focus();
  text.setSelectionRange(from, from + (lines[line - 1] ?? "").length);
}
