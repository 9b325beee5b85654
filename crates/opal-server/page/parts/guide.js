// A first stone, led by the hand: a note above each screen says what it is for
// and what to press. The piece is invented and says so.

import { h } from "../dom.js";
import { emptyDraft } from "../evidence.js";
import { T } from "../strings.js";

const KEY = "opalwright-guide";
const G = T.guide;

function led() {
  try {
    return sessionStorage.getItem(KEY) === "on";
  } catch {
    return false;
  }
}

/** Starts it; gives the piece as it would have been typed. */
export function startGuide() {
  try {
    sessionStorage.setItem(KEY, "on");
  } catch {
    // Without storage the piece is filled in all the same, without the notes.
  }
  const time = new Date().toTimeString().slice(0, 5);
  return {
    ...emptyDraft(), name: G.piece(time), form: "seam", weight: "192.5", length: "48", width: "33", height: "21",
    thickness: "2", share: 0.5, torch: "clean", variety: "dark", brightness: ["bright"], asking: "300",
  };
}

/** The note for a screen, while somebody is led; the last one ends it. */
export function guideNote(screen) {
  if (!led() || !(screen in G.notes)) return null;
  const end = () => {
    sessionStorage.removeItem(KEY);
    note.remove();
  };
  const places = Object.keys(G.notes);
  const note = h("aside", { class: "guide", "aria-label": G.title },
    h("p", {}, h("strong", {}, G.step(places.indexOf(screen) + 1, places.length)), " ", G.notes[screen]),
    h("button", { type: "button", class: "quiet", onclick: end }, G.end));
  return note;
}
