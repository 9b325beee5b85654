// A table of figures that reads on a phone: one line a row, names on the left.

import { h } from "../dom.js";
import { number } from "../format.js";

/** An exact amount without its currency's name doubled all over: `AUD 1,234.50`. */
export const money = (text, currency) => `${currency} ${number(Number(text), (text.split(".")[1] ?? "").length)}`;

/** `rows`: cells as text or nodes; the first names the row. */
export function figureTable({ caption, columns, rows }) {
  return h("div", { class: "table-box", role: "group", "aria-label": caption, tabindex: 0 },
    // The roles are said outright: on a phone the rows are laid out as boxes, which would lose them.
    h("table", { class: "figure-table", role: "table" },
      h("caption", { class: "unseen" }, caption),
      h("thead", { role: "rowgroup" }, h("tr", { role: "row" }, columns.map((name) => h("th", { scope: "col", role: "columnheader" }, name)))),
      h("tbody", { role: "rowgroup" }, rows.map(([first, ...rest]) => h("tr", { role: "row" },
        h("th", { scope: "row", role: "rowheader" }, first),
        rest.map((cell, k) => h("td", { role: "cell", "data-column": columns[k + 1] }, cell)))))));
}
