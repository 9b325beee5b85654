// Writing one thing into the books: bought, sold, used up, worked, a fee, came back, gone.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { typed } from "../format.js";
import { T } from "../strings.js";
import { choice, field, markFault, select } from "../parts/fields.js";
import { refusal } from "../parts/refusal.js";

const B = T.books;

/** Which fields each kind of entry has. */
const FIELDS = {
  bought: ["piece", "amount"],
  sold: ["piece", "amount", "fee"],
  spent: ["on", "amount"],
  worked: ["on", "minutes"],
  fee: ["on", "side", "amount"],
  returned: ["entry", "amount"],
  lost: ["piece"],
  split: ["piece", "parts"],
};

/** `what` and `about` come from the address: a kind of entry, and a stone or the number of a sale. */
export async function booksWrite(what = "bought", about) {
  const [stones, ledger, entries] = await Promise.all([api.stones(), api.ledger(""), api.entries("")]);
  const corrected = new Set(entries.entries.filter((e) => e.slip.what === "corrected").map((e) => e.slip.entry));
  const sales = entries.entries.filter((e) => e.slip.what === "sold" && !corrected.has(e.number));
  const slip = { what, date: localDay(), piece: what === "returned" ? "" : about ?? "", entry: what === "returned" ? about ?? "" : "", side: "buying", parts: [], foreign: false };
  const form = h("div", { class: "form" });
  const answer = h("div");
  let after = entries.entries.length;

  const pieces = (label, none) => select({
    label, path: "piece", value: slip.piece,
    options: [["", none ?? B.choose], ...stones.map((s) => [String(s.number), s.name]),
      ...ledger.items.filter((i) => i.number == null).map((i) => [`parcel:${i.name}`, B.parcelNamed(i.name)]), ...(none ? [] : [["new", B.newParcel]])],
    onchange: (v) => { slip.piece = v; draw(); },
  });
  const text = (key, more) => field({ path: key, value: slip[key] ?? "", oninput: (v) => { slip[key] = v; }, ...B.fields[key], ...more });

  const parts = {
    piece: () => [
      pieces(B.which, null),
      slip.piece === "new" && text("parcel"),
    ],
    on: () => pieces(B.onWhich, B.onNone),
    amount: () => [
      text("amount", { kind: "number", unit: slip.foreign ? undefined : ledger.currency, ...(B.amounts[slip.what] ?? {}) }),
      slip.what !== "returned" && h("label", { class: "check" },
        h("input", { type: "checkbox", checked: slip.foreign, onchange: (e) => { slip.foreign = e.target.checked; draw(); } }), h("span", {}, B.foreign(ledger.currency))),
      slip.foreign && h("div", { class: "fields" }, text("currency"), text("rate", { kind: "number", unit: ledger.currency })),
    ],
    fee: () => text("fee", { kind: "number", unit: slip.foreign ? undefined : ledger.currency }),
    minutes: () => [text("minutes", { kind: "number", unit: B.minutesUnit }), text("hourly", { kind: "number", unit: ledger.currency })],
    side: () => choice({ legend: B.side, path: "side", value: slip.side, options: Object.entries(B.sides).map(([k, [name, hint]]) => [k, name, hint]), onchange: (v) => { slip.side = v; } }),
    entry: () => sales.length === 0 ? h("p", { class: "note" }, B.noSales) : select({
      label: B.whichSale, path: "entry", value: slip.entry,
      options: [["", B.choose], ...sales.map((e) => [String(e.number), B.saleNamed(e.slip.stone ?? e.slip.parcel, e.slip.date)])],
      onchange: (v) => { slip.entry = v; },
    }),
    parts: () => h("fieldset", {},
      h("legend", {}, B.intoWhich), h("p", { class: "hint" }, B.intoHint),
      h("div", { class: "options" }, stones.map((s) => h("label", { class: "option" },
        h("input", { type: "checkbox", checked: slip.parts.includes(s.number), onchange: (e) => {
          slip.parts = e.target.checked ? [...slip.parts, s.number] : slip.parts.filter((n) => n !== s.number);
        } }),
        h("span", { class: "option-text" }, s.name)))),
      h("p", { class: "fault" })),
  };

  function draw() {
    put(form,
      choice({ legend: B.what, value: slip.what, options: Object.entries(B.kinds).map(([k, [name, hint]]) => [k, name, hint]), onchange: (v) => { slip.what = v; put(answer); draw(); form.querySelector(`input[value="${v}"]`)?.focus(); } }),
      FIELDS[slip.what].map((key) => h("div", { class: "group" }, parts[key]())),
      h("div", { class: "fields" }, text("date")),
      text("note", { wide: true }));
  }

  async function keep(event) {
    const button = event.currentTarget;
    put(answer);
    const { doc, faults } = read(slip);
    if (faults.length > 0) return told(faults);
    button.disabled = true;
    try {
      await api.book([doc], after);
      say(B.kept);
      location.hash = "#/books";
    } catch (error) {
      button.disabled = false;
      if (error.kind !== "faults") return put(answer, refusal(error));
      if (error.faults.some((f) => f.field === "after")) return grown();
      told(error.faults.map((f) => [f.field, `${f.value}; ${f.limit}`]));
    }
  }

  /** Somebody booked since, or this was booked and its answer lost: the cutter looks. */
  async function grown() {
    after = (await api.entries("")).entries.length;
    put(answer, h("div", { class: "refusal", role: "alert" },
      h("p", {}, h("strong", {}, B.grown)), h("a", { href: "#/books" }, B.look)));
  }

  function told(faults) {
    const left = [];
    let first = null;
    for (const [path, words] of faults) {
      const node = markFault(form, path === "stone" ? "piece" : path, words);
      if (node) first ??= node;
      else left.push(`${B.fieldNames[path] ?? path}: ${words}`);
    }
    put(answer, h("div", { class: "refusal", role: "alert" },
      h("p", {}, h("strong", {}, B.notKept(faults.length))),
      left.length > 0 && h("ul", {}, left.map((words) => h("li", {}, words)))));
    first?.focus();
  }

  draw();
  return {
    title: B.writeTitle,
    node: h("div", { class: "page narrow" },
      h("h1", { tabindex: -1 }, B.writeTitle),
      form, answer,
      h("div", { class: "row ends" },
        h("a", { class: "button quiet", href: "#/books" }, T.back),
        h("button", { type: "button", class: "main", onclick: keep }, B.keep))),
  };
}

/** What was filled in, as the server's slip, and what is plainly missing. */
function read(slip) {
  const faults = [];
  const doc = { what: slip.what };
  const has = new Set(FIELDS[slip.what]);
  const money = (key, needed) => {
    const said = (slip[key] ?? "").trim();
    if (said === "") return needed && faults.push([key, B.missing]);
    const value = typed(said);
    if (Number.isNaN(value)) return faults.push([key, B.noNumber(said)]);
    // As it was typed: the server keeps amounts exactly.
    doc[key] = said.replace(",", ".");
  };
  if (has.has("piece") || has.has("on")) {
    if (slip.piece === "" && has.has("piece")) faults.push(["piece", B.missing]);
    else if (slip.piece === "new") doc.parcel = (slip.parcel ?? "").trim();
    else if (slip.piece.startsWith("parcel:")) doc.parcel = slip.piece.slice("parcel:".length);
    else if (slip.piece !== "") doc.stone = slip.piece;
  }
  if (has.has("amount")) {
    money("amount", slip.what !== "returned");
    if (slip.foreign && slip.what !== "returned") {
      doc.currency = (slip.currency ?? "").trim().toUpperCase();
      money("rate", true);
    }
  }
  if (has.has("fee")) money("fee", false);
  if (has.has("side")) doc.side = slip.side;
  if (has.has("minutes")) {
    const value = typed(slip.minutes ?? "");
    if (Number.isInteger(value)) doc.minutes = value;
    else faults.push(["minutes", (slip.minutes ?? "") === "" ? B.missing : B.wholeMinutes]);
    money("hourly", false);
  }
  if (has.has("entry")) {
    if (slip.entry === "") faults.push(["entry", B.missing]);
    else doc.entry = Number(slip.entry);
  }
  if (has.has("parts")) doc.parts = slip.parts.map((n) => ({ stone: String(n) }));
  if (slip.date.trim()) doc.date = slip.date.trim();
  if (slip.note?.trim()) doc.note = slip.note.trim();
  return { doc, faults };
}

/** Today where the cutter is, not at the meridian. */
function localDay() {
  const now = new Date();
  return new Date(now - now.getTimezoneOffset() * 60_000).toISOString().slice(0, 10);
}
