// Studies run from the page: each is asked for, told in plain words and as a drawing, kept
// for the next visit, and can be stopped.

import { faultsOf } from "./checks.js";

/** Few stones and insides: the page is looked at, not the program's skill. */
const SMALL = {
  calibration: { stones: "6", interiors: "24" },
  facing: { stones: "2", interiors: "20" },
  plans: { stones: "2", interiors: "40" },
  learning: { careers: "1", stones: "60" },
};

export async function theStudies({ open, check, settle, screens, sizes }) {
  for (const size of sizes) for (const scheme of size === sizes[1] ? ["light", "dark"] : ["light"]) {
    const { page, faults, go, close } = await open(size, scheme);
    const name = `${size[0]}${scheme === "dark" ? "-dark" : ""}`;
    const first = size === sizes[0];
    for (const [study, counts] of Object.entries(SMALL)) {
      await go(`#/studies/${study}`);
      await page.locator("#study-ask").waitFor();
      if (first) {
        await check(async () => await page.locator("#study-found").count() === 0, `${study} was not run yet`);
        for (const [path, said] of Object.entries(counts)) await page.locator(`[data-path='${path}']`).fill(said);
        await page.getByRole("button", { name: "Run it" }).click();
      }
      await page.locator("#study-found").waitFor({ timeout: 300_000 });
      await check(async () => await page.locator(".study-drawing img").evaluate((img) => img.complete && img.naturalWidth > 0), `${study} is drawn`);
      await settle(page);
      const wrong = await faultsOf(page);
      check(wrong.length === 0, `study ${study} at ${name}: ${wrong.join("\n        ") || "accessible"}`);
      if (scheme === "light" && (study === "calibration" || size === sizes[1])) await page.screenshot({ path: `${screens}studies-${study}-${size[0]}.jpg`, quality: 82, type: "jpeg", fullPage: true });
    }
    const { found } = await page.evaluate(async () => (await fetch("/api/studies")).json());
    check(found.map((f) => f.asked.study).join() === Object.keys(SMALL).join(), "each study is kept");
    check(faults.length === 0, `studies at ${name}: ${faults.join("; ") || "nothing went wrong"}`);
    await close();
  }

  // What cannot be run is told at its field, all at once; what runs can be stopped.
  const { page, go, close } = await open(sizes[1]);
  await go("#/studies");
  await page.locator("[data-path='stones']").fill("many");
  await page.locator("[data-path='interiors']").fill("");
  await page.getByRole("button", { name: "Run it" }).click();
  await check(async () => await page.locator("[aria-invalid=true]").count() === 2, "counts that are none are marked");
  await page.locator("[data-path='stones']").fill("4000");
  await page.locator("[data-path='interiors']").fill("3");
  await page.getByRole("button", { name: "Run it" }).click();
  await check(async () => await page.locator("[aria-invalid=true]").count() === 2 && /at most 2000/.test(await page.locator(".panel:has(#study-ask)").innerText()), "counts out of range are marked with their limits");
  await page.locator("[data-path='stones']").fill("2000");
  await page.locator("[data-path='interiors']").fill("200");
  const started = page.waitForResponse((r) => r.url().endsWith("/api/studies/run"));
  await page.getByRole("button", { name: "Run it" }).click();
  await started;
  await page.locator("progress").waitFor();
  // Another visit finds it running.
  await go("#/help");
  await go("#/studies");
  await page.getByRole("button", { name: "Stop" }).click();
  await page.getByText("Stopped.").waitFor();
  await check(async () => /Run on/.test(await page.locator(".panel:has(#study-found)").innerText()), "a study that was stopped leaves the one before");
  await close();
}
