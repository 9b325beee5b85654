// What went wrong, in plain words, with every fault and its place.

import { h } from "../dom.js";
import { T } from "../strings.js";

export function refusal(error, retry) {
  const message = error.kind === "away" ? T.error.away : error.message || T.error.internal;
  return h("div", { class: "refusal", role: "alert" },
    h("p", {}, h("strong", {}, T.error.title), " ", message),
    error.faults?.length > 0 && h("ul", {}, error.faults.map((fault) => h("li", {}, faultText(fault)))),
    retry && h("button", { type: "button", class: "quiet", onclick: retry }, T.error.again));
}

export const faultText = (fault) => (fault.line ? T.error.line(fault.line) : "") + T.error.fault(fault);
