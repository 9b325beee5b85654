// The cutter's own wheels and saw, coarse to fine; the last wheel polishes.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { typed, number } from "../format.js";
import { T } from "../strings.js";
import { field, markFault, select } from "../parts/fields.js";
import { refusal } from "../parts/refusal.js";

const W = T.wheels;
const text = (v) => (v === undefined || v === null ? "" : String(v));

export async function wheels() {
  let page = await api.wheels();
  let draft = draftOf(page.file);
  const status = h("p", { class: "note" });
  const known = h("div");
  const form = h("div", { class: "form" });
  const answer = h("div");

  const told = () => {
    status.className = page.set.own ? "note" : "note warn";
    status.textContent = page.set.own ? W.own : W.usual;
    put(known, h("details", { class: "more" }, h("summary", {}, W.known),
      h("ul", { class: "plain-list" }, page.set.wheels.map((wheel) => h("li", {},
        h("strong", {}, wheel.name), " ", h("span", { class: "hint" }, wheel.grit), h("br"),
        W.takes(number(wheel.removal_mm3_per_min[0], 1), number(wheel.removal_mm3_per_min[2], 1), wheel.stints), " ",
        wheel.damage_um ? W.damage(number(wheel.damage_um[0], 0), number(wheel.damage_um[2], 0)) : W.noDamage)))));
  };

  const draw = () => {
    const last = draft.wheels.length - 1;
    put(form,
      field({ label: W.set, hint: W.setHint, path: "title", wide: true, value: draft.title, oninput: (v) => { draft.title = v; } }),
      draft.wheels.map((wheel, k) => one(wheel, k, k === last)),
      h("div", { class: "row" }, h("button", { type: "button", onclick: () => { draft.wheels.splice(last, 0, { name: "", scale: wheelBefore(last).scale, number: "", um: "", rate: "", factor: "", price: "", lasts: "", kept: {} }); draw(); } }, W.another)),
      saw());
  };
  const wheelBefore = (k) => draft.wheels[Math.max(0, k - 1)] ?? { scale: "lapidary-diamond" };

  function one(wheel, k, polishes) {
    // What a field means is said once, at the first wheel.
    const once = (hint) => (k === 0 ? hint : undefined);
    const path = `wheel[${k}]`;
    const figure = (key, label, unit, hint, at) => field({ label, hint: once(hint), unit, kind: "number", path: `${path}.${at}`, value: wheel[key], oninput: (v) => { wheel[key] = v; } });
    return h("section", { class: "panel", "aria-labelledby": `wheel-${k}` },
      h("h2", { id: `wheel-${k}`, tabindex: -1, "data-path": `${path}.kind` }, polishes ? W.polishing(k + 1) : W.grinding(k + 1)), h("p", { class: "fault" }),
      field({ label: W.name, hint: once(W.nameHint), path: `${path}.name`, wide: true, value: wheel.name, oninput: (v) => { wheel.name = v; } }),
      h("div", { class: "fields roomy", "data-path": `${path}.grit`, tabindex: -1 },
        select({ label: W.scale, path: `${path}.grit.scale`, value: wheel.scale, options: W.scales, wide: false, onchange: (v) => { wheel.scale = v; draw(); } }),
        wheel.scale === "um"
          ? figure("um", W.um, "µm", W.umHint, "grit.um")
          : field({ label: W.number, hint: once(W.numberHint), path: `${path}.grit.number`, value: wheel.number, oninput: (v) => { wheel.number = v; } }),
        figure("rate", W.rate, "mm³/min", W.rateHint, "removal_mm3_per_min"),
        figure("price", W.price, page.currency, W.priceHint, "price"),
        figure("lasts", W.lasts, "mm³", W.lastsHint, "lasts_mm3"), h("p", { class: "fault" })),
      h("div", { class: "row tight" },
        k > 0 && h("button", { type: "button", class: "quiet", "aria-label": W.coarserThis(wheel.name), onclick: () => { [draft.wheels[k - 1], draft.wheels[k]] = [wheel, draft.wheels[k - 1]]; draw(); } }, W.coarser),
        draft.wheels.length > 2 && h("button", { type: "button", class: "quiet", "aria-label": W.removeThis(wheel.name), onclick: () => { draft.wheels.splice(k, 1); draw(); } }, W.remove)));
  }

  function saw() {
    const figure = (key, label, unit, hint, at) => field({ label, hint, unit, kind: "number", path: `saw.${at}`, value: draft.saw[key], oninput: (v) => { draft.saw[key] = v; } });
    return h("section", { class: "panel", "aria-labelledby": "wheel-saw" },
      h("h2", { id: "wheel-saw" }, W.saw),
      h("div", { class: "fields roomy" },
        figure("feed", W.feed, "mm²/min", W.feedHint, "feed_mm2_per_min"),
        figure("setUp", W.setUp, "min", W.setUpHint, "set_up_minutes"),
        figure("price", W.bladePrice, page.currency, "", "blade_price"),
        figure("lasts", W.bladeLasts, "mm²", W.bladeLastsHint, "blade_lasts_mm2")));
  }

  async function keep(event) {
    const button = event.currentTarget;
    put(answer);
    const typos = noNumbers(draft);
    if (typos.length > 0) return wrong(typos);
    button.disabled = true;
    try {
      page = await api.setWheels(fileOf(draft, page.currency));
      draft = draftOf(page.file);
      told();
      draw();
      put(answer, h("p", { class: "note good" }, W.saved));
      say(W.saved);
    } catch (error) {
      if (error.kind !== "faults") put(answer, refusal(error));
      else wrong(error.faults);
    } finally {
      button.disabled = false;
    }
  }

  function wrong(faults) {
    const marked = faults.map((fault) => [fault, markFault(form, fault.field, `${fault.value}; ${fault.limit}`)]);
    put(answer, refusal({ message: W.faults(faults.length), faults: marked.filter(([, node]) => !node).map(([fault]) => fault) }));
    marked.find(([, node]) => node)?.[1].focus();
  }

  told();
  draw();
  return {
    title: W.title,
    node: h("div", { class: "page narrow" },
      h("h1", { tabindex: -1 }, W.title), h("p", {}, W.lead), status, known, form, answer,
      h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: keep }, W.save))),
  };
}

/** A file as it would have been typed. */
function draftOf(file) {
  return {
    title: text(file.title),
    wheels: (file.wheel ?? []).map((v) => ({
      name: v.name, scale: v.grit.scale ?? "um", number: text(v.grit.number), um: text(v.grit.um),
      rate: text(v.removal_mm3_per_min), price: text(v.price), lasts: text(v.lasts_mm3), kept: v,
    })),
    saw: { feed: text(file.saw?.feed_mm2_per_min), setUp: text(file.saw?.set_up_minutes), price: text(file.saw?.blade_price), lasts: text(file.saw?.blade_lasts_mm2), kept: file.saw },
    kept: file,
  };
}

/** What was typed where a number belongs, and is none. */
function noNumbers(draft) {
  const figures = [
    ...draft.wheels.flatMap((v, k) => [[v.scale === "um" ? v.um : "", "grit.um"], [v.rate, "removal_mm3_per_min"], [v.lasts, "lasts_mm3"]].map(([said, at]) => [said, `wheel[${k}].${at}`])),
    [draft.saw.feed, "saw.feed_mm2_per_min"], [draft.saw.setUp, "saw.set_up_minutes"], [draft.saw.lasts, "saw.blade_lasts_mm2"],
  ];
  return figures.filter(([said]) => said.trim() !== "" && Number.isNaN(typed(said))).map(([said, field]) => ({ field, value: `'${said}'`, limit: T.takeIn.needNumber }));
}

/** The file. What the form has no field for is kept. */
function fileOf(draft, currency) {
  const figure = (v) => (v.trim() === "" ? undefined : typed(v));
  const word = (v) => (v.trim() === "" ? undefined : v.trim().replace(",", "."));
  const last = draft.wheels.length - 1;
  const wheel = draft.wheels.map((v, k) => ({
    ...v.kept,
    name: v.name.trim(),
    kind: k === last ? "polish" : "grind",
    grit: v.scale === "um" ? { um: figure(v.um) } : { scale: v.scale, number: v.number.trim(), um: v.kept.grit?.number === v.number.trim() ? v.kept.grit?.um : undefined },
    removal_mm3_per_min: figure(v.rate),
    price: word(v.price),
    lasts_mm3: figure(v.lasts),
  }));
  const { saw } = draft;
  const told = [saw.feed, saw.setUp, saw.price, saw.lasts].some((v) => v.trim() !== "");
  const priced = wheel.some((v) => v.price) || saw.price.trim() !== "";
  // Leaving a field out is what says 'not known'; JSON drops what is undefined.
  return JSON.parse(JSON.stringify({
    ...draft.kept,
    title: draft.title.trim(),
    currency: priced ? draft.kept.currency ?? currency : draft.kept.currency,
    wheel,
    saw: told ? { ...saw.kept, feed_mm2_per_min: figure(saw.feed), set_up_minutes: figure(saw.setUp), blade_price: word(saw.price), blade_lasts_mm2: figure(saw.lasts) } : undefined,
  }));
}
