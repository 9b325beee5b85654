// What the cutter has decided already: a size to fill, ground to leave out, an
// outline that stays; the ways to cut follow.

import { faultsOf } from "./checks.js";

export async function theWishes({ open, check, settle, screens, sizes, stone }) {
  const { page, faults, go, close } = await open(sizes[1]);
  const answered = async () => {
    await page.locator("#plans").waitFor({ timeout: 180_000 });
    await settle(page);
  };
  const decided = () => page.evaluate(async (n) => (await (await fetch(`/api/stones/${n}`)).json()).wishes, stone);
  const forecast = () => page.evaluate(async (n) => (await fetch(`/api/stones/${n}/forecast`)).json(), stone);
  const keep = async () => {
    const answer = page.waitForResponse((r) => r.url().endsWith("/wishes"));
    await page.getByRole("button", { name: "Keep this and work it out" }).click();
    const status = (await answer).status();
    // What was worked out before leaves the page before it is worked out anew.
    if (status === 204) await page.locator("#plans").waitFor({ state: "detached" });
    return status;
  };
  await go(`#/stone/${stone}/work-out`);
  await answered();
  await page.getByText("Ask for sizes, keep an outline").click();

  await page.getByRole("button", { name: "Add a size" }).click();
  await page.getByRole("textbox", { name: "Size 1" }).fill("a bunch of 8 x 6");
  check(await keep() === 422, "a size in words that are none is refused");
  await page.locator(".wishes [aria-invalid=true]").waitFor();
  await check(async () => /bunch/.test(await page.locator(".wishes .fault:not(:empty)").first().innerText()), "what is wrong is told at its field");
  await page.getByRole("textbox", { name: "Size 1" }).fill("one 8 x 6");

  await page.getByRole("button", { name: "Leave ground out" }).click();
  const map = page.locator(".ground-map svg");
  await map.scrollIntoViewIfNeeded();
  const box = await map.boundingBox();
  for (const [u, v] of [[0.1, 0.1], [0.4, 0.1], [0.4, 0.9], [0.1, 0.9]]) await map.click({ position: { x: u * box.width, y: v * box.height } });
  await page.getByRole("button", { name: "That is all of it" }).click();
  const wrong = await faultsOf(page);
  check(wrong.length === 0, `wishes: ${wrong.join("\n        ") || "accessible"}`);
  await page.locator(".wishes").screenshot({ path: `${screens}wishes-${sizes[1][0]}.jpg`, quality: 82, type: "jpeg" });
  check(await keep() === 204, "what was decided is kept");
  await answered();
  const kept = await decided();
  check(kept.orders[0] === "one 8 x 6" && kept.forbidden_mm[0].length === 4, "size and ground stand with the stone");
  const edge = Math.max(...kept.forbidden_mm[0].map(([x]) => x));
  const { plans } = await forecast();
  const ordered = plans.filter((plan) => plan.stones.some((s) => s.kind === "standard" && s.size_mm[0] === 8 && s.size_mm[1] === 6));
  check(ordered.length > 0, "a plan fills the size");
  const cut = plans.flatMap((plan) => plan.stones).filter((s) => s.kind !== "specimen");
  check(cut.length > 0 && cut.every((s) => Math.min(...s.outline_mm.map(([x]) => x)) > edge - 1), "no stone is planned on ground left out");

  await page.locator("#plans .pill", { hasText: "8 × 6" }).first().locator("input").check();
  await page.getByRole("button", { name: "Keep the stones that I look at" }).click();
  check(await keep() === 204, "an outline is kept in its place");
  await answered();
  const [pin] = (await decided()).pinned;
  const near = (await forecast()).plans.some((plan) => plan.stones.some((s) => s.outline_mm.length === pin.outline_mm.length
    && s.outline_mm.every(([x, y], k) => Math.hypot(x - pin.outline_mm[k][0], y - pin.outline_mm[k][1]) < 0.01)));
  check(near, "the outline that was kept is planned just there");

  // Nothing decided: the search is free again.
  await page.getByRole("button", { name: "Remove outline 1" }).click();
  await page.getByRole("button", { name: "Remove size 1" }).click();
  await page.getByRole("button", { name: "Take the last patch back" }).click();
  check(await keep() === 204, "what was decided is taken back");
  await answered();
  check(JSON.stringify(await decided()) === "{}", "nothing is decided any more");
  check(faults.length === 0, `wishes: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}
