// The usual cautions, wherever work can hurt.

import { h } from "../dom.js";
import { T } from "../strings.js";

export const cautions = () => h("section", { class: "panel cautions", "aria-labelledby": "cautions" },
  h("h2", { id: "cautions" }, T.cautions.title),
  h("dl", {}, T.cautions.list.map(([what, text]) => [h("dt", {}, what), h("dd", {}, text)])),
  h("p", { class: "hint" }, T.cautions.truth));
