// At the wheel: what to do next, what happened, and always a way back.

import * as api from "../api.js";
import { stayAwake } from "../awake.js";
import { h, put, say } from "../dom.js";
import { carats, mm, number } from "../format.js";
import { waiting } from "../queue.js";
import { T } from "../strings.js";
import { advice } from "../parts/advice.js";
import { cautions } from "../parts/cautions.js";
import { faultText } from "../parts/refusal.js";
import { drying } from "../parts/drying.js";
import { finishing } from "../parts/finishing.js";
import { guideNote } from "../parts/guide.js";
import { sawOrGrind } from "../parts/saw-or-grind.js";
import { FORMS } from "../parts/wheel-forms.js";

const W = T.wheel;
const LAST = (n) => `opalwright-wheel-${n}`;

export async function wheel(n) {
  let page = await latest(n);
  let advised = null;
  let asking = 0;
  let sheet = null;
  const facts = h("p", { class: "wheel-facts" });
  const awake = h("p", { class: "hint" });
  const next = h("section", { class: "panel advice", "aria-labelledby": "next-title" });
  const entries = h("section", { class: "panel entries", "aria-labelledby": "log-title" });
  const status = h("div", { class: "wheel-status", role: "status" });
  const undo = h("button", { type: "button", class: "undo wide-key" });
  const node = h("div", { class: "page wheel" },
    h("div", { class: "wheel-top" },
      h("a", { class: "button quiet", href: `#/stone/${n}` }, `‹ ${W.toStone}`),
      h("h1", { tabindex: -1 }, page.log.piece), facts,
      guideNote("wheel")),
    next,
    h("section", { class: "happened", "aria-labelledby": "happened-title" },
      h("h2", { id: "happened-title" }, W.happened),
      h("div", { class: "kinds" }, Object.keys(FORMS).map((kind) =>
        h("button", { type: "button", class: `kind does-${kind}`, onclick: () => enter(kind) }, W.kinds[kind])))),
    h("section", { class: "happened", "aria-labelledby": "questions-title" },
      h("h2", { id: "questions-title" }, W.questions),
      h("div", { class: "kinds" },
        [["finish", finish], ["sawOrGrind", () => answered(W.sawOrGrind.title, sawOrGrind(page))], ["drying", () => answered(W.drying.title, drying(n))]].map(([key, open]) =>
          h("button", { type: "button", class: "kind", onclick: open }, W.questionKeys[key])))),
    entries, cautions(), awake,
    h("div", { class: "wheel-bar" }, status, undo));

  /** Shows the stone as it is, and what waits. */
  function show() {
    const mine = waiting.of(n);
    const { log } = page;
    put(facts, [W.stage[log.stage], W.weighsNow(carats(log.weight_ct)), log.wheel && W.onWheel(log.wheel)].filter(Boolean).join(" · "));
    const stuck = mine.find((v) => v.refused);
    put(status,
      !waiting.keeps() && h("p", { class: "note warn" }, W.notKept),
      stuck ? h("div", { class: "refusal", role: "alert" },
        h("p", {}, h("strong", {}, W.refused), " ", words(stuck.event)),
        h("ul", {}, stuck.refused.faults?.length ? stuck.refused.faults.map((fault) => h("li", {}, faultText(fault))) : h("li", {}, stuck.refused.message)),
        h("div", { class: "row tight" },
          h("button", { type: "button", onclick: () => waiting.drop(stuck) }, W.leaveOut),
          h("button", { type: "button", onclick: () => waiting.again() }, W.tryAgain)))
        : mine.length > 0 && h("div", { class: "row tight waiting" },
          h("p", { class: "grow" }, waiting.away ? W.keptHere(mine.length) : W.sendingNow),
          waiting.away && h("button", { type: "button", onclick: () => waiting.again() }, W.tryAgain)));
    const last = lastStanding();
    undo.disabled = !last;
    put(undo, last ? W.undo(last.words) : W.nothingToUndo);
    undo.onclick = last?.undo;
    put(entries, h("h2", { id: "log-title" }, W.log),
      log.events.some((v) => v.stands && v.event.kind === "broken") && h("p", { class: "note warn" }, W.broke),
      log.events.length + mine.length === 0 && h("p", {}, W.noLog),
      h("ol", { class: "entry-list" },
        mine.toReversed().map((v) => h("li", { class: "waits" }, h("span", { class: "said" }, words(v.event)), h("span", { class: "tag" }, W.waits))),
        log.events.toReversed().filter((v) => v.event.kind !== "undone").map((v) => h("li", { class: v.stands ? "" : "undone" },
          h("span", { class: "nr" }, v.number), h("span", { class: "said" }, v.words), !v.stands && h("span", { class: "tag" }, W.undone),
          v.stands && h("button", { type: "button", class: "quiet", "aria-label": W.undoThis(v.number), onclick: () => takeBack(v) }, W.undoShort)))),
      log.notes.length > 0 && h("ul", { class: "hint" }, log.notes.map((text) => h("li", {}, text))));
    showAdvice();
  }

  const takeBack = (entry) => { waiting.add(n, { kind: "undone", event: entry.number }); say(W.undo(entry.words)); };

  /** The newest entry that still stands, waiting ones first. */
  function lastStanding() {
    const mine = waiting.of(n);
    const gone = new Set(mine.flatMap((v) => (v.event.kind === "undone" ? [v.event.once ?? v.event.event] : [])));
    const here = mine.findLast((v) => v.event.kind !== "undone" && !gone.has(v.once));
    if (here) return { words: words(here.event), undo: () => { waiting.undo(here); say(W.undo(words(here.event))); } };
    const there = page.log.events.findLast((v) => v.stands && v.event.kind !== "undone" && !gone.has(v.number));
    return there && { words: there.words, undo: () => takeBack(there) };
  }

  function showAdvice(error) {
    const old = waiting.of(n).length > 0 || (advised && advised.n_events !== page.log.events.length);
    const said = advised && advice(advised, page, act, old);
    put(next, h("h2", { id: "next-title" }, W.next),
      asking > 0 && !error && h("p", { class: "thinking", role: "status" }, W.thinking),
      said,
      error && h("div", { class: "note" }, W.noAdvice, " ", error.kind === "away" ? T.error.away : error.message));
  }

  /** Asks anew what to do next; a newer question makes an older answer void. */
  async function think() {
    const mine = ++asking;
    showAdvice();
    try {
      const doc = await api.now(n);
      if (mine !== asking) return;
      advised = doc;
      asking = 0;
      showAdvice();
    } catch (error) {
      if (mine !== asking) return;
      asking = 0;
      if (error.kind === undefined) throw error;
      showAdvice(error);
    }
  }

  function act(one) {
    if (one.action === "take-off") enter("ground", { depth: one.depth_mm });
    else if (one.action === "open-window") enter("window", { at: one.at_mm });
    else finish();
  }

  function enter(kind, proposed = {}) {
    const form = FORMS[kind]({ page, ...proposed });
    const missing = h("p", { class: "fault", role: "alert" });
    const keep = () => {
      const event = form.event();
      if (typeof event === "string") { missing.textContent = event; return; }
      sheet.close();
      waiting.add(n, JSON.parse(JSON.stringify(event)));
      say(words(event));
    };
    sheet = over(W.kinds[kind], form.node, [
      missing,
      h("button", { type: "button", class: "quiet", onclick: () => sheet.close() }, W.cancel),
      h("button", { type: "submit", class: "main" }, W.keep)], keep);
  }

  function finish() { answered(W.finishTitle, finishing(n, page)); }

  /** A question with its answer; nothing is logged by it. */
  function answered(title, body) {
    sheet = over(title, body, [
      h("button", { type: "button", class: "quiet", onclick: () => sheet.close() }, T.close)], () => {});
  }

  const heard = ({ detail }) => {
    if (detail?.stone === n) {
      page = detail.page;
      keepLast(n, page);
      if (waiting.of(n).length === 0) think();
    }
    show();
  };
  addEventListener("waiting-changed", heard);
  const sleep = stayAwake((on) => { awake.textContent = on ? W.awake : W.mayDim; });
  show();
  think();
  const close = () => {
    removeEventListener("waiting-changed", heard);
    sheet?.close();
    sleep();
  };
  return { title: W.title(page.log.piece), node, close };
}

/** A sheet over the page, with its buttons always in reach. */
function over(title, body, buttons, onsubmit) {
  const sheet = h("dialog", { class: "sheet", "aria-labelledby": "sheet-title" },
    h("form", { method: "dialog", novalidate: true, onsubmit: (e) => { e.preventDefault(); onsubmit(); } },
      h("div", { class: "sheet-body" }, h("h2", { id: "sheet-title", tabindex: -1 }, title), body),
      h("div", { class: "sheet-ends" }, buttons)));
  sheet.addEventListener("close", () => sheet.remove());
  document.body.append(sheet);
  sheet.showModal();
  sheet.querySelector("h2").focus();
  return sheet;
}

/** The stone from the bench computer; out of its reach, as it was last seen here. */
async function latest(n) {
  try {
    const page = await api.wheel(n);
    keepLast(n, page);
    return page;
  } catch (error) {
    const kept = error.kind === "away" && localStorage.getItem(LAST(n));
    if (!kept) throw error;
    return JSON.parse(kept);
  }
}

function keepLast(n, page) {
  try {
    localStorage.setItem(LAST(n), JSON.stringify(page));
  } catch {
    // A full or closed storage only costs the view while out of reach.
  }
}

/** An entry that waits, in words; the bench computer has its own for those that it holds. */
function words(event) {
  const V = W.words;
  switch (event.kind) {
    case "weighed": return V.weighed(carats(event.weight_ct));
    case "ground": return V.ground(event.depth_mm != null ? mm(event.depth_mm) : carats(event.weights_ct[0] - event.weights_ct[1]), W.places[event.at_mm ? "spot" : event.place][0].toLowerCase());
    case "window-opened": return `${V.window}, ${mm(event.depth_mm)}`;
    case "wheel-changed": return V.wheel(event.to);
    case "seen": {
      const key = typeof event.what === "string" ? event.what : Object.keys(event.what)[0];
      const size = event.what[key]?.mm ?? event.what[key]?.diameter_mm;
      return `${(W.sights[event.what.speck?.speck ?? key] ?? key).toLowerCase()}${size != null ? `, ${number(size, 1)} mm` : ""}`;
    }
    case "note": return V.note(event.text);
    default: return V[event.kind] ?? event.kind;
  }
}
