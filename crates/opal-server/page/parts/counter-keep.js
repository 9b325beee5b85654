// Keeping readings and their photos with a stone.

import * as api from "../api.js";
import { h, put, say, freshId } from "../dom.js";
import { T } from "../strings.js";
import { field } from "./fields.js";
import { refusal } from "./refusal.js";

/** `kept(number)` is told when the readings are in the store. */
export function keepPanel(readings, photos, stones, kept) {
  let customer = "";
  let own = "";
  const done = h("div", { role: "status" });
  const whose = freshId("whose");
  const keep = async () => {
    put(done);
    const who = customer.trim();
    if (!who && !own) return put(done, h("p", { class: "note warn" }, T.counter.keepWhose));
    try {
      const stone = await api.keepReadings(readings, who ? { customer: who } : { stone: Number(own) }, photos);
      kept(stone);
      put(done, h("p", { class: "note good" }, T.counter.keptAs(stone, photos.length), " ", h("a", { href: "#/counter/kept" }, T.counter.keptList)));
      say(T.counter.keptAs(stone, photos.length));
    } catch (error) {
      put(done, refusal(error));
    }
  };
  return h("section", { class: "panel", id: "keep" },
    h("h3", {}, T.counter.keep),
    h("p", { class: "hint" }, T.counter.keepHint),
    h("div", { class: "fields" },
      field({ label: T.counter.customer, hint: T.counter.customerHint, oninput: (text) => { customer = text; } }),
      stones.length > 0 && h("div", { class: "field" },
        h("label", { for: whose }, T.counter.ownStone),
        h("select", { id: whose, onchange: (e) => { own = e.target.value; } },
          h("option", { value: "" }, T.counter.notOwn),
          stones.map((stone) => h("option", { value: String(stone.number) }, stone.name))))),
    h("div", { class: "row" }, h("button", { type: "button", onclick: keep }, T.counter.keepReadings)),
    done);
}
