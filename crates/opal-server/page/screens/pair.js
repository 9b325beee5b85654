// On a device: the code that the bench computer shows lets it in.

import * as api from "../api.js";
import { h, put } from "../dom.js";
import { T } from "../strings.js";
import { field } from "../parts/fields.js";
import { refusal } from "../parts/refusal.js";

const D = T.devices;

export async function pair(code = "") {
  const said = { code, name: "" };
  const answer = h("div");
  const go = async (e) => {
    e.preventDefault();
    try {
      await api.pair(said.code, said.name);
      location.hash = "#/";
    } catch (error) {
      put(answer, refusal(error));
    }
  };
  return {
    title: D.pairTitle,
    node: h("form", { class: "page narrow form", novalidate: true, onsubmit: go },
      h("h1", { tabindex: -1 }, D.pairTitle),
      h("p", {}, D.pairLead),
      answer,
      field({ label: D.code, hint: D.codeHint, value: code, oninput: (v) => { said.code = v; }, wide: true }),
      field({ label: D.name, hint: D.nameHint, value: "", oninput: (v) => { said.name = v; }, wide: true }),
      h("button", { type: "submit", class: "main" }, D.pair)),
  };
}
