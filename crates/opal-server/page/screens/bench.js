// The list of stones.

import * as api from "../api.js";
import { h, put } from "../dom.js";
import { amount, carats, date, inTwenty, price } from "../format.js";
import { T } from "../strings.js";
import { startGuide } from "../parts/guide.js";
import { keep } from "./take-in.js";

/** Stones shown before 'more'. */
const FIRST = 60;

export async function bench() {
  const all = await api.stones();
  const list = h("ul", { class: "cards" });
  const rest = h("p");
  let shown = FIRST;
  let wanted = "";
  const fill = () => {
    const found = all.filter((v) => `${v.name} ${v.origin ?? ""} ${v.form}`.toLowerCase().includes(wanted));
    put(list, found.slice(0, shown).map(card));
    put(rest,
      found.length === 0 && all.length > 0 && T.bench.none,
      found.length > shown && h("button", { type: "button", class: "quiet", onclick: () => { shown += 200; fill(); } }, T.bench.more(found.length - shown)));
  };
  fill();
  return {
    title: T.bench.title,
    node: h("div", { class: "page" },
      h("div", { class: "lead" },
        h("div", {}, h("h1", { tabindex: -1 }, T.bench.title), h("p", {}, T.bench.lead)),
        h("div", { class: "row tight" },
          all.length > 1 && h("a", { class: "button quiet", href: "#/lots" }, T.lots.go),
          h("a", { class: "button quiet", href: "#/parcel" }, T.parcel.go),
          h("a", { class: "button main", href: "#/take-in" }, T.bench.takeIn))),
      all.length > 8 && h("div", { class: "field wide" },
        h("label", { for: "find" }, T.bench.search),
        h("input", { id: "find", type: "search", oninput: (e) => { wanted = e.target.value.trim().toLowerCase(); shown = FIRST; fill(); } })),
      all.length === 0
        ? h("div", { class: "panel empty" }, h("p", {}, T.bench.empty),
          h("button", { type: "button", onclick: lead }, T.guide.start), h("p", { class: "hint" }, T.guide.startHint))
        : list,
      rest),
  };
}

/** Takes a newcomer by the hand. */
export function lead() {
  keep(startGuide());
  location.hash = "#/take-in";
}

function card(stone) {
  const facts = [
    T.forms[stone.form] ?? stone.form,
    stone.weight_ct != null && carats(stone.weight_ct),
    stone.origin,
    date(stone.taken_in),
  ].filter(Boolean);
  const worth = stone.bid && Number(stone.bid.amount) > 0;
  return h("li", {},
    h("a", { class: "card", href: `#/stone/${stone.number}` },
      h("span", { class: "card-name" }, stone.name, stone.invented && h("span", { class: "tag" }, T.invented)),
      h("span", { class: "card-facts" }, facts.join(" · ")),
      h("span", { class: stone.bid ? "card-bid" : "card-bid dim" },
        !stone.bid ? T.bench.notYet : worth ? T.bench.payAtMost(price(stone.bid)) : T.bench.notWorth),
      stone.bid && worth && stone.chance_of_loss != null && h("span", { class: "card-facts" }, T.bench.loss(inTwenty(stone.chance_of_loss))),
      stone.asking && h("span", { class: "card-facts" }, T.bench.asking(amount(stone.asking)))));
}
