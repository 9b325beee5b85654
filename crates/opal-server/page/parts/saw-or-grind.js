// Barren stock: saw it off or grind it away.

import * as api from "../api.js";
import { h, put } from "../dom.js";
import { T } from "../strings.js";
import { inTwenty, mm, money, number } from "../format.js";
import { keypad } from "./keypad.js";
import { refusal } from "./refusal.js";

const W = T.wheel.sawOrGrind;

export function sawOrGrind(page) {
  const thickness = keypad({ label: W.thickness, unit: "mm", value: "4", quick: [1, 2, 4, 8] });
  const area = keypad({ label: W.area, unit: "mm²", value: String(Math.round(page.area_mm2)), hint: W.areaHint });
  const offcut = keypad({ label: W.offcut, unit: "", value: "0", hint: W.offcutHint });
  const answer = h("div", { "aria-live": "polite" });
  const notes = h("ul", { class: "hint" });
  const ask = async () => {
    put(answer, h("p", { class: "thinking" }, T.wheel.thinking));
    const asked = [thickness.value(), area.value(), offcut.value()];
    if (asked.some(Number.isNaN)) {
      put(answer, h("p", { class: "fault", role: "alert" }, T.wheel.needNumber));
      return;
    }
    try {
      const doc = await api.sawOrGrind(...asked);
      put(answer, told(doc));
      put(notes, [...doc.cautions, ...doc.rests_on].map((text) => h("li", {}, text)));
    } catch (error) {
      put(answer, refusal(error));
    }
  };
  ask();
  return h("div", {}, answer, thickness.element, area.element,
    h("details", { class: "more" }, h("summary", {}, W.offcut), offcut.element),
    h("button", { type: "button", class: "wide-key", onclick: ask }, T.wheel.workOut), notes);
}

function told(doc) {
  const whole = (v) => number(v, 0);
  const cost = (v) => money(v, doc.currency);
  const [fast, middle, slow] = doc.grind_minutes;
  const [cheap, usual, dear] = doc.grind_cost;
  const [low, even, high] = doc.break_even_mm;
  return [
    h("p", { class: "next" }, doc.advice === "saw" ? W.saw : W.grind),
    h("p", { class: "plain" }, W.chance(inTwenty(doc.chance_saw_cheaper))),
    h("ul", {},
      h("li", {}, W.sawing(whole(doc.saw_minutes), cost(doc.saw_cost))),
      h("li", {}, W.grinding(doc.wheel, whole(middle), whole(fast), whole(slow), cost(usual), cost(cheap), cost(dear))),
      h("li", {}, W.even(mm(even), mm(low), mm(high)))),
  ];
}
