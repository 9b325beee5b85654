// The cutter's own wheels by a form, a copy of everything, and a stone that comes in a file.

import { faultsOf } from "./checks.js";

export async function theShop({ open, check, settle, screens, sizes }) {
  for (const size of sizes) {
    const { page, faults, go, close } = await open(size);
    await go("#/prices");
    await page.getByRole("link", { name: "Your wheels" }).click();
    await page.locator("#wheel-saw").waitFor();
    await settle(page);
    const button = (name) => page.getByRole("button", { name, exact: true });
    const keep = async () => {
      const answer = page.waitForResponse((r) => r.url().endsWith("/api/wheels") && r.request().method() === "PUT");
      await button("Put them in force").click();
      return (await answer).status();
    };
    // What is wrong is told at its field, all at once, and nothing changes.
    await page.locator("[data-path='wheel[0].name']").fill(`Coarse ${size[0]}`);
    await page.locator("[data-path='wheel[0].removal_mm3_per_min']").fill("much");
    await button("Put them in force").click();
    await check(async () => await page.locator("[aria-invalid=true]").count() === 1, "what is no number is marked where it was typed");
    await page.locator("[data-path='wheel[0].removal_mm3_per_min']").fill("-650");
    await page.locator("[data-path='wheel[1].grit.number']").fill("17");
    check(await keep() === 422, "wheels that cannot be are refused");
    await page.locator(".refusal").waitFor();
    await check(async () => await page.locator("[aria-invalid=true]").count() === 2, "both fields that are wrong are marked");
    await page.locator("[data-path='wheel[0].removal_mm3_per_min']").fill("650");
    await page.locator("[data-path='wheel[1].grit.number']").fill("250");
    // One more wheel, told in micrometres, goes in before the polish.
    await button("Another wheel").click();
    const wheels = await page.locator(".panel:has([data-path$='.name'])").count();
    const added = `wheel[${wheels - 2}]`;
    await page.locator(`[data-path='${added}.name']`).fill("Fine film");
    await page.locator(`[data-path='${added}.grit.scale']`).selectOption("um");
    await page.locator(`[data-path='${added}.grit.um']`).fill("2");
    await page.locator(`[data-path='${added}.removal_mm3_per_min']`).fill("1");
    check(await keep() === 200, "wheels that can be are put in force");
    await page.getByText("These wheels are in force from now on.").first().waitFor();
    const set = await page.evaluate(async () => (await (await fetch("/api/wheels")).json()).set);
    check(set.own && set.wheels[0].name === `Coarse ${size[0]}` && set.wheels.at(-2).name === "Fine film" && set.wheels.at(-2).grain_um === 2, `they are the ones that were typed: ${set.wheels.map((v) => v.name).join(", ")}`);
    const wrong = await faultsOf(page);
    check(wrong.length === 0, `wheels at ${size[0]}: ${wrong.join("\n        ") || "accessible"}`);
    await page.locator(".page").screenshot({ path: `${screens}wheels-${size[0]}.jpg`, quality: 82, type: "jpeg" });
    await page.getByRole("button", { name: "Take it out: Fine film" }).click();
    check(await keep() === 200, "a wheel is taken out again");

    await go("#/help");
    await page.getByRole("link", { name: "Copies" }).click();
    await button("Take it in").waitFor();
    const copied = page.waitForEvent("download");
    await page.getByRole("link", { name: "Save a copy" }).click();
    const copy = await copied;
    check(/^opalwright-\d{4}-\d\d-\d\d\.db$/.test(copy.suggestedFilename()), `everything is saved as ${copy.suggestedFilename()}`);
    // A stone of its own, which no book speaks of yet: what came back is the same.
    const file = await page.evaluate(async (name) => {
      const evidence = {
        format: "opalwright-evidence/1", piece: { name, form: "seam", weight_ct: 60 },
        shape: { callipers: { length_mm: 30, width_mm: 20, height_mm: 9 } }, bar: [{ name: "A", quick: { thickness_mm: 2, edge_share: 0.5 } }],
      };
      const taken = await fetch("/api/stones", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(evidence) });
      return (await fetch(`/api/stones/${(await taken.json()).number}/export`)).text();
    }, `Carried ${size[0]}`);
    await button("Take it in").click();
    await page.getByText("Choose the stone's file first.").waitFor();
    const choose = (name, text) => page.getByLabel("The stone's file").setInputFiles({ name, mimeType: "application/json", buffer: Buffer.from(text) });
    await choose("stone.json", "{ half of it");
    await button("Take it in").click();
    await page.locator(".refusal").waitFor();
    await choose("stone.json", file);
    await button("Take it in").click();
    await page.getByText("It stood here already").waitFor();
    await settle(page);
    const unfit = await faultsOf(page);
    check(unfit.length === 0, `copies at ${size[0]}: ${unfit.join("\n        ") || "accessible"}`);
    await page.locator(".page").screenshot({ path: `${screens}copies-${size[0]}.jpg`, quality: 82, type: "jpeg" });
    // A bag of pieces, by its form alone.
    await go("#/");
    await page.getByRole("link", { name: "A bag of pieces" }).click();
    await button("Work it out").waitFor();
    await button("Work it out").click();
    await check(async () => await page.locator("[aria-invalid=true]").count() === 5, "what a bag needs is asked for, all at once");
    const fill = (path, said) => page.locator(`[data-path='${path}']`).fill(said);
    for (const [path, said] of [["parcel.name", "Lantern bag"], ["parcel.pieces", "40"], ["parcel.weight_ct", "1850"], ["parcel.asking.amount", "900"], ["parcel.minutes_a_look", "6"], ["usual.pays", "25"], ["usual.per_carat", "2.5"]]) await fill(path, said);
    for (const [k, [ct, worth]] of [["44", "190"], ["61.5", "0"], ["39", "45"]].entries()) {
      await button("Another piece").click();
      await fill(`looked[${k}].weight_ct`, ct);
      await fill(`looked[${k}].worth`, worth);
    }
    await button("Work it out").click();
    await page.locator(".price").waitFor();
    const bag = await page.locator(".pay").innerText();
    check(/Look into \d+ more|would not pay/.test(bag) && /Not looked into: 37/.test(bag) && /9 chances in 10/.test(bag), "a bag's price, looks and spread are told");
    await settle(page);
    const unlike = await faultsOf(page);
    check(unlike.length === 0, `a bag at ${size[0]}: ${unlike.join("\n        ") || "accessible"}`);
    await page.locator(".page").screenshot({ path: `${screens}parcel-${size[0]}.jpg`, quality: 82, type: "jpeg" });
    check(faults.filter((text) => !/status of 422/.test(text)).length === 0, `wheels and copies: ${faults.join("; ") || "nothing went wrong"}`);
    await close();
  }
}

/** A copy is looked into and put back: what came later is gone from here, and kept. */
export async function putBack({ open, check, settle, screens, size }) {
  const { page, faults, go, close } = await open(size);
  const names = () => page.evaluate(async () => (await (await fetch("/api/stones")).json()).stones.map((v) => v.name));
  const said = (n) => (n === 1 ? "1 stone," : `${n} stones,`);
  await go("#/copies");
  const saved = page.waitForEvent("download");
  await page.getByRole("link", { name: "Save a copy" }).click();
  const copy = await (await saved).path();
  const before = await names();
  await page.evaluate(async () => {
    const evidence = { format: "opalwright-evidence/1", piece: { name: "Came later", form: "seam", weight_ct: 60 }, shape: { callipers: { length_mm: 30, width_mm: 20, height_mm: 9 } } };
    await fetch("/api/stones", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(evidence) });
  });
  check((await names()).length === before.length + 1, "a stone comes in after the copy");
  const look = page.getByRole("button", { name: "Look into it" });
  await look.click();
  await page.getByText("Choose the copy first.").waitFor();
  await page.getByLabel("The copy").setInputFiles({ name: "none.db", mimeType: "application/vnd.sqlite3", buffer: Buffer.from("no copy") });
  await look.click();
  await page.getByText("it must be a copy of everything").waitFor();
  await page.getByLabel("The copy").setInputFiles(copy);
  await look.click();
  await page.locator("#copy-offer").waitFor();
  const offer = await page.locator("#copy-offer").innerText();
  check(offer.includes(said(before.length)) && offer.includes(said(before.length + 1)) && /older than what stands here/.test(offer), "what the copy holds is told beside what stands here");
  check((await names()).includes("Came later"), "a look changes nothing");
  await settle(page);
  const wrong = await faultsOf(page);
  check(wrong.length === 0, `putting a copy back: ${wrong.join("\n        ") || "accessible"}`);
  await page.locator(".page").screenshot({ path: `${screens}copies-back-${size[0]}.jpg`, quality: 82, type: "jpeg" });
  await page.getByRole("button", { name: "Put it in place of everything here" }).click();
  await page.locator(".note.good", { hasText: "The copy is in place" }).waitFor();
  check((await names()).join() === before.join(), "the stones of the copy stand here, and no other");
  await check(async () => /before-restore/.test(await page.locator(".note.good").innerText()), "where the rest is kept is told");
  check(faults.length === 0, `putting back: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}
