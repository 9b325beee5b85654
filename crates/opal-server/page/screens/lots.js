// What to pay at most for each stone that was not bought yet, the dearest first.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { amount, inTwenty, money, percent, price } from "../format.js";
import { T } from "../strings.js";
import { figureTable } from "../parts/figure-table.js";
import { refusal } from "../parts/refusal.js";

const L = T.lots;

export async function lots() {
  const page = await api.lots();
  const body = h("div");
  let work = null;

  function idle(said, bids) {
    put(body,
      said && h("p", { class: "note" }, said),
      bids && table(bids),
      h("div", { class: "row" }, h("button", { type: "button", class: bids ? "quiet" : "main", onclick: start }, bids ? L.again : L.work)),
      !bids && h("p", { class: "hint" }, L.hint));
  }

  async function start() {
    const bar = h("progress", { max: 1, value: 0, "aria-label": L.working });
    const step = h("p", { class: "hint", role: "status" }, T.stone.starting);
    work = api.runLots((words, share) => { bar.value = share; if (words && step.textContent !== words) step.textContent = words; });
    put(body, h("div", { class: "panel" }, h("h2", {}, L.working), bar, step,
      h("button", { type: "button", class: "quiet", onclick: () => work?.stop() }, T.stone.stop)));
    try {
      const end = await work.done;
      work = null;
      if (end === "cancelled") return idle(T.stone.stopped);
      idle(null, (await api.lots()).bids);
      say(L.ready);
    } catch (error) {
      work = null;
      put(body, refusal(error, start));
    }
  }

  if (page.running !== null) start();
  else idle(null, page.bids);
  return {
    title: L.title,
    node: h("div", { class: "page" },
      h("h1", { tabindex: -1 }, L.title), h("p", {}, L.lead), body),
  };
}

function table(bids) {
  const { currency } = bids;
  const inAll = Number(bids.in_all);
  const over = bids.capital != null && inAll > Number(bids.capital);
  return h("section", { class: "panel", "aria-labelledby": "lots-bids" },
    h("h2", { id: "lots-bids" }, L.bids),
    bids.prices_invented && h("p", { class: "note warn" }, T.stone.pricesInvented),
    figureTable({
      caption: L.bids,
      columns: L.columns,
      rows: bids.lots.map((lot) => [
        [lot.number == null ? lot.piece : h("a", { href: `#/stone/${lot.number}` }, lot.piece),
          h("small", {}, [T.plans.kinds[lot.plan.replaceAll("-", "_")] ?? lot.plan, lot.asking && T.bench.asking(amount(lot.asking))].filter(Boolean).join(" · "))],
        Number(lot.bid) > 0
          ? [h("strong", {}, price({ amount: lot.bid, currency })), lot.tender && h("small", {}, L.tender(price({ amount: lot.tender.bid, currency }), percent(lot.tender.chance)))]
          : L.nothing,
        Number(lot.bid) > 0 ? T.chance(inTwenty(lot.chance_of_loss)) : "–",
        Number(lot.bid) > 0 ? [money(Number(lot.expected_gain), currency), h("small", {}, T.books.range(...lot.gain_between.map((v) => money(v, currency))))] : "–",
      ]),
    }),
    h("p", { class: over ? "note warn" : undefined }, over ? L.over(money(inAll, currency), money(Number(bids.capital), currency)) : L.inAll(money(inAll, currency))),
    bids.not_worked_out.length > 0 && [h("h3", {}, L.left), h("ul", {}, bids.not_worked_out.map(({ piece, why }) => h("li", {}, h("strong", {}, piece), ": ", why)))],
    bids.warnings.map((words) => h("p", { class: "hint" }, words)),
    h("p", { class: "hint" }, T.stone.draws(bids.n_interiors, bids.seed)));
}
