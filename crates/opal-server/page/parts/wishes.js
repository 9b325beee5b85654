// What the cutter has decided already: sizes to fill, stones that stay where they
// are, ground to leave out, the most stones. Kept with the stone.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { T } from "../strings.js";
import { field, markFault } from "./fields.js";
import { groundMap } from "./ground-map.js";
import { planName } from "./plans.js";
import { refusal } from "./refusal.js";

const W = T.wishes;

/** `again()` works the stone out anew; `plan()` gives the plan that is looked at. */
export function wishes(n, page, scene, { again, plan }) {
  const held = { orders: [], pinned: [], forbidden_mm: [], ...structuredClone(page.wishes ?? {}) };
  const decided = held.orders.length + held.pinned.length + held.forbidden_mm.length > 0 || held.most_stones !== undefined;
  const form = h("div", { class: "group" });
  const answer = h("div");

  function draw() {
    put(form,
      h("h3", {}, W.orders), h("p", { class: "hint" }, W.ordersHint),
      held.orders.map((words, k) => h("div", { class: "row" },
        h("div", { class: "grow" }, field({ label: W.order(k + 1), path: `orders[${k}]`, value: words, wide: true, oninput: (said) => { held.orders[k] = said; } })),
        h("button", { type: "button", class: "quiet", "aria-label": W.dropOrder(k + 1), onclick: () => { held.orders.splice(k, 1); draw(); } }, W.drop))),
      h("button", { type: "button", class: "quiet", onclick: () => { held.orders.push(""); draw(); form.querySelector(`[data-path="orders[${held.orders.length - 1}]"]`)?.focus(); } }, W.addOrder),

      h("h3", {}, W.pinned), h("p", { class: "hint" }, W.pinnedHint),
      h("ul", {}, held.pinned.map((pin, k) => h("li", {}, W.pin(pin.size ? T.plans.size(pin.size.length_mm, pin.size.width_mm) : ""), " ",
        h("button", { type: "button", class: "quiet", "aria-label": W.dropPin(k + 1), onclick: () => { held.pinned.splice(k, 1); draw(); } }, W.drop)))),
      h("button", { type: "button", class: "quiet", onclick: pinPlan }, W.addPin),

      h("h3", {}, W.ground), h("p", { class: "hint" }, W.groundHint),
      groundMap({ scene, polygons: held.forbidden_mm, onchange: () => {} }),

      h("div", { class: "fields" }, field({
        label: W.most, hint: W.mostHint, kind: "number", path: "most_stones", value: held.most_stones === undefined ? "" : String(held.most_stones),
        oninput: (said) => { held.most_stones = said.trim() === "" ? undefined : said.trim(); },
      })));
  }

  /** Keeps the outlines of the plan that is looked at. */
  function pinPlan() {
    const stones = plan().stones.filter((stone) => stone.kind !== "specimen");
    put(answer, stones.length === 0 ? h("p", { class: "note" }, W.noPin) : h("p", { class: "note" }, W.pinnedNow(planName(plan()))));
    held.pinned = stones.map((stone) => ({
      outline_mm: stone.outline_mm, bar: stone.bar,
      ...(stone.kind === "standard" ? { size: { family: stone.family, length_mm: stone.size_mm[0], width_mm: stone.size_mm[1] } } : {}),
    }));
    draw();
  }

  async function keep(event) {
    const button = event.currentTarget;
    put(answer);
    const most = held.most_stones;
    if (most !== undefined && !Number.isInteger(Number(most))) return void markFault(form, "most_stones", W.wholeNumber)?.focus();
    button.disabled = true;
    try {
      await api.setWishes(n, {
        orders: held.orders.map((words) => words.trim()).filter(Boolean), pinned: held.pinned,
        forbidden_mm: held.forbidden_mm.filter((polygon) => polygon.length > 0),
        ...(most === undefined ? {} : { most_stones: Number(most) }),
      });
      say(W.kept);
      again();
    } catch (error) {
      button.disabled = false;
      if (error.kind !== "faults") return put(answer, refusal(error));
      const left = error.faults.filter((fault) => !markFault(form, fault.field, `${fault.value}: ${fault.limit}`));
      if (left.length > 0) put(answer, refusal({ ...error, message: "", faults: left.map((f) => ({ ...f, field: W.fields[f.field.split("[")[0]] ?? f.field })) }));
      form.querySelector("[aria-invalid]")?.focus();
    }
  }

  draw();
  return h("section", { class: "panel wishes", "aria-labelledby": "wishes-title" },
    h("h2", { id: "wishes-title" }, W.title),
    decided && h("p", { class: "note" }, W.inForce),
    h("details", { class: "why", open: decided },
      h("summary", {}, W.open),
      form, answer,
      h("div", { class: "row ends" }, h("button", { type: "button", class: "main", onclick: keep }, W.keep))));
}
