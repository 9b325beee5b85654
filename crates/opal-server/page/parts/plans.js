// The ways to cut, compared; then the chosen one in full.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { T } from "../strings.js";
import { carats, inTwenty, mm, money, number, percent, reading, sizes } from "../format.js";
import { figureCard } from "./figure.js";
import { rangeOf } from "./axis.js";
import { strips } from "./strip.js";
import { withTerms } from "./terms.js";
import { why } from "./why.js";

/** A plan's name in words. */
export function planName(plan) {
  const kind = T.plans.kinds[plan.kind] ?? plan.kind;
  if (plan.stones.length === 0) return kind;
  if (plan.stones.length > 1) return `${kind}: ${T.plans.several(plan.stones.length)}`;
  const [stone] = plan.stones;
  const size = T.plans.size(...(stone.kind === "standard" ? sizes(...stone.size_mm) : stone.size_mm.map((v) => number(v, 0))));
  const family = stone.family && (T.plans.families[stone.family] ?? stone.family);
  return `${family ?? kind}, ${size}`;
}

/** `chosen(plan)` is told which plan is looked at. */
export function plans(n, forecast, chosen) {
  const { currency } = forecast;
  const detail = h("div", { class: "plan-detail" });
  const all = forecast.plans.map((plan) => plan.value.adapting);
  const range = rangeOf([...all.flatMap((f) => [f.quantiles["0.05"], f.quantiles["0.95"]]), 0]);
  const rows = forecast.plans.map((plan) => ({ name: planName(plan), figure: plan.value.adapting }));
  const told = rows.map(({ name, figure }) =>
    T.plans.compareRow(name, money(figure.mean, currency), money(figure.quantiles["0.05"], currency), money(figure.quantiles["0.95"], currency))).join(" ");
  const show = (k, spoken = true) => {
    put(detail, planDetail(n, forecast, k));
    chosen(forecast.plans[k]);
    if (spoken) say(planName(forecast.plans[k]));
  };
  const node = h("section", { class: "panel", id: "plans", "aria-labelledby": "plans-title" },
    h("h2", { id: "plans-title" }, T.plans.title),
    h("h3", {}, T.plans.compare),
    strips(rows.map((row, k) => ({ ...row, strong: k === 0 })), {
      label: T.plans.compareLabel(told), format: (v) => money(v, "").trim(), range, zero: true,
    }),
    h("fieldset", { class: "pills" }, h("legend", {}, T.plans.choose),
      forecast.plans.map((plan, k) => h("label", { class: "pill" },
        h("input", { type: "radio", name: "plan", checked: k === 0, onchange: () => show(k) }),
        h("span", {}, planName(plan), k === 0 && ` (${T.plans.best})`)))),
    detail);
  put(detail, planDetail(n, forecast, 0));
  return node;
}

function planDetail(n, forecast, k) {
  const plan = forecast.plans[k];
  const { currency } = forecast;
  const cash = (v) => money(v, currency);
  const short = (v) => money(v, "").trim();
  const three = ["fixed", "adapting", "seen_inside"].map((key) => ({ name: T.plans[key], figure: plan.value[key], strong: key === "adapting" }));
  const range = rangeOf([...three.flatMap(({ figure }) => [figure.quantiles["0.05"], figure.quantiles["0.95"]]), 0]);
  const told = three.map(({ name, figure }) => T.plans.compareRow(name, cash(figure.mean), cash(figure.quantiles["0.05"]), cash(figure.quantiles["0.95"]))).join(" ");
  return [
    h("h3", {}, planName(plan)),
    h("div", { class: "figure" },
      h("h4", {}, T.plans.three),
      strips(three, { label: told, format: short, range, zero: true }),
      why(T.plans.three, plan.why, T.plans.threeWhy)),
    plan.stones.length === 0 && h("p", {}, T.plans.nothing),
    plan.stones.map((stone, place) => [
      plan.stones.length > 1 && h("h4", {}, T.plans.stone(place + 1)),
      h("div", { class: "figures" },
        figureCard(T.plans.weight, stone.weight_ct, {
          format: carats, short: reading,
          lines: [T.plans.weightWhy(carats(stone.colour_ct.quantiles["0.5"]), carats(stone.potch_ct.quantiles["0.5"])), T.plans.whole(inTwenty(stone.whole_chance))],
        }),
        figureCard(T.plans.clean, stone.clean_share, { format: percent, short: percent, range: [-0.03, 1.03], lines: [T.plans.cleanWhy] }),
        figureCard(T.plans.least, stone.least_colour_mm, { format: mm, short: (v) => number(v, 1), lines: [T.plans.leastWhy] }),
        figureCard(T.plans.worth, stone.worth, { format: cash, short, lines: [T.plans.worthWhy[plan.priced_by]] })),
      dimensions(stone),
    ]),
    plan.revisions.length > 0 && [
      h("h4", {}, T.plans.revisions),
      h("ul", { class: "revisions" }, plan.revisions.map(({ words, share }) => h("li", {}, T.plans.revision(words, percent(share))))),
    ],
    plan.stones.length > 0 && [
      h("h4", {}, T.plans.cuts),
      plan.cuts.length === 0
        ? h("p", {}, T.plans.noCuts)
        : h("ol", { class: "cuts" }, plan.cuts.map((cut) => h("li", {}, withTerms(cut.words), " ", h("span", { class: "hint" }, T.plans.kerf(mm(cut.kerf_mm)))))),
      h("h4", {}, T.plans.stock),
      h("p", {}, withTerms(T.plans.stockText(mm(plan.stock.top_mm), mm(plan.stock.bottom_mm), mm(plan.stock.sides_mm)))),
      h("p", {}, h("a", { class: "button main", href: api.sheetPath(n, k), target: "_blank", rel: "noopener" }, T.plans.sheet)),
    ],
  ];
}

function dimensions(stone) {
  const D = T.plans.dims;
  const rows = [
    [D.size, T.plans.size(...sizes(...stone.size_mm))],
    [D.thick, mm(stone.thickness_mm.quantiles["0.5"])],
    stone.kind !== "specimen" && [D.dome, mm(stone.dome_mm)],
    stone.kind !== "specimen" && [D.wall, mm(stone.wall_mm)],
    stone.kind !== "specimen" && [D.bevel, mm(stone.bevel_mm)],
    [D.turn, T.plans.degrees(number(stone.turn_deg, 0))],
    [D.tilt, T.plans.degrees(number(stone.tilt_deg, 1))],
  ].filter(Boolean);
  return [h("h4", {}, T.plans.shape), h("dl", { class: "dims" }, rows.map(([what, v]) => h("div", {}, h("dt", {}, what), h("dd", {}, v))))];
}
