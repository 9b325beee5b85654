// What was kept at the counter: stones, who looked and when, photos, cards.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { moment } from "../format.js";
import { T } from "../strings.js";
import { field } from "../parts/fields.js";
import { refusal } from "../parts/refusal.js";

export async function counterKept() {
  const place = h("div");
  let turn = 0;
  const look = async (words) => {
    const mine = ++turn;
    try {
      const { stones } = await api.kept(words);
      if (mine !== turn) return;
      put(place, stones.length > 0 ? stones.map(stone) : h("p", { class: "note" }, words ? T.counter.keptNone(words) : T.counter.keptNothing));
      say(T.counter.keptFound(stones.length));
    } catch (error) {
      if (mine === turn) put(place, refusal(error));
    }
  };
  await look("");
  return {
    title: T.counter.keptList,
    node: h("div", { class: "page narrow" },
      h("div", { class: "lead" },
        h("h1", { tabindex: -1 }, T.counter.keptList),
        h("div", { class: "row tight" }, h("a", { class: "button quiet", href: "#/counter" }, T.counter.title))),
      h("p", { class: "hint" }, T.counter.keptHint),
      field({ label: T.counter.keptSearch, hint: T.counter.keptSearchHint, oninput: look, wide: true }),
      place),
  };
}

function stone({ number, stone: name, customer, readings, cards }) {
  const rows = [
    ...readings.map((one) => ({ at: one.at, node: readingsRow(number, one) })),
    ...cards.map((one) => ({ at: one.at, node: cardRow(number, one) })),
  ].sort((a, b) => b.at.localeCompare(a.at));
  return h("section", { class: "panel kept" },
    h("h2", {}, name),
    h("p", { class: "hint" }, T.counter.keptOf(number, customer)),
    h("ul", { class: "claims" }, rows.map(({ at, node }) => h("li", {}, h("small", { class: "hint" }, moment(at)), node))));
}

function readingsRow(number, { fingerprint, by, photos }) {
  return [
    h("p", {}, T.counter.readingsBy(by), " ", h("a", { href: `#/counter/kept/${number}/${fingerprint}` }, T.counter.openAgain)),
    photos.length > 0 && h("div", { class: "kept-photos" }, photos.map(({ name, sha256 }) => h("a", { href: api.keptPhotoPath(number, sha256), target: "_blank", rel: "noopener" },
      h("img", { src: api.keptPhotoPath(number, sha256), alt: T.counter.photoAlt(name), width: 96, height: 96, loading: "lazy" })))),
  ];
}

function cardRow(number, { fingerprint, market_name: market, title }) {
  return h("p", {}, T.counter.cardFor(market, title), " ",
    h("a", { href: api.keptCardPath(number, fingerprint), download: "" }, T.counter.printAgain),
    h("small", { class: "hint" }, T.counter.fingerprint(fingerprint.slice(0, 12))));
}
