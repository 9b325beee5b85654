// Is it still losing water: what was weighed, where the weight is heading, wait or cut.

import * as api from "../api.js";
import { fitted, h, put, s } from "../dom.js";
import { T } from "../strings.js";
import { inTwenty, number, typed } from "../format.js";
import { anchorAt, rangeOf, scaler, ticks } from "./axis.js";
import { field } from "./fields.js";
import { refusal } from "./refusal.js";

const W = T.wheel.drying;
/** Weighings that the fit needs. */
const FEWEST = 3;

export function drying(n) {
  const answer = h("div", { "aria-live": "polite" });
  const rows = h("div", { class: "weighings" });
  const hand = [];
  const add = () => {
    const pair = { day: "", ct: "" };
    hand.push(pair);
    rows.append(h("div", { class: "row tight", role: "group", "aria-label": W.weighing(hand.length) },
      field({ label: W.day, kind: "number", unit: W.days, value: hand.length === 1 ? "0" : "", oninput: (v) => { pair.day = v; } }),
      field({ label: W.weight, kind: "number", unit: "ct", oninput: (v) => { pair.ct = v; } })));
    if (hand.length === 1) pair.day = "0";
  };
  for (let k = 0; k < FEWEST; k++) add();
  const ask = async (weights = "") => {
    put(answer, h("p", { class: "thinking" }, T.wheel.thinking));
    try {
      put(answer, told(await api.drying(n, weights)));
    } catch (error) {
      // Only the computer knows which of the log's weighings count.
      const few = weights === "" && error.faults?.find((fault) => fault.field === "weights");
      put(answer, few ? h("p", { class: "plain" }, W.tooFew(Number(few.value))) : refusal(error));
    }
  };
  const byHand = () => {
    const given = hand.filter(({ day, ct }) => day !== "" && ct !== "");
    if (given.length < FEWEST || given.some(({ day, ct }) => Number.isNaN(typed(day)) || !(typed(ct) > 0))) {
      put(answer, h("p", { class: "fault", role: "alert" }, W.needThree));
      return;
    }
    ask(given.map(({ day, ct }) => `${typed(day)}:${typed(ct)}`).join(","));
  };
  ask();
  return h("div", {}, answer,
    h("details", { class: "more" }, h("summary", {}, W.byHand), h("p", { class: "hint" }, W.byHandHint), rows,
      h("button", { type: "button", class: "wide-key", onclick: add }, W.another),
      h("button", { type: "button", class: "wide-key", onclick: byHand }, T.wheel.workOut)));
}

function told(doc) {
  const share = (level) => `${number(100 * doc.still_to_lose[level], 2)} %`;
  const whole = (level) => number(doc.wait_days[level], 0);
  return [
    h("p", { class: "next" }, doc.advice === "cut" ? W.cut : W.wait),
    doc.advice === "wait" && h("p", { class: "plain" }, W.waitDays(whole("0.5"), whole("0.05"), whole("0.95"))),
    h("p", {}, W.left(share("0.5"), share("0.05"), share("0.95"), inTwenty(doc.settled))),
    picture(doc),
    h("ul", { class: "hint" }, doc.rests_on.map((text) => h("li", {}, text))),
  ];
}

/** The weighings as points, and the band in which the weight will come to rest. */
function picture({ weights, still_to_lose: lose }) {
  const last = weights.at(-1).weight_ct;
  const rest = ["0.05", "0.5", "0.95"].map((level) => last * (1 - lose[level]));
  const ct = (v) => number(v, 2);
  const label = W.picture(weights.map((w) => W.point(number(w.day, 0), ct(w.weight_ct))).join(", "), ct(rest[1]), ct(rest[2]), ct(rest[0]));
  return fitted((width) => {
    const height = 220, pad = { left: 64, right: 14, top: 14, bottom: 40 };
    const x = scaler(rangeOf(weights.map((w) => w.day)), pad.left, width - pad.right);
    const heights = rangeOf([...weights.map((w) => w.weight_ct), ...rest]);
    const y = scaler(heights, height - pad.bottom, pad.top);
    const base = height - pad.bottom;
    return s("svg", { class: "curve", viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": label },
      s("rect", { class: "band", x: pad.left, width: width - pad.left - pad.right, y: y(rest[0]), height: Math.max(2, y(rest[2]) - y(rest[0])) }),
      s("line", { class: "stop", x1: pad.left, x2: width - pad.right, y1: y(rest[1]), y2: y(rest[1]) }),
      s("polyline", { class: "middle", points: weights.map((w) => `${x(w.day)},${y(w.weight_ct)}`).join(" ") }),
      weights.map((w) => s("circle", { class: "weighed", cx: x(w.day), cy: y(w.weight_ct), r: 6 })),
      ticks(...heights, 3).map((v) => s("text", { class: "tick", x: pad.left - 8, y: y(v) + 5, "text-anchor": "end" }, ct(v))),
      ticks(weights[0].day, weights.at(-1).day, width / 90).map((v) => [
        s("line", { class: "axis", x1: x(v), x2: x(v), y1: base, y2: base + 5 }),
        s("text", { class: "tick", x: x(v), y: base + 22, "text-anchor": anchorAt(x(v), width) }, W.axis(number(v, 0)))]));
  });
}
