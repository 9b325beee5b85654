// Buying and selling on the page: bids on all lots, the price of a finished stone, what
// was learned.

import { faultsOf } from "./checks.js";

export async function theDealing({ open, check, settle, screens, sizes }) {
  await pricedByHand({ open, check, settle });
  for (const size of sizes) for (const scheme of ["light", "dark"]) await screensOf({ open, check, settle, screens }, size, scheme);
}

/** A finished stone is described, and what is wrong is told at its field, all at once. */
async function pricedByHand({ open, check, settle }, size = [820, 1180]) {
  const { page, faults, go, close } = await open(size);
  await go("#/price");
  await settle(page);
  await page.getByRole("button", { name: "What would it fetch?" }).click();
  await page.getByRole("alert").waitFor();
  await check(async () => await page.locator("[aria-invalid=true]").count() === 4, "weight and three sizes are asked for at once");
  await page.getByLabel("Weight", { exact: false }).first().fill("5.4");
  for (const [name, said] of [["Length", "18"], ["Width", "13"], ["Thickness", "3.4"]]) await page.getByLabel(name, { exact: false }).first().fill(said);
  await page.locator("label", { hasText: "Bright" }).first().locator("input").check();
  await page.getByRole("button", { name: "What would it fetch?" }).click();
  await page.locator("#price-answer").waitFor();
  await check(async () => await page.locator("svg.range-bar .nine").count() === 1, "the price is drawn with its spread");
  const wrong = await faultsOf(page);
  check(wrong.length === 0, `a price: ${wrong.join("\n        ") || "accessible"}`);
  check(faults.length === 0, `a price: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}

async function screensOf({ open, check, settle, screens }, size, scheme) {
  const { page, faults, go, close } = await open(size, scheme);
  const name = `${size[0]}${scheme === "dark" ? "-dark" : ""}`;
  for (const screen of ["lots", "price", "learned"]) {
    await go(`#/${screen}`);
    await settle(page);
    if (screen === "lots" && await page.locator("#lots-bids").count() === 0) {
      await page.getByRole("main").getByRole("button").first().click();
      await page.locator("#lots-bids").waitFor({ timeout: 300_000 });
    }
    const wrong = await faultsOf(page);
    check(wrong.length === 0, `${screen} at ${name}: ${wrong.join("\n        ") || "accessible"}`);
    if (scheme === "light") await page.screenshot({ path: `${screens}${screen}-${size[0]}.jpg`, quality: 82, type: "jpeg", fullPage: true });
  }
  check(faults.length === 0, `dealing at ${name}: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}
