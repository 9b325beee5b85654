// One figure: its name, the middle value, the spread as dots, and why.

import { h } from "../dom.js";
import { T } from "../strings.js";
import { dots } from "./dots.js";
import { why } from "./why.js";

/** `format` writes a value with its unit, `short` one on the number line. */
export function figureCard(name, figure, { format, short = format, mark, badBelow, range, lines = [], gloss }) {
  const [low, middle, high] = ["0.05", "0.5", "0.95"].map((p) => figure.quantiles[p]);
  const words = T.nineInTen(format(low), format(high));
  return h("section", { class: "figure" },
    h("h3", {}, name),
    gloss && h("p", { class: "gloss" }, gloss),
    h("p", { class: "figure-value" }, format(middle)),
    h("p", { class: "figure-words" }, words),
    dots(figure, { label: T.dotsLabel(name, format(middle), words), format: short, mark, badBelow, range }),
    why(name, lines));
}
