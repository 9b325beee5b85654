// The page's start, and the way from an address to a screen.

import { h, put, say } from "./dom.js";
import { settings } from "./settings.js";
import { T } from "./strings.js";
import { refusal } from "./parts/refusal.js";
import { bench } from "./screens/bench.js";
import { books } from "./screens/books.js";
import { booksWrite } from "./screens/books-write.js";
import { copies } from "./screens/copies.js";
import { counter, counterAgain } from "./screens/counter.js";
import { counterKept } from "./screens/counter-kept.js";
import { devices } from "./screens/devices.js";
import { help } from "./screens/help.js";
import { learned } from "./screens/learned.js";
import { lots } from "./screens/lots.js";
import { pair } from "./screens/pair.js";
import { parcel } from "./screens/parcel.js";
import { price } from "./screens/price.js";
import { prices } from "./screens/prices.js";
import { stone } from "./screens/stone.js";
import { studies } from "./screens/studies.js";
import { takeIn } from "./screens/take-in.js";
import { wheel } from "./screens/wheel.js";
import { wheels } from "./screens/wheels.js";

const ROUTES = [
  [/^#?\/?$/, () => bench(), "bench"],
  [/^#\/take-in$/, () => takeIn(), "bench"],
  [/^#\/stone\/(\d+)$/, (n) => stone(Number(n)), "bench"],
  [/^#\/stone\/(\d+)\/work-out$/, (n) => stone(Number(n), { runNow: true }), "bench"],
  [/^#\/stone\/(\d+)\/change$/, (n) => takeIn(Number(n)), "bench"],
  [/^#\/stone\/(\d+)\/wheel$/, (n) => wheel(Number(n)), "wheel"],
  [/^#\/counter$/, () => counter(), "counter"],
  [/^#\/counter\/kept$/, () => counterKept(), "counter"],
  [/^#\/counter\/kept\/(\d+)\/([0-9a-f]+)$/, (n, mark) => counterAgain(Number(n), mark), "counter"],
  [/^#\/books$/, () => books(), "books"],
  [/^#\/books\/write(?:\/([a-z]+)(?:\/(\d+))?)?$/, (what, about) => booksWrite(what, about), "books"],
  [/^#\/lots$/, () => lots(), "bench"],
  [/^#\/parcel$/, () => parcel(), "bench"],
  [/^#\/price(?:\/(\d+))?$/, (n) => price(n === undefined ? undefined : Number(n)), "prices"],
  [/^#\/learned$/, () => learned(), "books"],
  [/^#\/prices$/, () => prices(), "prices"],
  [/^#\/wheels$/, () => wheels(), "prices"],
  [/^#\/studies(?:\/(calibration|facing|plans|learning))?$/, (which) => studies(which), "help"],
  [/^#\/copies$/, () => copies(), "help"],
  [/^#\/help$/, () => help(), "help"],
  [/^#\/devices$/, () => devices(), "help"],
  [/^#\/pair(?:\/(\w+))?$/, (code) => pair(code), ""],
];

const main = document.getElementById("main");
let close = () => {};
let turn = 0;

async function show() {
  const mine = ++turn;
  close();
  close = () => {};
  const address = location.hash;
  const [pattern, open, place] = ROUTES.find(([p]) => p.test(address)) ?? ROUTES[0];
  const parts = (pattern.exec(address) ?? []).slice(1);
  header(place);
  document.documentElement.toggleAttribute("data-wheel", place === "wheel");
  main.setAttribute("aria-busy", "true");
  try {
    const screen = await open(...parts);
    if (mine !== turn) return screen.close?.();
    close = screen.close ?? close;
    put(main, screen.node);
    document.title = `${screen.title} · ${T.name}`;
  } catch (error) {
    if (mine !== turn) return;
    if (error.kind === undefined) console.error(error);
    // A device that is not let in yet, or no more, is asked for its code.
    if (error.kind === "unpaired") { location.hash = "#/pair"; return; }
    put(main, h("div", { class: "page" }, refusal(error, show)));
    document.title = `${T.error.title} · ${T.name}`;
  }
  main.removeAttribute("aria-busy");
  scrollTo(0, 0);
  // The first screen keeps the browser's own focus; later ones start at their heading.
  if (mine > 1) (main.querySelector("h1") ?? main).focus({ preventScroll: true });
  say(document.title);
}

function header(place) {
  const link = (key, href) => h("a", { href, "aria-current": place === key ? "page" : undefined }, T.nav[key]);
  put(document.getElementById("top"),
    h("a", { class: "brand", href: "#/" }, h("span", { class: "mark", "aria-hidden": "true" }), T.name),
    h("nav", { "aria-label": T.nav.label }, link("bench", "#/"), link("counter", "#/counter"), link("books", "#/books"), link("prices", "#/prices"), link("help", "#/help")),
    h("button", {
      type: "button", class: "quiet big", title: T.benchModeHint, "aria-pressed": String(settings.big),
      onclick: (e) => { settings.setBig(!settings.big); e.currentTarget.setAttribute("aria-pressed", String(settings.big)); },
    }, T.benchMode));
}

settings.apply();
addEventListener("hashchange", show);
show();
