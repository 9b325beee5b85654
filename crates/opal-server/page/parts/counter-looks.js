// Own drawings of what to look for on a finished stone: an edge seen from the
// side, or a patch seen through the loupe. They help the eye; the words decide.

import { s } from "../dom.js";

const W = 96, H = 56;
const DOME = "M10 34 C16 12 80 12 86 34";

const edge = (...inside) => [
  s("path", { class: "look-body", d: `${DOME} V44 H10 Z` }),
  inside,
  s("path", { class: "look-rim", d: `${DOME} V44 H10 Z` }),
];
const loupe = (...inside) => [
  s("circle", { class: "look-body", cx: 48, cy: 28, r: 25 }),
  inside,
  s("circle", { class: "look-rim", cx: 48, cy: 28, r: 25 }),
];
const line = (d) => s("path", { class: "look-line", d });
const patch = (d) => s("path", { class: "look-colour", d });
const dark = (d) => s("path", { class: "look-dark", d });
const dots = (kind, list) => list.map(([cx, cy, r]) => s("circle", { class: kind, cx, cy, r }));

const DRAWINGS = {
  "side-view": {
    "one-body": () => edge(),
    "uneven-potch": () => edge(dark("M10 36 C22 29 34 40 48 34 S72 30 86 37 V44 H10 Z"), line("M10 36 C22 29 34 40 48 34 S72 30 86 37")),
    "wavy-rock": () => edge(dark("M10 33 C20 39 30 26 44 36 S70 25 86 35 V44 H10 Z"), line("M10 33 C20 39 30 26 44 36 S70 25 86 35"), dots("look-grain", [[22, 40, 1.5], [44, 41, 1.5], [66, 39, 1.5]])),
    "straight-join": () => edge(dark("M10 36 H86 V44 H10 Z"), line("M10 36 H86")),
    "cap-and-back": () => edge(patch("M10 33 H86 V37 H10 Z"), dark("M10 37 H86 V44 H10 Z"), line("M10 33 H86 M10 37 H86")),
    columns: () => edge(line("M18 44 V31 M26 44 V25 M34 44 V21 M42 44 V19 M50 44 V19 M58 44 V20 M66 44 V22 M74 44 V27 M80 44 V33")),
  },
  pattern: {
    irregular: () => loupe(patch("M30 22 L44 12 L50 24 L38 32 Z"), patch("M54 18 L66 24 L60 36 L52 30 Z"), patch("M34 38 L48 36 L46 48 Z")),
    cells: () => loupe(line("M30 18 L38 13 L46 18 V27 L38 32 L30 27 Z M46 18 L54 13 L62 18 V27 L54 32 L46 27 M38 32 V41 L46 46 L54 41 V32 M54 41 L62 46 M62 27 L70 32")),
    fingers: () => loupe(patch("M34 44 V20 a4 4 0 0 1 8 0 V50 Z"), patch("M46 52 V14 a4 4 0 0 1 8 0 V51 Z"), patch("M58 48 V22 a4 4 0 0 1 8 0 V40 Z")),
    flakes: () => loupe(patch("M30 20 L36 18 L40 22 L46 19 L44 26 L36 28 Z"), patch("M50 30 L56 27 L60 31 L66 29 L63 37 L54 38 Z"), patch("M36 40 L42 37 L48 41 L44 46 Z")),
    none: () => loupe(),
  },
  specks: {
    none: () => loupe(),
    "sand-or-rock": () => loupe(dark("M36 22 l6 -3 l4 5 l-5 4 Z"), dark("M54 32 l5 -2 l3 5 l-6 3 Z")),
    "black-pepper": () => loupe(dots("look-pit", [[34, 20, 1.8], [41, 31, 1.4], [47, 17, 1.8], [53, 26, 2], [60, 20, 1.4], [57, 38, 1.8], [43, 42, 1.6], [34, 33, 1.3], [64, 31, 1.5]])),
    "colour-in-cracks": () => loupe(s("path", { class: "look-dye", d: "M30 16 L42 26 L40 36 L54 48 M42 26 L62 22" })),
    "round-bubbles": () => loupe(dots("look-bubble", [[38, 20, 5], [56, 24, 3.5], [46, 38, 6], [62, 36, 2.5], [34, 34, 2.5]])),
    flow: () => loupe(line("M26 22 C38 12 46 34 70 18 M26 32 C40 22 48 44 70 28 M32 42 C42 34 52 50 64 40")),
  },
};

/** The drawing of an answer to a look, where there is one. */
export function lookDrawing(look, answer) {
  const draw = DRAWINGS[look]?.[answer];
  return draw && s("svg", { class: "look", viewBox: `0 0 ${W} ${H}`, width: W, height: H, "aria-hidden": "true" }, draw());
}
