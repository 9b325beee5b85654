// At the wheel: what is logged in a few touches, what to do next, and a network
// that goes away in the middle.

import { faultsOf } from "./checks.js";

export async function atTheWheel({ open, check, settle, screens, sizes, stone }) {
  const button = (page, name) => page.getByRole("button", { name, exact: true });
  const picture = (page, name, size, scheme) => scheme === "light" && page.screenshot({ path: `${screens}wheel-${name}-${size[0]}.png` });
  async function advised(page) {
    await page.locator(".advice .next").waitFor({ timeout: 180_000 });
    await page.locator(".advice .thinking").waitFor({ state: "detached", timeout: 180_000 });
  }
  const number = async (page, text) => { for (const key of text) await page.locator(".sheet[open] .pad").last().getByRole("button", { name: key, exact: true }).click(); };
  const keep = (page) => page.locator(".sheet").getByRole("button", { name: "Keep it" }).click();
  const entries = (page) => page.locator(".entry-list li").allInnerTexts();
  const logged = (page) => page.evaluate(async (n) => (await (await fetch(`/api/stones/${n}/log`)).json()).log.events, stone);

  for (const size of sizes) for (const scheme of ["light", "dark"]) await everySheet(size, scheme);
  await networkCut();
  await refusedEntry();

  async function everySheet(size, scheme) {
    const { page, faults, go, close } = await open(size, scheme);
    const name = `${size[0]}${scheme === "dark" ? "-dark" : ""}`;
    const right = async (what) => {
      const wrong = await faultsOf(page, { tap: 64 });
      check(wrong.length === 0, `wheel, ${what} at ${name}: ${wrong.join("\n        ") || "64 px and accessible"}`);
    };
    await go(`#/stone/${stone}/wheel`);
    await button(page, "Ground").click();
    await settle(page);
    await right("ground");
    await picture(page, "ground", size, scheme);
    await keep(page);
    await check(async () => await page.locator(".sheet-ends .fault").innerText() !== "", "an entry without its number is not kept");
    await number(page, "0.2");
    await keep(page);
    await page.locator(".sheet").waitFor({ state: "detached" });
    await button(page, "Saw something").click();
    await page.locator(".sheet .option", { hasText: "Still potch" }).locator("input").check();
    await page.locator(".place-map svg").click({ position: { x: 150, y: 130 } });
    await settle(page);
    await right("seen");
    await picture(page, "seen", size, scheme);
    await keep(page);
    for (const kind of ["Window", "Other wheel", "Sawn", "Note", "Dropped", "Broken", "Weighed"]) {
      await button(page, kind).click();
      await settle(page);
      await right(kind.toLowerCase());
      if (kind === "Sawn" && size[0] === 820) await picture(page, "sawn", size, scheme);
      await button(page, "Cancel").click();
    }
    await button(page, "Which wheel when?").click();
    await page.locator(".turns li").first().waitFor();
    await settle(page);
    await right("finish");
    await picture(page, "finish", size, scheme);
    await button(page, "Close").click();
    await button(page, "Saw or grind?").click();
    await page.locator(".sheet .next", { hasText: /Saw it off|Grind it away/ }).waitFor();
    await settle(page);
    await right("saw or grind");
    await picture(page, "saw-or-grind", size, scheme);
    await button(page, "Close").click();
    await button(page, "Dry enough?").click();
    await page.getByText("Not enough weighings yet").waitFor();
    await right("drying, not weighed");
    await page.locator(".sheet summary").click();
    for (const [k, [day, ct]] of [["0", "41.2"], ["7", "41.05"], ["14", "41.02"]].entries()) {
      const row = page.getByRole("group", { name: `Weighing ${k + 1}` });
      await row.getByLabel("Day").fill(day);
      if (k < 2) await row.getByLabel("Weight").fill(ct);
    }
    await button(page, "Work it out").click();
    await page.getByText("at least three weighings").waitFor();
    await page.getByRole("group", { name: "Weighing 3" }).getByLabel("Weight").fill("41.02");
    await button(page, "Work it out").click();
    await page.locator(".sheet svg.curve").waitFor();
    await check(async () => /Still to lose: \d/.test(await page.locator(".sheet-body").innerText()), "what is still to lose is told with its spread");
    await page.locator(".sheet .next").scrollIntoViewIfNeeded();
    await settle(page);
    await right("drying");
    await picture(page, "drying", size, scheme);
    await button(page, "Close").click();
    await advised(page);
    await settle(page);
    await right("advice");
    await check(async () => /ruin/i.test(await page.locator(".stakes").innerText()), "the chance of ruin stands beside the advice");
    await picture(page, "advice", size, scheme);
    const curve = page.locator(".advice summary", { hasText: "What each depth brings" });
    if (await curve.count()) {
      await curve.click();
      await page.locator("svg.curve").waitFor();
      await right("curve");
      if (scheme === "light") await page.screenshot({ path: `${screens}wheel-curve-${size[0]}.png`, fullPage: true });
    }
    // What was logged is taken back, newest first, without opening anything.
    const undo = page.locator(".undo");
    for (let k = 0; k < 2; k++) {
      const before = (await logged(page)).filter((v) => v.stands && v.event.kind !== "undone").length;
      await undo.click();
      await page.waitForFunction(async ([n, left]) => (await (await fetch(`/api/stones/${n}/log`)).json()).log.events.filter((v) => v.stands && v.event.kind !== "undone").length === left, [stone, before - 1]);
      await settle(page);
    }
    await check(async () => await undo.isDisabled(), "what was logged is taken back by undo alone");
    check(faults.length === 0, `wheel at ${name}: ${faults.join("; ") || "nothing went wrong"}`);
    await close();
  }

  /** Entries made out of reach wait on the device, outlive a closed page, and arrive once. */
  async function networkCut() {
    const { page, go, close, context, address } = await open(sizes[0]);
    await go(`#/stone/${stone}/wheel`);
    await advised(page);
    const before = (await logged(page)).length;
    await context.setOffline(true);
    for (const [kind, text] of [["Weighed", "38.5"], ["Ground", "0.1"]]) {
      await button(page, kind).click();
      await number(page, text);
      await keep(page);
    }
    await page.getByText("2 entries are kept here, not yet at the bench computer").waitFor();
    await page.screenshot({ path: `${screens}wheel-away-390.png` });
    const wrong = await faultsOf(page, { tap: 64 });
    check(wrong.length === 0, `wheel, network away: ${wrong.join("\n        ") || "64 px and accessible"}`);
    await check(async () => (await entries(page)).slice(0, 2).every((text) => /waits here/.test(text)), "entries made out of reach are shown as waiting");
    await page.locator(".undo").click();
    await page.getByText("3 entries are kept here").or(page.getByText("1 entry is kept here")).first().waitFor();
    await context.setOffline(false);
    await page.locator(".waiting").waitFor({ state: "detached", timeout: 60_000 });
    const after = await logged(page);
    const stand = after.slice(before).filter((v) => v.stands && v.event.kind !== "undone").map((v) => v.event.kind);
    check(stand.join() === "weighed", `what was undone out of reach does not stand: ${stand}`);

    // The answer to an entry is lost on the way: it is sent again and stands once.
    let lost = 0;
    await page.route("**/log", async (route) => {
      if (route.request().method() !== "POST" || lost > 0) return route.fallback();
      lost += 1;
      await route.fetch();
      await route.abort();
    });
    await button(page, "Weighed").click();
    await number(page, "38.4");
    await keep(page);
    await page.waitForFunction(async ([n, text]) => (await (await fetch(`/api/stones/${n}/log`)).json()).log.events.some((v) => v.words.includes(text)), [stone, "38.40"]);
    await page.locator(".waiting").waitFor({ state: "detached", timeout: 60_000 });
    const twice = (await logged(page)).filter((v) => v.words.includes("38.40"));
    check(lost === 1 && twice.length === 1, `an entry whose answer was lost stands once (${twice.length})`);

    // The page is closed while entries wait, and opened again.
    await context.setOffline(true);
    await button(page, "Weighed").click();
    await number(page, "38.3");
    await keep(page);
    await page.getByText("1 entry is kept here").waitFor();
    await page.close();
    await context.setOffline(false);
    const again = await context.newPage();
    await again.goto(`${address}/#/`);
    await again.waitForFunction(async ([n, text]) => (await (await fetch(`/api/stones/${n}/log`)).json()).log.events.some((v) => v.words.includes(text)), [stone, "38.30"]);
    check((await logged(again)).filter((v) => v.words.includes("38.30")).length === 1, "entries outlive a closed page and arrive once");
    await again.goto(`${address}/#/stone/${stone}/wheel`);
    for (let left = 2; left > 0; left--) {
      await again.locator(".undo:not([disabled])").click();
      await again.waitForFunction(async ([n, least]) => (await (await fetch(`/api/stones/${n}/log`)).json()).log.events.filter((v) => v.stands && v.event.kind === "weighed").length <= least, [stone, left]);
    }
    await close();
  }

  /** An entry that cannot be is told with its reason, and does not hold the others up for good. */
  async function refusedEntry() {
    const { page, go, close } = await open(sizes[1]);
    await go(`#/stone/${stone}/wheel`);
    await button(page, "Ground").click();
    await number(page, "900");
    await keep(page);
    await page.locator(".wheel-status .refusal").waitFor();
    await settle(page);
    const wrong = await faultsOf(page, { tap: 64 });
    check(wrong.length === 0, `wheel, refused: ${wrong.join("\n        ") || "64 px and accessible"}`);
    await page.screenshot({ path: `${screens}wheel-refused-820.png` });
    await button(page, "Leave it out").click();
    await page.locator(".wheel-status .refusal").waitFor({ state: "detached" });
    await check(async () => !(await entries(page)).some((text) => /900/.test(text)), "a refused entry can be left out");
    await close();
  }
}
