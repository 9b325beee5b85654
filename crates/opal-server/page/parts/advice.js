// What to do next, with its chance of ruin, and what each depth brings.

import { h } from "../dom.js";
import { T } from "../strings.js";
import { inTwenty, mm, money, number } from "../format.js";
import { depthCurve } from "./depth-curve.js";
import { placeMap } from "./place-map.js";
import { why } from "./why.js";

const W = T.wheel;

/** `page`: the stone as it is, for showing where. `act(one)` starts the entry that the advice leads to; `old` while newer entries wait. */
export function advice(doc, page, act, old) {
  const [first, ...others] = doc.advice;
  if (!first) return null;
  const cash = (v) => money(v, doc.currency);
  const signed = (v) => `${v > 0 ? "+" : ""}${money(v, doc.currency)}`;
  const label = W.logThis[first.action]?.(first.depth_mm != null ? mm(first.depth_mm) : "");
  return [
    old && h("p", { class: "note" }, W.older),
    h("p", { class: "next" }, sentence(first.words)),
    first.at_mm && placeMap({ page, at: first.at_mm, label: W.here, fixed: true }).element,
    h("p", { class: "stakes" },
      h("span", {}, first.gain > 0 ? W.gainOver(cash(first.gain), number(2 * first.gain_error, 0)) : W.whole), " ",
      h("strong", {}, W.ruin(inTwenty(first.ruin)))),
    label && h("button", { type: "button", class: "main wide-key", onclick: () => act(first) }, label),
    why(W.next,
      W.worthWords(cash(first.worth.mean), cash(first.worth["0.05"]), cash(first.worth["0.95"])), W.ruinWhy,
      W.adviceWhy(number(doc.n_interiors, 0), doc.seed, doc.n_events), doc.notes),
    doc.facing && h("details", { class: "more" },
      h("summary", {}, W.curve),
      h("p", { class: "hint" }, W.curveLead),
      depthCurve(doc.facing, doc.currency),
      h("p", {}, W.through(inTwenty(doc.facing.through)), " ", doc.facing.blind_mm > 0 && W.blind(mm(doc.facing.blind_mm)))),
    others.length > 0 && h("details", { class: "more" },
      h("summary", {}, W.others),
      h("ol", { class: "ways" }, others.map((one) => h("li", {},
        h("strong", {}, sentence(one.words)), h("br"), W.other(signed(one.gain), inTwenty(one.ruin)))))),
  ];
}

const sentence = (words) => words.charAt(0).toUpperCase() + words.slice(1);
