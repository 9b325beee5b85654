// A copy of everything to keep elsewhere, and a stone that comes in a file.

import * as api from "../api.js";
import { h, put } from "../dom.js";
import { T } from "../strings.js";
import { field } from "../parts/fields.js";
import { refusal } from "../parts/refusal.js";

const C = T.copies;

export async function copies() {
  const answer = h("div", { "aria-live": "polite" });
  let file = null;
  let under = "";
  const take = async () => {
    if (!file) return put(answer, h("p", { class: "fault", role: "alert" }, C.needFile));
    put(answer, h("p", { class: "thinking" }, T.takeIn.working));
    try {
      const { number, added } = await api.importStone(file, under.trim() || undefined);
      put(answer, h("p", { class: "note good" }, added ? C.added : C.there, " ", h("a", { href: `#/stone/${number}` }, C.look)));
    } catch (error) {
      put(answer, refusal(error));
    }
  };
  return {
    title: C.title,
    node: h("div", { class: "page narrow" },
      h("h1", { tabindex: -1 }, C.title),
      h("section", { class: "panel", "aria-labelledby": "copy-all" },
        h("h2", { id: "copy-all" }, C.all), h("p", {}, C.allLead),
        h("p", {}, h("a", { class: "button main", href: api.backupPath, download: "" }, C.save)),
        h("p", { class: "hint" }, C.restore), h("pre", {}, "opalwright restore copy.db")),
      h("section", { class: "panel", "aria-labelledby": "copy-in" },
        h("h2", { id: "copy-in" }, C.one), h("p", {}, C.oneLead),
        h("div", { class: "field wide" },
          h("label", { for: "stone-file" }, C.file),
          h("input", { id: "stone-file", type: "file", accept: ".json,application/json", onchange: (e) => { file = e.target.files[0] ?? null; } })),
        field({ label: C.under, hint: C.underHint, wide: true, oninput: (v) => { under = v; } }),
        h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: take }, C.take)), answer)),
  };
}
