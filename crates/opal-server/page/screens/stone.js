// One stone: what to pay, what may be inside, ways to cut, the bench.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { T } from "../strings.js";
import { carats, date, number } from "../format.js";
import { cautions } from "../parts/cautions.js";
import { guideNote } from "../parts/guide.js";
import { colourMap } from "../parts/map.js";
import { pay } from "../parts/pay.js";
import { plans } from "../parts/plans.js";
import { refusal } from "../parts/refusal.js";
import { section } from "../parts/section.js";
import { view3d } from "../parts/view3d.js";
import { wishes } from "../parts/wishes.js";

export async function stone(n, { runNow = false } = {}) {
  const page = await api.stone(n);
  const pieces = { view: null, work: null };
  const body = h("div", { class: "stone-body" });
  const facts = [
    T.forms[page.card.form] ?? page.card.form,
    page.card.weight_ct != null && carats(page.card.weight_ct),
    page.card.origin,
    date(page.card.taken_in),
  ].filter(Boolean);
  const node = h("div", { class: "page wide" },
    h("div", { class: "lead" },
      h("div", {},
        h("h1", { tabindex: -1 }, page.card.name, page.card.invented && h("span", { class: "tag" }, T.invented)),
        h("p", {}, facts.join(" · "))),
      h("div", { class: "row tight" },
        h("a", { class: "button quiet", href: `#/stone/${n}/wheel`, title: T.wheel.goHint }, T.wheel.go),
        h("a", { class: "button quiet", href: `#/books/write/bought/${n}` }, T.books.bought),
        h("a", { class: "button quiet", href: `#/price/${n}` }, T.price.go),
        h("a", { class: "button quiet", href: `#/books/write/sold/${n}` }, T.books.sold),
        h("a", { class: "button quiet", href: `#/stone/${n}/change` }, T.stone.change),
        h("a", { class: "button quiet", href: api.exportPath(n), download: "" }, T.stone.export))),
    body);

  const recolour = () => { pieces.view?.redraw(); pieces.map?.show(pieces.plan); };
  addEventListener("look-changed", recolour);
  const dark = matchMedia("(prefers-color-scheme: dark)");
  dark.addEventListener("change", recolour);
  const clear = () => { pieces.view?.close(); pieces.view = null; };

  function before(now = false) {
    clear();
    const place = h("div", { class: "panel" });
    const idle = (said) => put(place,
      said && h("p", { class: "note" }, said),
      h("button", { type: "button", class: "main", onclick: start }, T.stone.workOut),
      h("p", { class: "hint" }, T.stone.workOutHint));
    async function start() {
      const bar = h("progress", { max: 1, value: 0, "aria-label": T.stone.working });
      const step = h("p", { class: "hint", role: "status" }, T.stone.starting);
      pieces.work = api.run(n, (words, share) => { bar.value = share; if (words && step.textContent !== words) step.textContent = words; });
      put(place, h("h2", {}, T.stone.working), bar, step,
        h("button", { type: "button", class: "quiet", onclick: () => pieces.work?.stop() }, T.stone.stop));
      try {
        const end = await pieces.work.done;
        pieces.work = null;
        if (end === "cancelled") return idle(T.stone.stopped);
        after(await api.forecast(n));
        say(T.stone.parts.pay);
      } catch (error) {
        pieces.work = null;
        put(place, refusal(error, start));
      }
    }
    put(body, h("div", { class: "columns" },
      h("div", { class: "column" }, place, about(page)),
      h("div", { class: "column" }, h("section", { class: "panel" }, scene(page.scene)))));
    idle();
    // What was worked out before, or is being worked out now, need not be asked for again.
    if (now || runNow || page.running !== null || page.card.bid) start();
  }

  /** What was decided changed: the page is read anew, and the stone worked out again. */
  async function again() {
    page.wishes = (await api.stone(n)).wishes;
    before(true);
    body.scrollIntoView({ block: "start" });
  }

  function scene(data) {
    pieces.view = view3d(data);
    if (data.has_scan) api.scan(n).then((mesh) => mesh && pieces.view?.addScan(mesh)).catch(() => {});
    return pieces.view.element;
  }

  function after(forecast) {
    clear();
    const hasBar = forecast.scene.bars.length > 0;
    pieces.map = hasBar ? colourMap(forecast.scene) : null;
    pieces.section = section(forecast.scene);
    const inside = h("section", { class: "panel inside", id: "inside", "aria-labelledby": "inside-title" },
      h("h2", { id: "inside-title" }, T.stone.insideTitle),
      scene(forecast.scene),
      h("h3", {}, T.stone.sectionTitle), pieces.section.element,
      pieces.map && [h("h3", {}, T.stone.mapTitle), pieces.map.element]);
    const chosen = (plan) => {
      pieces.plan = plan;
      pieces.view?.show(plan);
      pieces.section.show(plan.stones);
      pieces.map?.show(plan);
    };
    const ways = plans(n, forecast, chosen);
    put(body,
      guideNote("stone"),
      h("nav", { class: "parts", "aria-label": T.stone.partsLabel },
        [["pay", T.stone.parts.pay], ["inside", T.stone.parts.inside], ["plans", T.stone.parts.plans], ["work", T.stone.parts.work]].map(([id, name]) =>
          h("button", { type: "button", class: "link", onclick: () => jump(id) }, name))),
      h("div", { class: "columns known" },
        h("div", { class: "column pay-column" }, pay(n, forecast, page)),
        h("div", { class: "column inside-column" }, inside),
        h("div", { class: "column plans-column" }, ways, wishes(n, page, forecast.scene, { again, plan: () => pieces.plan })),
        h("div", { class: "column work-column", id: "work" }, cautions(), about(page, forecast))));
    chosen(forecast.plans[0]);
  }

  if (page.forecast_ready) after(await api.forecast(n));
  else before();

  return {
    title: page.card.name,
    node,
    close: () => {
      clear();
      removeEventListener("look-changed", recolour);
      dark.removeEventListener("change", recolour);
    },
  };
}

function jump(id) {
  const place = document.getElementById(id);
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches;
  place?.scrollIntoView({ behavior: still ? "auto" : "smooth", block: "start" });
  const heading = place?.querySelector("h2");
  heading?.setAttribute("tabindex", "-1");
  heading?.focus({ preventScroll: true });
}

function about(page, forecast) {
  const notes = [...page.notes, ...(forecast?.warnings ?? [])];
  if (!page.check && notes.length === 0 && !forecast) return null;
  return h("section", { class: "panel" },
    h("h2", {}, T.stone.check),
    page.check && h("p", {}, page.check),
    notes.length > 0 && h("ul", {}, notes.map((note) => h("li", {}, note))),
    forecast && h("p", { class: "hint" }, T.stone.draws(number(forecast.n_interiors, 0), forecast.seed)));
}
