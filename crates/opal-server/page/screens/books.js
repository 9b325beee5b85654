// The books: what the days came to, what is held, what was written down.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { amount, date } from "../format.js";
import { T } from "../strings.js";
import { choice } from "../parts/fields.js";
import { refusal } from "../parts/refusal.js";
import { figureTable, money } from "../parts/figure-table.js";

const B = T.books;
/** Entries shown before 'more'. */
const FIRST = 30;

export async function books() {
  const today = new Date();
  const pad = (n) => String(n).padStart(2, "0");
  const month = `${today.getFullYear()}-${pad(today.getMonth() + 1)}`;
  const body = h("div");
  let period = "";
  const show = async () => {
    try {
      const [ledger, entries] = await Promise.all([api.ledger(period), api.entries(period)]);
      put(body, ledger.entries === 0 && period === ""
        ? h("div", { class: "panel empty" }, h("p", {}, B.empty))
        : [cameTo(ledger), groups(ledger), held(ledger, period), written(entries, show), papers(period)]);
    } catch (error) {
      put(body, refusal(error, show));
    }
  };
  await show();
  return {
    title: B.title,
    node: h("div", { class: "page" },
      h("div", { class: "lead" },
        h("div", {}, h("h1", { tabindex: -1 }, B.title), h("p", {}, B.lead)),
        h("div", { class: "row tight" },
          h("a", { class: "button quiet", href: "#/learned" }, T.learned.go),
          h("a", { class: "button main", href: "#/books/write" }, B.write))),
      choice({
        legend: B.days, value: "",
        options: [["", B.all], [String(today.getFullYear()), B.thisYear], [month, B.thisMonth]],
        onchange: async (key) => { period = key; await show(); say(B.shown); },
      }),
      body),
  };
}

/** A gain in words and figures: a loss is said, not only coloured. */
const gain = (text, currency) => Number(text) < 0
  ? h("span", { class: "lost" }, B.loss(money(text.replace("-", ""), currency)))
  : money(text, currency);

function cameTo({ outcome, held: kept, currency, warnings, rests_on }) {
  const facts = [
    [B.sales(outcome.sold), money(outcome.sales, currency)],
    [B.costSold, money(outcome.cost.total, currency)],
    [B.fees, money(outcome.fees, currency)],
    Number(outcome.lost) !== 0 && [B.lost, money(outcome.lost, currency)],
    [B.overhead, money(outcome.overhead, currency)],
    [B.heldCost(kept.pieces), money(kept.cost.total, currency)],
  ].filter(Boolean);
  return h("section", { class: "panel", "aria-labelledby": "came-to" },
    h("h2", { id: "came-to" }, B.cameTo),
    h("p", { class: "price" }, gain(outcome.profit, currency)),
    h("p", { class: "plain" }, Number(outcome.profit) < 0 ? B.lossWords : B.profitWords),
    outcome.profit !== outcome.profit_before_time && h("p", {}, B.beforeTime(money(outcome.profit_before_time, currency))),
    h("dl", { class: "dims" }, facts.map(([name, value]) => h("div", {}, h("dt", {}, name), h("dd", {}, value)))),
    kept.expected && h("p", {}, B.expected(money(kept.expected.mean, currency), money(kept.expected.low, currency), money(kept.expected.high, currency))),
    warnings?.map((words) => h("p", { class: "note warn" }, words)),
    rests_on?.length > 0 && h("details", { class: "why" }, h("summary", {}, T.why), h("ul", {}, rests_on.map((line) => h("li", {}, line)))));
}

function groups(ledger) {
  const place = h("div");
  const show = (by) => put(place, ledger[by].length === 0 ? h("p", {}, B.nothing) : figureTable({
    caption: B.by[by],
    columns: B.groupColumns,
    rows: ledger[by].map(({ name, outcome, held: kept }) => [
      name,
      outcome.sold > 0 ? money(outcome.sales, ledger.currency) : "–",
      Number(outcome.profit) === 0 && outcome.sold === 0 ? "–" : gain(outcome.profit, ledger.currency),
      kept.pieces > 0 ? money(kept.cost.total, ledger.currency) : "–",
    ]),
  }));
  show("by_stone");
  return h("section", { class: "panel told", "aria-labelledby": "told-by" },
    h("h2", { id: "told-by" }, B.toldBy),
    choice({ legend: B.each, value: "by_stone", options: Object.entries(B.by), onchange: show }),
    place);
}

function held({ items, currency }, period) {
  if (items.length === 0) return null;
  return h("section", { class: "panel", "aria-labelledby": "held" },
    h("h2", { id: "held" }, B.held),
    figureTable({
      caption: B.held,
      columns: B.heldColumns,
      rows: items.map((item) => [
        [item.number == null ? item.name : h("a", { href: `#/stone/${item.number}` }, item.name),
          h("small", {}, [item.origin, item.parcel, B.since(date(item.since))].filter(Boolean).join(" · "))],
        money(item.cost.total, currency),
        item.expected
          ? [money(item.expected.mean, currency), h("small", {}, B.range(money(item.expected.low, currency), money(item.expected.high, currency)))]
          : B.unknown,
      ]),
    }),
    h("a", { class: "button quiet", href: api.heldPath(period), target: "_blank", rel: "noopener" }, B.heldPdf));
}

function written({ entries }, again) {
  if (entries.length === 0) return null;
  const list = h("ol", { class: "entries", reversed: true });
  const answer = h("div");
  const rest = h("p");
  const newest = [...entries].reverse();
  const corrected = new Set(newest.filter((e) => e.slip.what === "corrected").map((e) => e.slip.entry));
  let shown = FIRST;
  const fill = () => {
    put(list, newest.slice(0, shown).map(line));
    put(rest, newest.length > shown && h("button", { type: "button", class: "quiet", onclick: () => { shown += 200; fill(); } }, T.bench.more(newest.length - shown)));
  };
  const takeBack = async (number, button) => {
    button.disabled = true;
    try {
      await api.book([{ what: "corrected", entry: number }]);
      say(B.takenBack(number));
      await again();
    } catch (error) {
      button.disabled = false;
      put(answer, refusal(error));
    }
  };
  const line = ({ number, slip }) => {
    const gone = corrected.has(number);
    return h("li", { class: gone ? "gone" : undefined, value: number },
      h("span", { class: "grow" }, h("strong", {}, slipWords(slip)), " ",
        h("small", {}, [B.entryNumber(number), date(slip.date), slip.note, gone && B.wasTakenBack].filter(Boolean).join(" · "))),
      !gone && slip.what === "sold" && h("a", { class: "button quiet", href: `#/books/write/returned/${number}` }, B.cameBack),
      !gone && slip.what !== "corrected" && h("button", { type: "button", class: "quiet", "aria-label": B.takeBackThis(number), onclick: (e) => takeBack(number, e.currentTarget) }, B.takeBack));
  };
  fill();
  return h("section", { class: "panel", "aria-labelledby": "written" },
    h("h2", { id: "written" }, B.written), h("p", { class: "hint" }, B.writtenHint), answer, list, rest);
}

/** One entry in a line. */
export function slipWords(slip) {
  const what = slip.stone ?? slip.parcel;
  const sum = slip.amount && slip.currency ? amount({ amount: slip.amount, currency: slip.currency }) : "";
  return B.slip[slip.what]({ what, sum, minutes: slip.minutes, entry: slip.entry, parts: slip.parts?.map((p) => p.stone ?? p.parcel) ?? [] });
}

function papers(period) {
  return h("section", { class: "panel", "aria-labelledby": "papers" },
    h("h2", { id: "papers" }, B.papers),
    h("div", { class: "row" },
      h("a", { class: "button", href: api.reportPath(period), target: "_blank", rel: "noopener" }, B.reportPdf),
      h("a", { class: "button", href: api.entriesPath(period), download: "" }, B.csv)),
    h("p", { class: "hint" }, B.taxHint));
}
