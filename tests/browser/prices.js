// The price book as a form: figures are changed in place and the cutter's remarks
// stay; a class is added and left out; what is wrong is told at its field.

import { faultsOf } from "./checks.js";

export async function thePrices({ open, check, settle, screens, sizes }) {
  for (const size of sizes) for (const scheme of ["light", "dark"]) await aBook({ open, check, settle, screens }, size, scheme);
}

async function aBook({ open, check, settle, screens }, size, scheme) {
  const { page, faults, go, close } = await open(size, scheme);
  const name = `${size[0]}${scheme === "dark" ? "-dark" : ""}`;
  await go("#/prices");
  await page.locator("#price-bid").waitFor();
  await settle(page);
  const book = () => page.evaluate(async () => (await fetch("/api/prices")).json());
  const before = await book();
  const keep = async () => {
    await page.getByRole("button", { name: "Keep these prices" }).click();
    await page.locator("#book-faults .good").waitFor();
  };

  const wrong = await faultsOf(page);
  check(wrong.length === 0, `prices at ${name}: ${wrong.join("\n        ") || "accessible"}`);
  if (scheme === "light") await page.screenshot({ path: `${screens}prices-${size[0]}.jpg`, quality: 82, type: "jpeg", fullPage: true });

  await page.getByLabel("Wanted gain").fill("a third");
  await page.getByRole("button", { name: "Keep these prices" }).click();
  await page.getByRole("alert").waitFor();
  await check(async () => await page.getByLabel("Wanted gain").getAttribute("aria-invalid") === "true", "a gain that is no number is told at its field");
  await page.getByLabel("Wanted gain").fill("-5");
  await page.getByRole("button", { name: "Keep these prices" }).click();
  await page.getByRole("alert").waitFor();
  check((await book()).text === before.text, "a refused change leaves the book as it was");

  await page.getByLabel("Wanted gain").fill("35,5");
  await page.locator("label", { hasText: "Boulder" }).locator("input").check();
  const low = page.getByLabel("From, Dull");
  await low.fill("0.2");
  await keep();
  const changed = await book();
  const lines = (text) => text.split("\n");
  const fresh = lines(changed.text).filter((line) => !lines(before.text).includes(line));
  check(changed.fields.bid.margin === 0.355 && changed.example === false, "the gain is in the book, which is the cutter's own now");
  check(fresh.length === 2 && lines(changed.text).length === lines(before.text).length, `two lines changed and no remark was lost: ${fresh.join(" | ")}`);

  await page.locator("label", { hasText: "Matrix" }).locator("input").check();
  await page.getByLabel("From, Brilliant").fill("");
  await page.getByLabel("To, Brilliant").fill("");
  await keep();
  check((await book()).fields.row.length === before.fields.row.length - 1, "a class whose figures are rubbed out leaves the book");
  await page.locator("label", { hasText: "Matrix" }).locator("input").check();
  await page.getByLabel("From, Brilliant").fill("1.5");
  await page.getByLabel("To, Brilliant").fill("6");
  await keep();
  const again = (await book()).fields.row;
  check(JSON.stringify(again.at(-1)) === JSON.stringify({ variety: "matrix", brightness: "brilliant", per_face_mm2: { low: 1.5, high: 6 } }), "a class with new figures comes into it");

  await page.getByText("The whole book as text").click();
  await page.getByLabel("Price book", { exact: true }).fill(before.text);
  await page.getByRole("button", { name: "Keep this text" }).click();
  await page.locator("#text-faults .good").waitFor();
  check((await book()).text === before.text, "the text goes in as it is");
  check(faults.length === 0, `prices at ${name}: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}
