// The workbench end to end in a real browser, at a phone's, a tablet's and a
// desk's size: every page is opened, a stone is taken in and worked out, and
// the screens are written to docs/screens/.
//
//   npm ci && npm test        (needs `cargo build` before, and Chromium)

import { chromium } from "playwright-core";
import { mkdir, readFile } from "node:fs/promises";
import { fileURLToPath } from "node:url";
import { theBooks } from "./books.js";
import { faultsOf, watch } from "./checks.js";
import { theDealing } from "./dealing.js";
import { putBack, theShop } from "./keeping.js";
import { manyStones } from "./many.js";
import { thePrices } from "./prices.js";
import { theScan } from "./scan.js";
import { startServer } from "./server.js";
import { twoDevices } from "./soak.js";
import { theSide, theTracing } from "./tracing.js";
import { theStudies } from "./studies.js";
import { atTheWheel } from "./wheel.js";
import { theWishes } from "./wishes.js";

const SIZES = [[390, 844], [820, 1180], [1440, 900]];
const screens = fileURLToPath(new URL("../../docs/screens/", import.meta.url));
await mkdir(screens, { recursive: true });

let failed = 0;
/** The number of the stone that the first flow takes in. */
let taken;
/**
 * Says whether something holds. What is read off a page is given as a function and asked
 * again for a while: a drawing is there a frame after its text, on a busy machine later.
 */
const check = async (holds, what) => {
  const until = Date.now() + 30_000;
  let ok = typeof holds === "function" ? await holds() : holds;
  while (!ok && typeof holds === "function" && Date.now() < until) {
    await new Promise((resolve) => setTimeout(resolve, 100));
    ok = await holds();
  }
  if (!ok) failed += 1;
  console.log(`${ok ? "ok    " : "FAILED"} ${what}`);
};

const server = await startServer();
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM ?? "/usr/bin/chromium",
  // No GPU here: three dimensions are drawn in software; nothing is asked of any host.
  args: [
    "--no-sandbox", "--use-angle=swiftshader", "--enable-unsafe-swiftshader", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
  ],
});

try {
  await checkerSees();
  await ledByTheHand();
  await firstStone();
  for (const size of SIZES) for (const scheme of ["light", "dark"]) await everyPage(size, scheme);
  for (const size of SIZES) for (const scheme of ["light", "dark"]) await atTheCounter(size, scheme);
  await atTheWheel({ open, check, settle, screens, sizes: SIZES, stone: taken });
  await theBooks({ open, check, settle, screens, sizes: SIZES, stone: taken });
  await thePrices({ open, check, settle, screens, sizes: SIZES });
  await theDealing({ open, check, settle, screens, sizes: SIZES });
  await theWishes({ open, check, settle, screens, sizes: SIZES, stone: taken });
  await theTracing({ open, check, settle, screens, sizes: SIZES });
  await theSide({ open, check, settle, screens, sizes: SIZES });
  await theShop({ open, check, settle, screens, sizes: SIZES });
  await theStudies({ open, check, settle, screens, sizes: SIZES });
  await putBack({ open, check, settle, screens, size: SIZES[1] });
  await firstPaint();
  await theScan({ open, check, address: server.address, sizes: SIZES });
  await bigButtons();
  await keyboardAlone();
  await stopping();
  await twoDevices({ open, check, sizes: SIZES, stone: taken, pid: server.pid });
  await manyStones({ open, check, settle, sizes: SIZES });
} catch (error) {
  check(false, error.stack);
} finally {
  await browser.close();
  await server.stop();
}
console.log(failed === 0 ? "all is well" : `${failed} checks failed`);
process.exit(failed === 0 ? 0 : 1);

async function open([width, height], scheme = "light", more = {}) {
  const context = await browser.newContext({ viewport: { width, height }, colorScheme: scheme, hasTouch: width < 1000, ...more });
  // A busy machine without a GPU draws few pictures a second.
  context.setDefaultTimeout(120_000);
  const page = await context.newPage();
  const faults = watch(page, server.address);
  return { page, faults, context, address: server.address, go: (hash) => page.goto(`${server.address}/${hash}`), close: () => context.close() };
}

async function settle(page) {
  await page.waitForSelector("main:not([aria-busy])");
  await page.waitForTimeout(250);
}

/** A checker that finds nothing anywhere would pass everything: it must see planted faults. */
async function checkerSees() {
  const { page, go, close } = await open(SIZES[0]);
  await go("#/help");
  await settle(page);
  await page.evaluate(() => {
    const [button, wide] = [document.createElement("button"), document.createElement("div")];
    button.style.minHeight = "20px";
    button.style.height = "20px";
    wide.style.width = "900px";
    wide.textContent = "wide";
    document.querySelector("main").append(button, wide);
  });
  const found = (await faultsOf(page)).join("\n");
  check(/button-name/.test(found) && /px high/.test(found) && /wider than/.test(found), "the checker sees planted faults");
  await close();
}

/** On an empty bench a newcomer does nothing but what each note says, and gets to the wheel. */
async function ledByTheHand() {
  const { page, faults, go, close } = await open(SIZES[0]);
  await go("");
  await page.getByRole("button", { name: "Show me, with an invented piece" }).click();
  for (let k = 1; k <= 4; k++) {
    const note = page.locator(".guide", { hasText: `${k} of 5.` });
    await note.waitFor({ timeout: 180_000 });
    const press = /[Pp]ress ([A-Z][^.]*)\./.exec(await note.innerText())?.[1];
    if (k === 4) await page.locator("#plans .pill").first().waitFor();
    await page.getByRole("button", { name: press, exact: true }).or(page.getByRole("link", { name: press, exact: true })).first().click();
  }
  await page.locator(".guide", { hasText: "5 of 5." }).waitFor();
  await check(async () => await page.locator(".kinds .kind").count() > 8, "a newcomer who does what the notes say gets from an empty bench to the wheel");
  const wrong = await faultsOf(page, { tap: 64 });
  check(wrong.length === 0, `led by the hand: ${wrong.join("\n        ") || "64 px and accessible"}`);
  await page.getByRole("button", { name: "End this" }).click();
  await check(async () => await page.locator(".guide").count() === 0, "the notes can be ended");
  check(faults.length === 0, `led by the hand: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}

/** A new user takes a stone in by callipers and a quick look, and reads what to pay. */
async function firstStone() {
  const { page, faults, go, close } = await open(SIZES[0]);
  await go("");
  await page.getByRole("link", { name: "Take in a stone" }).click();
  await page.getByRole("heading", { name: "Take in a stone" }).waitFor();
  await page.getByRole("button", { name: "Next" }).click();
  await check(async () => await page.getByRole("alert").isVisible(), "an empty form says what is missing");
  await page.getByRole("alert").getByRole("button").first().click();
  await check(async () => await page.evaluate(() => document.activeElement.getAttribute("data-path")) === "piece.name", "a fault leads to its field");
  await fillPiece(page, "Blue corner");
  await page.screenshot({ path: `${screens}take-in-1-390.png`, fullPage: true });
  await page.getByRole("button", { name: "Next" }).click();
  await page.getByLabel("About how thick is the colour?").fill("2");
  await pick(page, "Half");
  await page.screenshot({ path: `${screens}take-in-2-390.png`, fullPage: true });
  await page.getByRole("button", { name: "Next" }).click();
  await pick(page, "Bright");
  await page.getByLabel("What does the seller ask?").fill("300");
  await page.screenshot({ path: `${screens}take-in-3-390.png`, fullPage: true });
  await page.getByRole("button", { name: "Take it in" }).click();
  await answered(page);
  taken = /stone\/(\d+)/.exec(page.url())[1];
  const said = await page.locator("#pay").innerText();
  check(/Pay at most|Not worth buying/.test(said), "the stone has a bid");
  check(/in 20 cases|no chance|every one of 20/.test(said), "the chance of a loss is said in words");
  await check(async () => await page.locator("#pay svg.dots [class~=dot]").count() >= 20, "the gain is drawn as twenty dots");
  await check(async () => await page.locator("#plans .pill").count() >= 3, "several ways to cut are compared");
  const kinds = await page.locator("#plans .pills").innerText();
  check(/Freeform/.test(kinds) && /Specimen/.test(kinds), "freeform and specimen are among them");
  await page.locator("#plans .pill", { hasText: "Freeform" }).first().locator("input").check();
  await page.locator("a[href*='sheet.pdf']").waitFor();
  const sheet = await page.evaluate(async () => {
    const link = document.querySelector("a[href*='sheet.pdf']");
    const answer = await fetch(link.href);
    return [answer.headers.get("content-type"), new TextDecoder().decode((await answer.arrayBuffer()).slice(0, 5))];
  });
  check(sheet[0] === "application/pdf" && sheet[1] === "%PDF-", "the bench sheet is a PDF");
  await page.getByLabel("What if you pay…").fill("1");
  await page.getByRole("button", { name: "See" }).click();
  await page.locator(".answer svg.dots").waitFor();
  await check(async () => /within your limits|more than your limits/.test(await page.locator(".answer").innerText()), "another price is answered");
  check(faults.length === 0, `first stone: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
  await marking();
}

/** Chooses one of a form's big buttons by the start of its name. */
function pick(page, name) {
  return page.locator(`.form label:has(input):has-text("${name}")`).first().locator("input").check();
}

async function fillPiece(page, name) {
  await page.getByLabel("What do you call it?").fill(name);
  await pick(page, "Seam");
  await page.getByLabel("What does the scale say?").fill("192,5");
  await page.getByRole("textbox", { name: "Length" }).fill("48");
  await page.getByRole("textbox", { name: "Width" }).fill("33");
  await page.getByRole("textbox", { name: "Height" }).fill("21");
}

/** Waits until the forecast is on the page. */
async function answered(page) {
  await page.locator("#pay").waitFor({ timeout: 180_000 });
  await page.locator("canvas[data-drawn]").waitFor();
  await page.waitForTimeout(400);
}

/** The evidence is sharpened by touching the outline where the bar was seen. */
async function marking() {
  const { page, faults, go, close } = await open(SIZES[1]);
  await go(`#/stone/${taken}/change`);
  await page.getByRole("button", { name: "Next" }).click();
  await pick(page, "Mark the places");
  const outline = page.locator("svg.outline");
  const box = await outline.boundingBox();
  for (const [u, v, thick] of [[0.12, 0.5, "1.8"], [0.5, 0.86, "2.1"], [0.88, 0.5, "1.2"]]) {
    await outline.click({ position: { x: u * box.width, y: v * box.height } });
    await page.getByLabel("Thickness of the colour").fill(thick);
    await page.getByLabel("Height of its top").fill("11");
  }
  await outline.click({ position: { x: 0.5 * box.width, y: 0.14 * box.height } });
  await pick(page, "No colour");
  await check(async () => await page.locator("svg.outline .place").count() === 4, "four places are marked by touch");
  await page.screenshot({ path: `${screens}take-in-places-820.png`, fullPage: true });
  const wrong = await faultsOf(page);
  check(wrong.length === 0, `marking places: ${wrong.join("\n        ") || "accessible"}`);
  await page.getByRole("button", { name: "Next" }).click();
  await page.getByRole("button", { name: "Keep the change" }).click();
  await answered(page);
  const seen = await page.evaluate(async (n) => (await (await fetch(`/api/stones/${n}`)).json()).evidence.bar[0].sighting, taken);
  check(seen?.length === 4 && seen[3].absent === true, "the marked places are in the evidence");
  check(faults.length === 0, `marking: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}

async function everyPage(size, scheme) {
  const { page, faults, go, close } = await open(size, scheme);
  const name = `${size[0]}${scheme === "dark" ? "-dark" : ""}`;
  for (const [hash, screen, ready] of [
    ["", "bench", ".card"], ["#/take-in", "take-in", "form"], [`#/stone/${taken}`, "stone", "#pay"],
    ["#/counter", "counter", ".look"], ["#/prices", "prices", "#price-bid"], ["#/help", "help", ".prose"],
  ]) {
    await go(hash);
    await page.locator(ready).first().waitFor();
    await settle(page);
    if (screen === "stone") await answered(page);
    const wrong = await faultsOf(page);
    check(wrong.length === 0, `${screen} at ${name}: ${wrong.join("\n        ") || "accessible"}`);
    await picture(page, screen, size, scheme);
  }
  check(faults.length === 0, `pages at ${name}: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}

/** A customer's doublet: what is seen, what it is, the next safe look, the words, the card. */
/** Whether it may go into water comes first; then the weights tell its specific gravity. */
async function weighedInWater(page) {
  await page.getByText("Weigh it in water", { exact: true }).click();
  const ask = () => page.getByRole("button", { name: "Work out its specific gravity" }).click();
  for (const [label, said] of [["The water's temperature", "21"], ["Weighing 1: dry, in air", "5.200"], ["Weighing 1: in water", "2.729"]]) await page.getByLabel(label).fill(said);
  await ask();
  await page.locator("#water [role=alert]").waitFor();
  await check(async () => /drop on the back/.test(await page.locator("#water [role=alert]").innerText()), "a stone that nobody looked over stays out of the water, and why is told");
  for (const legend of ["Does it take up water?", "Is it glued?", "Was its colour put in?", "Do cracks reach its skin?"]) {
    await page.locator("#water fieldset", { hasText: legend }).locator("label", { hasText: /^No$/ }).locator("input").check();
  }
  await ask();
  await page.locator("#water .plain").waitFor();
  // 5.200 / (5.200 - 2.729) × 0.998: the density of water at 21 °C (Tanaka et al. 2001).
  await check(async () => /about 2\.10/.test(await page.locator("#water .plain").innerText()), "the weights tell a specific gravity of 2.10");
  // This one is glued after all: it is not counted.
  for (const which of ["dry, in air", "in water"]) await page.getByLabel(`Weighing 1: ${which}`).fill("");
}

async function atTheCounter(size, scheme) {
  const { page, faults, go, close } = await open(size, scheme, { acceptDownloads: true });
  const name = `${size[0]}${scheme === "dark" ? "-dark" : ""}`;
  const accessible = async (step) => {
    const wrong = await faultsOf(page);
    check(wrong.length === 0, `counter, ${step} at ${name}: ${wrong.join("\n        ") || "accessible"}`);
    const kept = scheme === "light" && (step === "answer" || (step !== "readings" && size[0] === 820));
    if (kept) await page.screenshot({ path: `${screens}counter-${step}-${size[0]}.jpg`, quality: 82, type: "jpeg", fullPage: true });
  };
  await go("#/counter");
  await page.getByLabel("What do you call it?").fill("Ring stone");
  await page.getByLabel("What was it said to be?").fill("solid black opal");
  await pick(page, "one dead straight line");
  await pick(page, "something smooth, dark and flat");
  await page.getByLabel(/^Photo: edge/i).setInputFiles(fileURLToPath(new URL("../../examples/readings-edge.png", import.meta.url)));
  await page.locator(".look-photo", { hasText: "Chosen." }).waitFor();
  await accessible("edge");
  await page.getByRole("button", { name: "Next" }).click();
  await check(async () => await page.locator("svg.look").count() >= 8, "what to look for is drawn");
  await accessible("loupe");
  await page.getByRole("button", { name: "Next" }).click();
  await pick(page, "top and back differ");
  await page.getByLabel("Weight, dry").fill("three");
  await page.getByRole("button", { name: "Next" }).click();
  await page.getByRole("button", { name: "What is it?" }).click();
  await page.getByRole("alert").waitFor();
  await check(async () => /weight/i.test(await page.getByRole("alert").innerText()), "a weight that is no number is told");
  await page.getByRole("button", { name: "Back" }).click();
  await page.getByRole("button", { name: "Back" }).click();
  await check(async () => await page.getByLabel("Weight, dry").inputValue() === "three", "nothing that was typed is lost");
  await page.getByLabel("Weight, dry").fill("3,1");
  await weighedInWater(page);
  await accessible("readings");
  await page.getByRole("button", { name: "Next" }).click();
  await pick(page, "N3");
  await page.getByLabel("Where it comes from", { exact: true }).fill("Field A");
  await page.getByLabel("Who told where it comes from?").fill("the seller");
  await page.getByLabel("What the back is made of").fill("black glass");
  await accessible("looks");
  await page.getByRole("button", { name: "What is it?" }).click();
  await page.locator("#papers .claims").waitFor();
  await settle(page);
  const said = await page.locator("#identity").innerText();
  check(/assembled/.test(said) && /not a laboratory's certificate/.test(said), "a doublet is told, and that it is no certificate");
  await check(async () => await page.locator("#identity svg.shares .density").count() >= 1, "shares are drawn with their spread");
  await check(async () => !/Specific gravity in water/.test(await page.locator("#next > p").first().innerText()), "a glued stone is not sent into water");
  await check(async () => /Do not copy/.test(await page.locator("#papers").innerText()), "the customer's own words are not copied");
  await page.locator("#papers .pill", { hasText: "United States" }).locator("input").check();
  await page.getByText("16 CFR Part 23").first().waitFor();
  await page.getByLabel("Look your own text over").fill("A solid opal");
  await page.getByRole("button", { name: "Look it over" }).click();
  await page.locator("#papers [role=status] .warn").waitFor();
  await check(async () => /Field A, as told by the seller; not proven here/.test(await page.locator("#papers").innerText()), "an origin is somebody's word");
  const who = `the customer in blue at ${name}`;
  await page.getByLabel("Who brought it?").fill(who);
  await page.getByRole("button", { name: "Keep the readings" }).click();
  await page.locator("#keep .good", { hasText: "with 1 photo" }).waitFor();
  const saved = (click) => Promise.all([page.waitForEvent("download"), click]).then(async ([file]) => [file.suggestedFilename(), await readFile(await file.path())]);
  const [cardName, card] = await saved(page.getByRole("button", { name: "Card (PDF)" }).click());
  check(cardName === "ring-stone-card.pdf", `the card is saved as ${cardName}`);
  await accessible("answer");
  await go("#/counter/kept");
  await page.getByLabel("Find a stone or a customer").fill(who);
  await page.locator(".kept", { hasText: who }).waitFor();
  // The list that was there before holds this one, too.
  await page.waitForFunction(() => document.querySelectorAll(".kept").length === 1);
  await page.locator(".kept-photos img").first().waitFor();
  const kept = await page.locator(".kept").allInnerTexts();
  check(kept.length === 1 && /Opal doublet|Assembled stone/.test(kept[0]), "what was kept is found by its customer, and nothing else");
  await accessible("kept");
  const [, again] = await saved(page.getByRole("link", { name: "Print again" }).click());
  check(again.equals(card), "a card printed again is the same card, byte for byte");
  await page.getByRole("link", { name: "Open again" }).click();
  await page.locator("#papers .claims").waitFor();
  await check(async () => /assembled/.test(await page.locator("#identity").innerText()), "readings that were kept give their answer again");
  check(faults.length === 0, `counter at ${name}: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}

/** The whole page, up to what software rendering can hold in one piece. */
async function drawable(page) {
  const [width, height] = await page.evaluate(() => [innerWidth, document.documentElement.scrollHeight]);
  return { x: 0, y: 0, width, height: Math.min(height, 7800) };
}

/** Keeps the pictures that documents show; the whole of a stone's page as JPEG, for size. */
async function picture(page, screen, [width], scheme) {
  if (screen === "stone" && width === 1440 && scheme === "light") await page.screenshot({ path: `${screens}workbench.png` });
  if (screen === "stone" && (scheme === "light" || width === 820)) {
    await page.screenshot({ path: `${screens}stone-${width}${scheme === "dark" ? "-dark" : ""}.jpg`, quality: 82, type: "jpeg", fullPage: true, clip: await drawable(page) });
  } else if (scheme === "light" && (screen === "bench" || (screen === "help" && width === 820))) {
    await page.screenshot({ path: `${screens}${screen}-${width}.png` });
  }
}

async function bigButtons() {
  const { page, go, close } = await open(SIZES[1], "dark");
  await go(`#/stone/${taken}`);
  await answered(page);
  await page.getByRole("button", { name: "Big buttons" }).click();
  await settle(page);
  const wrong = await faultsOf(page, { tap: 64 });
  check(wrong.length === 0, `big buttons: ${wrong.join("\n        ") || "64 px and accessible"}`);
  await page.screenshot({ path: `${screens}stone-820-big.jpg`, quality: 82, type: "jpeg" });
  await page.reload();
  await check(async () => await page.evaluate(() => document.documentElement.dataset.big) === "yes", "big buttons stay on this device");
  await close();
}

/** Says, and asserts nothing: how soon a stone is drawn, and what the page weighs. */
async function firstPaint() {
  const { page, go, close } = await open(SIZES[2]);
  await go(`#/stone/${taken}`);
  await page.locator("canvas[data-drawn]").waitFor();
  const drawn = await page.evaluate(() => performance.now());
  const weight = await page.evaluate(() => performance.getEntries()
    .filter((entry) => entry.entryType === "navigation" || entry.name.includes("/assets/"))
    .reduce((sum, entry) => sum + (entry.decodedBodySize ?? 0), 0));
  console.log(`       first picture of a stone, software rendering: ${Math.round(drawn)} ms; page weight ${Math.round(weight / 1000)} kB`);
  await close();
}

/** From the list to the price of a stone without a pointer. */
async function keyboardAlone() {
  const { page, go, close } = await open(SIZES[2], "light", { reducedMotion: "reduce" });
  await go("");
  await page.locator(".card").first().waitFor();
  const tabTo = async (selector, most = 200) => {
    for (let k = 0; k < most; k++) {
      await page.keyboard.press("Tab");
      if (await page.evaluate((wanted) => document.activeElement.matches(wanted), selector)) return true;
    }
    return false;
  };
  // The stone that was worked out: others on the bench may wait for it.
  check(await tabTo(`.card[href="#/stone/${taken}"]`), "a stone is reached by Tab");
  await page.keyboard.press("Enter");
  await answered(page);
  await check(async () => await page.evaluate(() => document.activeElement.tagName) === "H1", "the focus starts at the new page's heading");
  check(await tabTo("canvas"), "the 3-D view is reached by Tab");
  await page.keyboard.press("ArrowLeft");
  check(await tabTo(".slider"), "the depth slider is reached by Tab");
  await page.keyboard.press("End");
  await check(async () => /off the top/.test(await page.locator("output[for=depth]").innerText()), "the depth is told in words");
  check(await tabTo("[name=plan]"), "the ways to cut are reached by Tab");
  const before = await page.locator(".plan-detail > h3").innerText();
  await page.keyboard.press("ArrowDown");
  await check(async () => await page.locator(".plan-detail > h3").innerText() !== before, "arrows choose another way to cut");
  await close();
}

/** Work that takes long can be stopped, and started again. */
async function stopping() {
  const { page, go, close } = await open(SIZES[2]);
  await go("#/take-in");
  await fillPiece(page, "To be stopped");
  await page.getByRole("button", { name: "Next" }).click();
  await pick(page, "I saw no bar");
  await page.getByRole("button", { name: "Next" }).click();
  await page.getByRole("button", { name: "Take it in" }).click();
  const stop = page.getByRole("button", { name: "Stop" });
  await Promise.race([stop.waitFor(), page.locator("#pay").waitFor({ timeout: 120_000 })]);
  if (await stop.isVisible()) {
    await page.screenshot({ path: `${screens}working-1440.jpg`, quality: 82, type: "jpeg" });
    await stop.click().catch(() => {});
    await Promise.race([page.getByText("Stopped.").waitFor({ timeout: 60_000 }), page.locator("#pay").waitFor({ timeout: 60_000 })]);
  }
  await check(async () => await page.getByRole("button", { name: "Work it out" }).or(page.locator("#pay")).first().isVisible(), "a stopped run can be started again");
  await close();
}
