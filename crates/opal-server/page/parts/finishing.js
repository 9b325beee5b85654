// The finish: which wheel when, how deep, how long.

import * as api from "../api.js";
import { h, put } from "../dom.js";
import { T } from "../strings.js";
import { mm, number } from "../format.js";
import { keypad } from "./keypad.js";
import { refusal } from "./refusal.js";

const W = T.wheel;

export function finishing(n, page) {
  const face = keypad({ label: W.face, unit: "mm²", value: String(Math.round(page.area_mm2)) });
  const stock = keypad({ label: W.stock, unit: "mm", value: "0.5", quick: [0.2, 0.3, 0.5, 1] });
  const answer = h("div", { "aria-live": "polite" });
  const ask = async () => {
    put(answer, h("p", { class: "thinking" }, W.thinking));
    try {
      put(answer, turns(await api.finish(n, face.value(), stock.value())));
    } catch (error) {
      put(answer, refusal(error));
    }
  };
  ask();
  return h("div", {}, answer,
    h("details", { class: "more" }, h("summary", {}, `${W.face}, ${W.stock.toLowerCase()}`), face.element, stock.element,
      h("button", { type: "button", class: "wide-key", onclick: ask }, W.workOut)));
}

function turns(doc) {
  const whole = (v) => number(v, 0);
  return [
    h("p", { class: "plain" }, W.allMinutes(whole(doc.minutes["0.05"]), whole(doc.minutes.mean), whole(doc.minutes["0.95"]))),
    h("p", {}, W.leave(mm(doc.leave_after_first_mm))),
    h("ol", { class: "turns" }, doc.turns.map((turn) => h("li", {},
      h("strong", {}, turn.wheel), h("span", { class: "turn-minutes" }, W.turnMinutes(whole(turn.minutes[0]), whole(turn.minutes[1]), whole(turn.minutes[2]))),
      h("span", {}, W.turn(mm(turn.from_mm), mm(turn.to_mm))),
      h("span", { class: "hint" }, `${W.lookFor} ${turn.look_for}`)))),
    h("p", {}, h("a", { href: "#/wheels" }, T.wheels.title)),
    h("ul", { class: "hint" }, [...doc.cautions, ...doc.rests_on].map((text) => h("li", {}, text))),
  ];
}
