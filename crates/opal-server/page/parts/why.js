// 'Why?' on every figure: what it rests on, opened on touch.

import { h } from "../dom.js";
import { T } from "../strings.js";
import { withTerms } from "./terms.js";

/** `lines`: plain sentences; empty ones are left out. */
export function why(about, ...lines) {
  const said = lines.flat(Infinity).filter(Boolean);
  if (said.length === 0) return null;
  return h("details", { class: "why" },
    h("summary", {}, T.why, h("span", { class: "unseen" }, `: ${about}`)),
    h("ul", {}, said.map((line) => h("li", {}, withTerms(line)))));
}
