// What a finished stone most likely is, and what to look at next.

import { h } from "../dom.js";
import { T } from "../strings.js";
import { shareBars } from "./shares.js";

export const listed = (items) => h("ul", {}, items.map((item) => h("li", {}, item)));
const folded = (title, items) => items.length > 0 && h("details", { class: "why" }, h("summary", {}, title), listed(items));

export function answer(doc) {
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
