// A copy of everything to keep elsewhere or to put back, and a stone that comes in a file.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { moment } from "../format.js";
import { waiting } from "../queue.js";
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
        h("p", {}, h("a", { class: "button main", href: api.backupPath, download: "" }, C.save))),
      backPanel(),
      h("section", { class: "panel", "aria-labelledby": "copy-in" },
        h("h2", { id: "copy-in" }, C.one), h("p", {}, C.oneLead),
        h("div", { class: "field wide" },
          h("label", { for: "stone-file" }, C.file),
          h("input", { id: "stone-file", type: "file", accept: ".json,application/json", onchange: (e) => { file = e.target.files[0] ?? null; } })),
        field({ label: C.under, hint: C.underHint, wide: true, oninput: (v) => { under = v; } }),
        h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: take }, C.take)), answer)),
  };
}

/** A copy is looked into first; then it may take the place of everything. */
function backPanel() {
  const answer = h("div", { "aria-live": "polite" });
  let copy = null;
  const look = async (event) => {
    if (!copy) return put(answer, h("p", { class: "fault", role: "alert" }, C.needCopy));
    const button = event.currentTarget;
    button.disabled = true;
    put(answer, h("p", { class: "thinking" }, T.takeIn.working));
    try {
      put(answer, offer(await api.lookIntoCopy(copy)));
    } catch (error) {
      put(answer, refusal(error));
    } finally {
      button.disabled = false;
    }
  };
  const held = (title, what) => h("div", { class: "held" }, h("h3", {}, title), h("p", {}, C.held(what.stones, what.entries)),
    what.last && h("p", { class: "hint" }, C.lastWritten(moment(what.last))));
  const offer = (both) => {
    const left = waiting.all().length;
    return h("div", { id: "copy-offer" },
      h("div", { class: "columns" }, held(C.holds, both.copy), held(C.here, both.here)),
      both.here.last && (both.copy.last ?? "") < both.here.last && h("p", { class: "note warn" }, C.older),
      h("p", { class: "hint" }, C.devicesStay),
      left > 0
        ? h("p", { class: "note warn" }, C.waiting(left))
        : h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: putBack }, C.put)));
  };
  const putBack = async (event) => {
    event.currentTarget.disabled = true;
    try {
      const { stones, kept } = await api.putCopyBack(copy);
      put(answer, h("div", { class: "note good" }, h("p", {}, C.isBack(stones)), h("p", {}, C.keptIn(kept)), h("p", {}, h("a", { href: "#/" }, C.bench))));
      say(C.isBack(stones));
    } catch (error) {
      put(answer, refusal(error));
    }
  };
  return h("section", { class: "panel", "aria-labelledby": "copy-back" },
    h("h2", { id: "copy-back" }, C.back), h("p", {}, C.backLead),
    h("div", { class: "field wide" },
      h("label", { for: "copy-file" }, C.backFile),
      h("input", { id: "copy-file", type: "file", accept: ".db", onchange: (e) => { copy = e.target.files[0] ?? null; put(answer); } })),
    h("div", { class: "row" }, h("button", { type: "button", onclick: look }, C.lookInto)), answer);
}
