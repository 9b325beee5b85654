// The books on the page: a stone is bought and sold, a mistake is taken back, and
// the sums follow, at each size.

import { faultsOf } from "./checks.js";

export async function theBooks({ open, check, settle, screens, sizes, stone }) {
  for (const size of sizes) for (const scheme of ["light", "dark"]) await aTrade({ open, check, settle, screens, stone }, size, scheme);
}

async function aTrade({ open, check, settle, screens, stone }, size, scheme) {
  const { page, faults, go, close } = await open(size, scheme);
  const name = `${size[0]}${scheme === "dark" ? "-dark" : ""}`;
  const accessible = async (step) => {
    const wrong = await faultsOf(page);
    check(wrong.length === 0, `books, ${step} at ${name}: ${wrong.join("\n        ") || "accessible"}`);
    if (scheme === "light") await page.screenshot({ path: `${screens}books-${step}-${size[0]}.jpg`, quality: 82, type: "jpeg", fullPage: true });
  };
  const profit = () => page.evaluate(async () => Number((await (await fetch("/api/ledger")).json()).outcome.profit));
  const keep = async () => {
    await page.getByRole("button", { name: "Write it down" }).click();
    await page.getByRole("heading", { name: "What was written" }).waitFor();
    await settle(page);
  };

  await go(`#/books/write/bought/${stone}`);
  await settle(page);
  const before = await profit();
  await page.getByRole("button", { name: "Write it down" }).click();
  await page.getByRole("alert").waitFor();
  await check(async () => await page.getByLabel("For how much?").getAttribute("aria-invalid") === "true", "a price left out is told at its field");
  await page.getByLabel("For how much?").fill("300,50");
  await keep();
  await go(`#/books/write/sold/${stone}`);
  await page.getByLabel("For how much?").fill("450");
  await page.getByLabel("What did the market keep of it?").fill("45");
  await accessible("write");
  await keep();
  check(await profit() - before === 104.5, "sold for 450, 45 of it kept by the market, bought for 300.50: 104.50 of profit");
  await go("#/books");
  await page.locator(".entries li").first().waitFor();
  await settle(page);
  await accessible("all");
  // Once sold it is not held: it cannot be sold again.
  await go(`#/books/write/sold/${stone}`);
  await page.getByLabel("For how much?").fill("1");
  await page.getByRole("button", { name: "Write it down" }).click();
  await page.getByRole("alert").waitFor();
  await go("#/books");
  const sale = page.locator(".entries li", { hasText: "Sold" }).first();
  // Those taken back at other sizes are there already: the answer tells when this one is.
  const written = page.waitForResponse((r) => r.url().includes("/api/ledger/entries") && r.request().method() === "POST");
  await sale.getByRole("button", { name: /Take back/ }).click();
  await written;
  await page.locator(".entries li.gone", { hasText: "Sold" }).first().waitFor();
  check(await profit() === before, "a sale that was taken back leaves the profit as it was");
  await page.locator(".entries li:not(.gone)", { hasText: "Bought" }).first().getByRole("button", { name: /Take back/ }).click();
  await page.locator(".entries li.gone", { hasText: "Bought" }).first().waitFor();
  for (const [file, type] of [["report.pdf", "application/pdf"], ["held.pdf", "application/pdf"], ["entries.csv", "text/csv"]]) {
    const answer = await page.evaluate(async (path) => (await fetch(path)).headers.get("content-type"), `/api/ledger/${file}`);
    check(answer.startsWith(type), `${file} is given`);
  }
  check(faults.length === 0, `books at ${name}: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}
