// What to pay at most, and what happens at that price or another.

import * as api from "../api.js";
import { h, put } from "../dom.js";
import { T } from "../strings.js";
import { amount, inTwenty, money, percent, price, typed } from "../format.js";
import { dots } from "./dots.js";
import { refusal } from "./refusal.js";
import { rangeOf } from "./axis.js";
import { why } from "./why.js";

export function pay(n, forecast, page) {
  const { bid, currency } = forecast;
  const worth = bid.binding !== "not_worth_buying" && Number(bid.price.amount) > 0;
  const range = rangeOf([...bid.at_price.gain.dots, 0]);
  const asking = page.card.asking;
  return h("section", { class: "panel pay", id: "pay", "aria-labelledby": "pay-title" },
    worth
      ? [h("h2", { id: "pay-title" }, T.stone.payAtMost), h("p", { class: "price" }, price(bid.price)),
        h("p", { class: "plain" }, T.stone.atPriceLoss(inTwenty(bid.at_price.chance_of_loss)))]
      : [h("h2", { id: "pay-title" }, T.stone.notWorth), h("p", { class: "plain" }, T.stone.notWorthText)],
    forecast.prices_invented && h("p", { class: "note warn" }, T.stone.pricesInvented),
    bid.sentence && h("p", {}, bid.sentence),
    gain(bid.at_price, currency, range),
    why(T.stone.payAtMost,
      T.stone.binding[bid.binding],
      bid.by_limit.map(({ limit, price: allowed }) => allowed && (Number(allowed.amount) > 0
        ? T.stone.limitAllows(T.stone.limit[limit], price(allowed))
        : T.stone.limitNothing(T.stone.limit[limit]))),
      T.stone.asked(percent(bid.margin_wanted), percent(bid.chance_of_loss_accepted)),
      T.stone.draws(forecast.n_interiors, forecast.seed)),
    forecast.rests_on.length > 0 && h("div", { class: "rests" },
      h("h3", {}, T.stone.restsOn),
      h("ul", {}, forecast.rests_on.map((line) => h("li", {}, line)))),
    whatIf(n, forecast, asking, range));
}

function gain(look, currency, range) {
  const words = T.nineInTen(money(look.gain.quantiles["0.05"], currency), money(look.gain.quantiles["0.95"], currency));
  return h("div", { class: "gain" },
    h("h3", {}, T.stone.gain),
    h("p", { class: "gloss" }, T.stone.gainGloss),
    dots(look.gain, {
      label: T.dotsLabel(T.stone.gain, money(look.gain.quantiles["0.5"], currency), words),
      format: (v) => money(v, "").trim(), mark: { at: 0, label: T.stone.even }, badBelow: true, range,
    }),
    h("p", { class: "figure-words" }, words, "."),
    h("p", { class: "figure-words" },
      T.stone.expected(money(look.expected_gain, currency), money(look.expected_gain_error, currency)), " ",
      T.stone.worst(percent(look.worst_share), money(look.worst_mean, currency))));
}

function whatIf(n, forecast, asking, range) {
  const limit = Number(forecast.bid.price.amount);
  const answer = h("div", { class: "answer", "aria-live": "polite" });
  const input = h("input", {
    id: "what-if", type: "text", inputmode: "decimal", autocomplete: "off",
    value: asking?.currency === forecast.currency ? asking.amount : "",
  });
  const see = async () => {
    const v = typed(input.value);
    if (Number.isNaN(v)) return put(answer);
    try {
      const look = await api.atPrice(n, input.value.trim().replace(",", "."));
      put(answer,
        h("p", { class: "plain" }, h("strong", {}, amount(look.price)), ": ", T.stone.wouldLose(inTwenty(look.chance_of_loss)),
          " ", v > limit ? T.stone.overBid : T.stone.underBid),
        gain(look, forecast.currency, rangeOf([...look.gain.dots, range[0], range[1]], 0)));
    } catch (error) {
      put(answer, refusal(error));
    }
  };
  const form = h("form", { class: "what-if", onsubmit: (e) => { e.preventDefault(); see(); } },
    h("h3", {}, h("label", { for: "what-if" }, T.stone.whatIf)),
    asking && h("p", { class: "hint" }, `${T.stone.whatIfAsking} ${amount(asking)}.`),
    h("div", { class: "row tight" },
      h("div", { class: "with-unit" }, input, h("span", { class: "unit", "aria-hidden": "true" }, forecast.currency)),
      h("button", { type: "submit", class: "quiet" }, T.stone.whatIfGo)),
    answer);
  if (input.value) see();
  return form;
}
