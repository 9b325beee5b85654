// A bag of pieces, some of them looked into: what it may bring, what to pay, and how many
// to look into before deciding.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { amount, inTwenty, money, number, price, typed } from "../format.js";
import { T } from "../strings.js";
import { choice, field, markFault } from "../parts/fields.js";
import { rangeBar } from "../parts/range-bar.js";
import { refusal } from "../parts/refusal.js";

const P = T.parcel;
const text = (v) => String(v ?? "").trim();

/** What was typed stays while the page is open. */
const held = { name: "", pieces: "", weight: "", asking: "", pickedBy: "blind", minutes: "", pays: "", perCarat: "", looked: [] };

export async function parcel() {
  const { currency } = await api.prices();
  const answer = h("div", { "aria-live": "polite" });
  const rows = h("div");
  const figure = (key, label, unit, hint, path) => field({ label, hint, unit, kind: "number", path, value: held[key], oninput: (v) => { held[key] = v; } });
  const form = h("div", { class: "form" },
    h("section", { class: "panel", "aria-labelledby": "parcel-bag" },
      h("h2", { id: "parcel-bag" }, P.bag),
      field({ label: P.name, path: "parcel.name", wide: true, value: held.name, oninput: (v) => { held.name = v; } }),
      h("div", { class: "fields roomy" },
        figure("pieces", P.pieces, "", P.piecesHint, "parcel.pieces"),
        figure("weight", P.weight, "ct", "", "parcel.weight_ct"),
        figure("asking", P.asking, currency, P.askingHint, "parcel.asking.amount"),
        figure("minutes", P.minutes, "min", P.minutesHint, "parcel.minutes_a_look"))),
    h("section", { class: "panel", "aria-labelledby": "parcel-usual" },
      h("h2", { id: "parcel-usual" }, P.usual), h("p", { class: "hint" }, P.usualHint),
      h("div", { class: "fields roomy" },
        figure("pays", P.pays, "%", P.paysHint, "usual.pays"),
        figure("perCarat", P.perCarat, currency, P.perCaratHint, "usual.per_carat"))),
    h("section", { class: "panel", "aria-labelledby": "parcel-looked" },
      h("h2", { id: "parcel-looked" }, P.looked), h("p", { class: "hint" }, P.lookedHint),
      choice({ legend: P.picked, options: P.pickedBy, value: held.pickedBy, onchange: (v) => { held.pickedBy = v; }, path: "parcel.picked_by" }),
      rows,
      h("div", { class: "row" }, h("button", { type: "button", onclick: () => { held.looked.push({ weight: "", worth: "" }); draw(); } }, P.another))));
  const draw = () => put(rows, held.looked.map((piece, k) => h("div", { class: "row tight", role: "group", "aria-label": P.piece(k + 1) },
    field({ label: P.pieceWeight, kind: "number", unit: "ct", path: `looked[${k}].weight_ct`, value: piece.weight, oninput: (v) => { piece.weight = v; } }),
    field({ label: P.pieceWorth, hint: k === 0 ? P.pieceWorthHint : undefined, kind: "number", unit: currency, path: `looked[${k}].worth`, value: piece.worth, oninput: (v) => { piece.worth = v; } }),
    h("button", { type: "button", class: "quiet", "aria-label": P.removeThis(k + 1), onclick: () => { held.looked.splice(k, 1); draw(); } }, P.remove))));

  function wrong(faults) {
    const marked = faults.map((fault) => [fault, markFault(form, fault.field, `${fault.value}; ${fault.limit}`)]);
    put(answer, refusal({ message: P.faults(faults.length), faults: marked.filter(([, node]) => !node).map(([fault]) => fault) }));
    marked.find(([, node]) => node)?.[1].focus();
  }

  async function work(event) {
    const button = event.currentTarget;
    const { doc, faults } = fieldsOf(currency);
    if (faults.length > 0) return wrong(faults);
    button.disabled = true;
    put(answer, h("p", { class: "thinking" }, P.working));
    try {
      put(answer, told(await api.parcel(doc), currency));
      say(P.ready);
    } catch (error) {
      if (error.kind === "faults") wrong(error.faults);
      else put(answer, refusal(error));
    } finally {
      button.disabled = false;
    }
  }
  draw();
  return {
    title: P.title,
    node: h("div", { class: "page narrow" },
      h("h1", { tabindex: -1 }, P.title), h("p", {}, P.lead), form,
      h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: work }, P.work)), answer),
  };
}

/** The file's fields, and what is no number or missing. */
function fieldsOf(currency) {
  const faults = [];
  const figure = (said, path, needed = false) => {
    if (text(said) === "") {
      if (needed) faults.push({ field: path, value: P.empty, limit: T.takeIn.needNumber });
      return undefined;
    }
    const value = typed(said);
    if (Number.isNaN(value)) faults.push({ field: path, value: `'${said}'`, limit: T.takeIn.needNumber });
    return value;
  };
  const share = figure(held.pays, "usual.pays", true);
  const doc = {
    format: "opalwright-parcel/1",
    parcel: {
      name: text(held.name), pieces: figure(held.pieces, "parcel.pieces", true), weight_ct: figure(held.weight, "parcel.weight_ct", true),
      asking: text(held.asking) ? { amount: text(held.asking).replace(",", "."), currency } : undefined,
      picked_by: held.pickedBy, minutes_a_look: figure(held.minutes, "parcel.minutes_a_look"),
    },
    usual: { pays: share === undefined ? undefined : share / 100, per_carat: figure(held.perCarat, "usual.per_carat", true) },
    looked: held.looked.map((piece, k) => ({ weight_ct: figure(piece.weight, `looked[${k}].weight_ct`, true), worth: figure(piece.worth, `looked[${k}].worth`, true) })),
  };
  if (doc.parcel.name === "") faults.unshift({ field: "parcel.name", value: P.empty, limit: P.needName });
  return { doc: JSON.parse(JSON.stringify(doc)), faults };
}

function told(doc, currency) {
  const tell = (v) => money(v, currency);
  const worth = Number(doc.bid.amount) > 0;
  const { best } = doc.looking;
  const { quantiles: paying } = doc.unseen_paying;
  return h("section", { class: "panel pay", "aria-labelledby": "parcel-answer" },
    h("h2", { id: "parcel-answer" }, worth ? T.stone.payAtMost : T.stone.notWorth),
    worth && h("p", { class: "price" }, price(doc.bid)),
    worth && h("p", { class: "plain" }, T.stone.atPriceLoss(inTwenty(doc.chance_of_loss))),
    doc.at_asking && h("p", {}, P.atAsking(amount(doc.at_asking.asking), inTwenty(doc.at_asking.chance_of_loss), tell(Number(doc.at_asking.expected_gain)))),
    doc.unseen_paying.of > 0 && h("p", { class: "plain" }, best.pieces === 0 ? P.lookNoMore : P.lookFirst(best.pieces, number(best.minutes, 0), tell(best.gain), inTwenty(best.bought))),
    h("h3", {}, P.brings), h("p", {}, T.nineInTen(tell(doc.worth["0.05"]), tell(doc.worth["0.95"]))),
    rangeBar(doc.worth, { label: P.bringsLabel(tell(doc.worth["0.5"]), tell(doc.worth["0.05"]), tell(doc.worth["0.95"])), format: (v) => number(v, 0) }),
    doc.looked > 0 && h("p", {}, P.seen(doc.looked, doc.looked_paying, tell(doc.known))),
    doc.unseen_paying.of > 0 && h("p", {}, P.unseen(doc.unseen_paying.of, paying["0.05"], paying["0.95"])),
    doc.warnings.map((words) => h("p", { class: "note warn" }, words)),
    h("div", { class: "rests" }, h("h3", {}, T.stone.restsOn), h("ul", {}, doc.rests_on.map((line) => h("li", {}, line)))),
    h("p", { class: "hint" }, P.draws(number(doc.n_draws, 0), doc.seed)));
}
