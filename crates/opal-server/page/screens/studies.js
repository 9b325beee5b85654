// How well the program does on invented stones whose inside is known: four studies, run
// here, with what each found when it was last run.

import * as api from "../api.js";
import { h, put, say } from "../dom.js";
import { date, number, percent, typed } from "../format.js";
import { T } from "../strings.js";
import { choice, field, markFault } from "../parts/fields.js";
import { figureTable } from "../parts/figure-table.js";
import { refusal } from "../parts/refusal.js";

const S = T.studies;
/** What each asks for, with what it begins with: small enough to be there in minutes. */
const ASKS = {
  calibration: { counts: { stones: "40", interiors: "400" }, laws: ["assumed"], looks: ["sighted"] },
  facing: { counts: { stones: "20", interiors: "240" }, law: "assumed" },
  plans: { counts: { stones: "20", interiors: "300" }, law: "assumed" },
  learning: { counts: { careers: "20", stones: "300" } },
};

export async function studies(which = "calibration") {
  const page = await api.studies();
  const body = h("div");
  const screen = { work: null };
  const kept = (name) => page.found.find((f) => f.asked.study === name);
  const asks = structuredClone(ASKS[which]);
  let seed = "";

  function form() {
    const counts = Object.keys(asks.counts).map((key) => field({
      ...S.counts[key], ...(S.countsOf[which]?.[key] ?? {}), kind: "number", path: key, value: asks.counts[key], oninput: (v) => { asks.counts[key] = v; },
    }));
    const laws = S.laws.map(([key, name, more]) => [key, name, more]);
    const node = h("section", { class: "panel", "aria-labelledby": "study-ask" },
      h("h2", { id: "study-ask" }, S.ask),
      h("div", { class: "fields" }, counts),
      asks.laws && choice({ legend: S.lawsLegend, options: laws, value: asks.laws, several: true, path: "laws", onchange: (v) => { asks.laws = v; } }),
      asks.law && choice({ legend: S.lawLegend, options: laws, value: asks.law, path: "laws", onchange: (v) => { asks.law = v; } }),
      asks.looks && choice({ legend: S.looksLegend, options: S.looks, value: asks.looks, several: true, path: "looks", onchange: (v) => { asks.looks = v; } }),
      h("details", { class: "why" }, h("summary", {}, S.more), field({ ...S.seed, kind: "number", path: "seed", value: seed, oninput: (v) => { seed = v; } })),
      h("p", { class: "hint" }, S.lasts[which]),
      h("div", { class: "row" }, h("button", { type: "button", class: "main", onclick: () => run(node) }, S.run)));
    return node;
  }

  function idle(said) {
    const found = kept(which);
    put(body, said && h("p", { class: "note" }, said), form(), found ? answer(found) : h("p", { class: "hint" }, S.notYet));
  }

  function wrong(node, faults) {
    const marked = faults.map((fault) => [fault, markFault(node, fault.field.replace(/\[\d+\]$/, ""), `${fault.value}; ${fault.limit}`)]);
    const rest = marked.filter(([, place]) => !place).map(([fault]) => fault);
    node.querySelector(".refusal")?.remove();
    node.append(refusal({ message: S.faults(faults.length), faults: rest }));
    marked.find(([, place]) => place)?.[1].focus();
  }

  async function run(node) {
    const { doc, faults } = read(which, asks, seed);
    if (faults.length > 0) return wrong(node, faults);
    follow(() => api.runStudy(doc, hear), node);
  }

  let bar, step;
  const hear = (words, share) => {
    bar.value = share;
    if (words && step.textContent !== words) step.textContent = words;
  };

  async function follow(start, node) {
    bar = h("progress", { max: 1, value: 0, "aria-label": S.working });
    step = h("p", { class: "hint", role: "status" }, T.stone.starting);
    screen.work = start();
    put(body, h("section", { class: "panel", "aria-labelledby": "study-working" }, h("h2", { id: "study-working" }, S.working), bar, step,
      h("p", { class: "hint" }, S.meanwhile),
      h("button", { type: "button", class: "quiet", onclick: (e) => { e.currentTarget.disabled = true; screen.work?.stop(); step.textContent = S.stopping; } }, T.stone.stop)));
    try {
      const end = await screen.work.done;
      screen.work = null;
      if (end === "cancelled") return idle(T.stone.stopped);
      page.found = (await api.studies()).found;
      idle();
      body.querySelector("#study-found")?.scrollIntoView({ block: "start" });
      say(S.ready);
    } catch (error) {
      screen.work = null;
      idle();
      if (error.kind === "faults" && node) wrong(body.firstElementChild, error.faults);
      else body.prepend(refusal(error));
    }
  }

  if (page.running !== null) follow(() => api.followWork(page.running, hear));
  else idle();
  return {
    title: S.title,
    node: h("div", { class: "page" },
      h("h1", { tabindex: -1 }, S.title), h("p", {}, S.lead),
      h("nav", { class: "pills which", "aria-label": S.which }, Object.keys(ASKS).map((name) =>
        h("a", { class: "button quiet", href: `#/studies/${name}`, "aria-current": name === which ? "page" : undefined }, S.names[name]))),
      h("section", { class: "panel", "aria-labelledby": "study-question" },
        h("h2", { id: "study-question" }, S.questions[which]), h("p", {}, S.how[which])),
      body),
    close: () => screen.urls?.forEach((url) => URL.revokeObjectURL(url)),
  };

  function answer(found) {
    screen.urls?.forEach((url) => URL.revokeObjectURL(url));
    const drawing = URL.createObjectURL(new Blob([found.drawing], { type: "image/svg+xml" }));
    const document = URL.createObjectURL(new Blob([JSON.stringify(found.document, null, 1)], { type: "application/json" }));
    screen.urls = [drawing, document];
    return h("section", { class: "panel", "aria-labelledby": "study-found" },
      h("h2", { id: "study-found" }, S.found),
      h("p", { class: "hint" }, S.foundWhen(date(found.at), found.version)),
      SAID[which](found.document),
      h("div", { class: "study-drawing", tabindex: 0, role: "group", "aria-label": S.drawing }, h("img", { src: drawing, alt: S.drawingAlt })),
      h("details", { class: "why" }, h("summary", {}, S.all), h("pre", { class: "study-table", tabindex: 0, role: "group", "aria-label": S.all }, found.table)),
      h("div", { class: "row" },
        h("a", { class: "button quiet", href: drawing, download: `study-${which}.svg` }, S.saveDrawing),
        h("a", { class: "button quiet", href: document, download: `study-${which}.json` }, S.saveDocument)));
  }
}

/** What was filled in, as the server takes it, and what is no whole number. */
function read(which, asks, seed) {
  const faults = [];
  const whole = (path, said) => {
    const value = typed(said);
    if (Number.isInteger(value) && value >= 0) return value;
    faults.push({ field: path, value: said === "" ? S.nothing : `'${said}'`, limit: S.wholeNumber });
    return undefined;
  };
  const doc = { study: which };
  for (const [key, said] of Object.entries(asks.counts)) doc[key] = whole(key, said.trim());
  if (seed.trim() !== "") doc.seed = whole("seed", seed.trim());
  if (asks.laws) doc.laws = asks.laws;
  if (asks.law) doc.laws = [asks.law];
  if (asks.looks) doc.looks = asks.looks;
  return { doc, faults };
}

/** Fewer than twenty of anything tell little, whatever their errors say. */
const few = (n) => n < 20 && h("p", { class: "note" }, S.few);

const withError = (share, error) => [percent(share), h("small", {}, `± ${number(100 * error, 0)}`)];

/** The answer of each in plain words, out of its document. */
const SAID = {
  calibration: (doc) => {
    const held = (tally) => {
      const [half, , nine] = tally.coverage;
      return [S.of100(number(100 * nine.share, 0)), h("small", {}, S.half(number(100 * half.share, 0), number(100 * nine.standard_error, 0)))];
    };
    return [
      h("p", { class: "plain" }, S.calibration),
      few(doc.stones),
      figureTable({
        caption: S.found, columns: S.calibrationColumns,
        rows: doc.cells.filter((cell) => cell.form === undefined).map((cell) => [
          [S.cellLooks[cell.look] ?? cell.look, h("small", {}, `${cell.law}, ${S.stones(cell.stones)}`)], held(cell.top), held(cell.thickness), held(cell.volume)]),
      }),
      doc.findings.length > 0 && h("ul", {}, doc.findings.map((words) => h("li", {}, words))),
    ];
  },
  facing: (doc) => [
    h("p", { class: "plain" }, S.facing(percent(doc.ways[0].kept), S.stones(doc.stones))),
    few(doc.stones),
    figureTable({
      caption: S.found, columns: S.facingColumns,
      rows: doc.ways.map((way, k) => [capital(way.way), withError(way.kept, way.kept_error), k === 0 ? "–" : [number(way.advice_over, 1), h("small", {}, `± ${number(way.advice_over_error, 1)}`)]]),
    }),
    h("p", { class: "hint" }, S.invented),
  ],
  plans: (doc) => [
    h("p", { class: "plain" }, doc.choices[0].share_of_best > 0 ? S.plans(percent(doc.choices[0].share_of_best), S.stones(doc.stones)) : S.plansLost(S.stones(doc.stones))),
    few(doc.stones),
    figureTable({
      caption: S.found, columns: S.plansColumns,
      rows: doc.choices.map((way) => [capital(way.choice), percent(way.share_of_best), [number(way.regret, 0), h("small", {}, `± ${number(way.regret_error, 0)}`)], number(way.first_on, 0)]),
    }),
    h("p", { class: "hint" }, S.invented),
  ],
  learning: (doc) => [
    h("p", { class: "plain" }, S.learning(number(doc.profit.added, 0), doc.careers > 1 && number(doc.profit.added_error, 0))),
    few(doc.careers),
    h("p", {}, S.learningBoth(number(doc.profit.learning, 0), number(doc.profit.not_learning, 0))),
    h("p", { class: "hint" }, S.invented),
  ],
};

const capital = (word) => word[0].toUpperCase() + word.slice(1);
