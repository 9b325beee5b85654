// A trade word in a text, explained where it stands: touch it.

import { h, freshId } from "../dom.js";
import { T } from "../strings.js";

const GLOSS = new Map(T.help.gloss.map(([word, text]) => [word.replace(/ \(.*/, "").toLowerCase(), [word, text]]));
const FOUND = new RegExp(`\\b(${[...GLOSS.keys()].sort((a, b) => b.length - a.length).join("|")})s?\\b`, "i");

/** The text with the first of each trade word as a button that explains it. */
export function withTerms(text) {
  if (!text) return text;
  const out = [];
  const told = new Set();
  let rest = text;
  for (let hit = FOUND.exec(rest); hit; hit = FOUND.exec(rest)) {
    const key = hit[1].toLowerCase();
    out.push(rest.slice(0, hit.index), told.has(key) ? hit[0] : term(hit[0], ...GLOSS.get(key)));
    told.add(key);
    rest = rest.slice(hit.index + hit[0].length);
  }
  out.push(rest);
  return out;
}

function term(shown, word, text) {
  const id = freshId("term");
  return [
    h("button", { type: "button", class: "term", popovertarget: id }, shown),
    h("span", { id, popover: "auto", class: "term-told" }, h("strong", {}, word), ` ${text}`),
  ];
}
