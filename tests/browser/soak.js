// Two devices at one bench for a while: they log, undo, ask, open other pages and lose the
// network, in an order drawn from a seed. In the end the store holds what they kept, once,
// all that was undone is undone, and nothing was refused.
//
//   OPAL_SLOW=1 npm test      ten minutes in place of twenty seconds

import { readFile } from "node:fs/promises";

const SECONDS = process.env.OPAL_SLOW === "1" ? 600 : 20;
/** Growth of the server's memory that is still no leak, MB: caches of the stones that were opened. */
const GROWTH_MB = 400;

/** Marsaglia's xorshift of 32 bits: the same order of deeds on every run. */
function numbers(seed) {
  let x = seed;
  return () => { x ^= x << 13; x ^= x >>> 17; x ^= x << 5; return (x >>> 0) / 2 ** 32; };
}

const megabytes = async (pid) => Number(/VmRSS:\s+(\d+)/.exec(await readFile(`/proc/${pid}/status`, "utf8"))[1]) / 1024;

export async function twoDevices({ open, check, sizes, stone, pid }) {
  const first = await megabytes(pid);
  const until = Date.now() + 1000 * SECONDS;
  const devices = await Promise.all([[sizes[0], 20, 7], [sizes[1], 30, 11]].map(async ([size, from, seed]) => ({ ...await open(size), from, random: numbers(seed), kept: [], named: new Set(), undone: 0, refused: 0, deeds: 0, away: 0 })));
  for (const d of devices) {
    d.page.on("request", (request) => {
      if (request.method() !== "POST" || !request.url().endsWith("/log")) return;
      const { event } = request.postDataJSON();
      if (event.kind === "undone" && event.event !== undefined) d.named.add(event.event);
    });
    d.page.on("response", (response) => { if (response.request().method() === "POST" && response.status() === 422) d.refused += 1; });
  }
  await devices[0].go("#/help");
  const events = (page) => page.evaluate(async (n) => (await (await fetch(`/api/stones/${n}/log`)).json()).log.events, stone);
  const before = (await events(devices[0].page)).length;
  await Promise.all(devices.map(async (d) => {
    await d.go(`#/stone/${stone}/wheel`);
    await d.page.locator(".kinds").first().waitFor();
    while (Date.now() < until) await deed(d, stone);
    await d.context.setOffline(false);
    await d.go("#/help");
    await d.go(`#/stone/${stone}/wheel`);
    await d.page.locator(".kinds").first().waitFor();
    await d.page.waitForFunction(() => !document.querySelector(".wheel-status .waiting"), null, { timeout: 120_000 });
  }));
  const all = await events(devices[0].page);
  const log = all.slice(before);
  const sum = (key) => devices.reduce((all, d) => all + (Array.isArray(d[key]) ? d[key].length : d[key]), 0);
  for (const d of devices) {
    const mine = log.filter((v) => v.event.kind === "weighed" && Math.floor(v.event.weight_ct / 10) * 10 === d.from);
    const wrong = d.kept.filter((ct) => mine.filter((v) => Math.abs(v.event.weight_ct - ct) < 1e-6).length !== 1);
    check(wrong.length === 0 && mine.length === d.kept.length, `a device's ${d.kept.length} weighings are in the store once each (${mine.length} there; not once: ${wrong.join(", ") || "none"})`);
    // Out of reach the browser tells of requests that failed: that is what was tried.
    const faults = d.faults.filter((text) => !/ERR_INTERNET_DISCONNECTED|status of 429/.test(text));
    check(faults.length === 0, `two devices: ${faults.slice(0, 3).join("; ") || "nothing went wrong"}`);
    await d.close();
  }
  // Of two that undo the same, the second finds it undone and adds nothing.
  const named = new Set(devices.flatMap((d) => [...d.named]));
  const standing = [...named].filter((number) => all[number - 1].stands);
  check(standing.length === 0, `${named.size} entries were undone from the devices; still standing: ${standing.join(", ") || "none"}`);
  check(named.size > 0 || sum("undone") === 0, "the undoings were seen on their way");
  const undone = log.filter((v) => v.event.kind === "undone").length;
  check(undone <= sum("undone"), `${undone} undoings are in the store, of ${sum("undone")} asked for`);
  check(sum("refused") === 0, `${sum("refused")} entries of the devices were refused`);
  const grown = await megabytes(pid) - first;
  console.log(`       two devices, ${SECONDS} s: ${sum("deeds")} deeds, ${sum("kept")} weighings, ${sum("undone")} undone (${sum("undone") - undone} by both), network lost ${sum("away")} times; the server grew by ${Math.round(grown)} MB`);
  check(grown < GROWTH_MB, `the server's memory grew by ${Math.round(grown)} MB, below ${GROWTH_MB}`);
}

/** One thing that a person does. */
async function deed(d, stone) {
  const { page, random } = d;
  d.deeds += 1;
  const what = random();
  if (what < 0.55) {
    const ct = Math.round(100 * d.from + 1 + d.kept.length) / 100;
    await page.getByRole("button", { name: "Weighed", exact: true }).click();
    for (const key of ct.toFixed(2)) await page.locator(".sheet[open] .pad").getByRole("button", { name: key, exact: true }).click();
    await page.locator(".sheet").getByRole("button", { name: "Keep it" }).click();
    await page.locator(".sheet").waitFor({ state: "detached" });
    d.kept.push(ct);
    return;
  }
  if (what < 0.7) {
    // Only what the store holds, which tells weights to the hundredth: an entry that still
    // waits here would be taken out of the queue and leave no trace.
    const text = await page.locator(".undo").innerText();
    if (/\d\.\d\d ct/.test(text) && await page.locator(".undo:not([disabled])").count()) {
      await page.locator(".undo").click();
      d.undone += 1;
    }
    return;
  }
  if (what < 0.8) {
    await d.context.setOffline(true);
    d.away += 1;
    return;
  }
  await d.context.setOffline(false);
  if (what < 0.9) {
    // Each page is waited for by what it alone shows: the one before stands until then.
    for (const [hash, shown] of [["#/", ".card"], ["#/help", ".prose"], [`#/stone/${stone}/wheel`, ".kinds"]]) {
      await page.evaluate((to) => { location.hash = to; }, hash);
      await page.locator(shown).first().waitFor();
    }
    return;
  }
  await page.waitForTimeout(300);
}
