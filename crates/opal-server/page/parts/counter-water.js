// Weighing in water: first whether the stone may go in at all, then the weights.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { number } from "../format.js";
import { T } from "../strings.js";
import { HARM, readingsOf } from "./counter-draft.js";
import { choice, field } from "./fields.js";
import { listed } from "./counter-answer.js";
import { refusal } from "./refusal.js";

const W = T.counter.water;

/** The panel; what is typed goes into `draft.water`. */
export function waterWeighing(draft) {
  const { water } = draft;
  const rows = h("div");
  const answer = h("div", { role: "status" });
  const weight = (k, which) => field({
    label: W.weights[which](k + 1), unit: "ct", kind: "number", value: water.rows[k][which], oninput: (said) => { water.rows[k][which] = said; },
  });
  const showRows = () => put(rows, water.rows.map((_, k) => h("div", { class: "fields" }, weight(k, 0), weight(k, 1))));
  showRows();

  async function workOut(event) {
    const button = event.currentTarget;
    button.disabled = true;
    put(answer);
    try {
      put(answer, weighed(await api.weigh(readingsOf(draft))));
      say(answer.querySelector(".plain").textContent);
    } catch (error) {
      put(answer, refusal(error));
    } finally {
      button.disabled = false;
    }
  }

  return h("details", { class: "why", id: "water", open: water.rows.some((row) => row.some((said) => said !== "")) },
    h("summary", {}, W.title),
    h("p", { class: "note warn" }, W.caution),
    HARM.map((key) => choice({
      legend: W.harm[key], value: water.known[key], options: ["no", "yes", "unknown"].map((said) => [said, W.known[said]]),
      onchange: (said) => { water.known[key] = said; },
    })),
    h("p", { class: "hint" }, W.how),
    h("div", { class: "fields" },
      field({ label: W.temp, unit: "°C", kind: "number", value: water.temp, oninput: (said) => { water.temp = said; } }),
      field({ label: W.wire, hint: W.wireHint, unit: "ct", kind: "number", value: water.wire, oninput: (said) => { water.wire = said; } }),
      field({ label: W.scale, hint: W.scaleHint, unit: "ct", kind: "number", value: water.scale, oninput: (said) => { water.scale = said; } })),
    rows,
    h("div", { class: "row" },
      h("button", { type: "button", class: "quiet", onclick: () => { water.rows.push(["", ""]); showRows(); rows.lastElementChild.querySelector("input").focus(); } }, W.more),
      h("button", { type: "button", onclick: workOut }, W.workOut)),
    answer);
}

function weighed({ gravity, weighings, budget, notes }) {
  return h("div", { class: "panel" },
    h("p", { class: "plain" }, W.answer(number(gravity.value, 2), number(2 * gravity.sigma, 3))),
    h("p", { class: "hint" }, W.from(weighings), " ", W.goesIn),
    notes.length > 0 && h("div", { class: "note" }, listed(notes)),
    h("details", { class: "why" }, h("summary", {}, W.budget), listed(budget.map(({ cause, sigma }) => `${cause}: ± ${sigma.toFixed(4)}`))));
}
