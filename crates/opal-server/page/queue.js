// What happened at the wheel waits here until the bench computer has it. Each
// event carries a mark of its own, so that one sent twice stands once; the list
// is kept by the browser, so that a tablet that goes dark loses nothing.

import * as api from "./api.js";

const KEY = "opalwright-waiting";
/** Pauses between tries while nothing answers, milliseconds. */
const FIRST_PAUSE = 2_000, LONGEST_PAUSE = 30_000;

/** False once the browser refused to keep something. */
let keeps = true;
let held = read();
let sending = false;
let pause = FIRST_PAUSE;
let timer;

function read() {
  try {
    return JSON.parse(localStorage.getItem(KEY)) ?? [];
  } catch {
    return [];
  }
}

function change(next) {
  held = next;
  try {
    localStorage.setItem(KEY, JSON.stringify(held));
    keeps = true;
  } catch {
    keeps = false;
  }
  tell();
}

const tell = (page) => dispatchEvent(new CustomEvent("waiting-changed", { detail: page }));

/** A mark that no other event has: 128 random bits. (`randomUUID` is only there over https.) */
function mark() {
  return Array.from(crypto.getRandomValues(new Uint8Array(16)), (b) => b.toString(16).padStart(2, "0")).join("");
}

export const waiting = {
  /** What waits for a stone, oldest first. */
  of: (stone) => held.filter((v) => v.stone === stone),
  all: () => held,
  keeps: () => keeps,
  /** Nothing answered the last try. */
  away: false,

  add(stone, event) {
    const entry = { once: mark(), stone, at: new Date().toISOString(), event };
    change([...held, entry]);
    send();
    return entry;
  },

  /** Takes back what waits: gone if it was never sent, else undone by its mark. */
  undo(entry) {
    if (!entry.tried || entry.refused) return this.drop(entry);
    this.add(entry.stone, { kind: "undone", once: entry.once });
  },

  drop(entry) {
    // What would have undone it goes with it.
    change(held.filter((v) => v.once !== entry.once && v.event.once !== entry.once));
    send();
  },

  /** Tries again at once. */
  again() {
    pause = FIRST_PAUSE;
    change(held.map((v) => ({ ...v, refused: undefined })));
    send();
  },
};

const mend = (once, part) => change(held.map((v) => (v.once === once ? { ...v, ...part } : v)));

/** Sends what can be sent, in order; a stone whose oldest entry was refused waits for its cutter. */
async function send() {
  if (sending) return;
  clearTimeout(timer);
  sending = true;
  try {
    for (;;) {
      const stuck = new Set(held.filter((v) => v.refused).map((v) => v.stone));
      const next = held.find((v) => !stuck.has(v.stone));
      if (!next) break;
      if (!next.tried) mend(next.once, { tried: true });
      try {
        const page = await api.log(next.stone, next);
        waiting.away = false;
        pause = FIRST_PAUSE;
        change(held.filter((v) => v.once !== next.once));
        tell({ stone: next.stone, page });
      } catch (error) {
        if (error.kind === "faults" || error.kind === "not_found" || error.kind === "not_now") {
          mend(next.once, { refused: { message: error.message, faults: error.faults } });
          continue;
        }
        waiting.away = true;
        tell();
        timer = setTimeout(send, pause);
        pause = Math.min(LONGEST_PAUSE, 2 * pause);
        break;
      }
    }
  } finally {
    sending = false;
  }
}

addEventListener("online", () => { pause = FIRST_PAUSE; send(); });
document.addEventListener("visibilitychange", () => { if (!document.hidden) { pause = FIRST_PAUSE; send(); } });
// Another tab of the same browser may have added or sent some.
addEventListener("storage", (e) => { if (e.key === KEY) { held = read(); tell(); } });
send();
