// A stone traced from a photo that this test draws: the card is found, a point is
// corrected by mouse and by keys, and the stone is kept with its outline; and a bar that is
// followed on a photo of the side.

import { faultsOf } from "./checks.js";

/** Half axes of the drawn stone, mm, and pixels in a millimetre. */
const HALF = [20, 14], SCALE = 8;
/** The card: squares across and down, squares from rim to window, mm to a square. */
const ACROSS = 21, DOWN = 16, BAND = 3, SQUARE = 8;

/** A photo as a file to choose; `card`: with the scale card around the stone. */
async function drawn(page, card) {
  const url = await page.evaluate(({ HALF, SCALE, ACROSS, DOWN, BAND, SQUARE, card }) => {
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = [1600, 1200];
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#e8e6e2";
    pen.fillRect(0, 0, 1600, 1200);
    pen.translate(800, 600);
    pen.scale(SCALE, SCALE);
    pen.fillStyle = "#191919";
    for (let row = 0; card && row < DOWN; row++) for (let column = 0; column < ACROSS; column++) {
      const inWindow = column >= BAND && column < ACROSS - BAND && row >= BAND && row < DOWN - BAND;
      if (!inWindow && (column + row) % 2 === 0) pen.fillRect((column - ACROSS / 2) * SQUARE, (row - DOWN / 2) * SQUARE, SQUARE, SQUARE);
    }
    pen.fillStyle = "#466e8c";
    pen.beginPath();
    pen.ellipse(0, 0, ...HALF, 0, 0, 2 * Math.PI);
    pen.fill();
    return canvas.toDataURL("image/png");
  }, { HALF, SCALE, ACROSS, DOWN, BAND, SQUARE, card });
  return { name: card ? "top.png" : "bare.png", mimeType: "image/png", buffer: Buffer.from(url.split(",")[1], "base64") };
}

export async function theTracing({ open, check, settle, screens, sizes }) {
  for (const size of sizes) {
    const { page, faults, go, close } = await open(size);
    await go("#/take-in");
    await settle(page);
    await page.locator("[data-path='piece.name']").fill(`Traced ${size[0]}`);
    await page.locator("[data-path='piece.weight_ct']").fill("80");
    await page.locator(".option", { hasText: "A photo" }).click();
    const find = async (name) => {
      const answer = page.waitForResponse((r) => r.url().endsWith("/api/trace"), { timeout: 120_000 });
      await page.getByRole("button", { name }).click();
      return answer;
    };
    await page.getByLabel("Photo from above").setInputFiles(await drawn(page, false));
    check((await find("Find the outline")).status() === 422, "a photo without the card is refused");
    await page.locator(".trace .refusal").waitFor();
    await check(async () => /no scale card/.test(await page.locator(".trace .refusal").innerText()), "why is told in words");

    await page.getByLabel("Photo from above").setInputFiles(await drawn(page, true));
    await page.getByLabel("The print's rule measures").fill("50");
    await page.getByLabel("Height of the stone").fill("12");
    const found = await (await find("Find the outline")).json();
    const area = Math.PI * HALF[0] * HALF[1];
    check(Math.abs(found.area_mm2.value / area - 1) < 0.01, `the traced area ${found.area_mm2.value.toFixed(1)} is the drawn ellipse's ${area.toFixed(1)} mm²`);
    const photo = page.locator(".photo");
    await photo.scrollIntoViewIfNeeded();
    await page.getByRole("button", { name: "Nearer" }).click();
    await page.getByRole("button", { name: "Farther" }).click();

    // A point that is put beside the edge lands on it: the outline stays the ellipse.
    const nudge = async (by) => {
      const handle = await page.locator(".photo .handle.chosen").first().boundingBox();
      const k = await photo.evaluate((svg) => svg.getScreenCTM().a);
      const middle = await photo.evaluate((svg) => { const m = svg.getScreenCTM(); return [m.e + m.a * 800, m.f + m.d * 600]; });
      const [x, y] = [handle.x + handle.width / 2, handle.y + handle.height / 2];
      const far = Math.hypot(x - middle[0], y - middle[1]);
      const corrected = page.waitForResponse((r) => r.url().endsWith("/api/trace"), { timeout: 120_000 });
      await page.mouse.move(x, y);
      await page.mouse.down();
      await page.mouse.move(x + ((x - middle[0]) / far) * by * k, y + ((y - middle[1]) / far) * by * k, { steps: 4 });
      await page.mouse.up();
      const answer = await (await corrected).json();
      await page.getByRole("button", { name: "Find it anew" }).waitFor();
      await photo.scrollIntoViewIfNeeded();
      return answer;
    };
    const snapped = await nudge(14);
    check(Math.abs(snapped.area_mm2.value / area - 1) < 0.01, `a point put 14 pixels off lands on the edge: ${snapped.area_mm2.value.toFixed(1)} mm²`);
    await page.getByRole("button", { name: "Undo the last point" }).click();
    await page.getByRole("button", { name: "Undo the last point" }).waitFor({ state: "detached" });
    await page.getByRole("button", { name: "Find it anew" }).waitFor();
    await page.locator(".option.snap").click();

    // With that switched off a point is dragged outward by 40 pixels of the photo; only the area there grows.
    const wider = await nudge(40);
    check(wider.area_mm2.value > found.area_mm2.value + 5, "a point that is dragged outward widens the outline");
    await page.locator(".photo").waitFor();
    await page.locator(".photo").focus();
    for (let step = 0; step < 3; step++) await page.keyboard.press("Shift+ArrowLeft");
    const again = page.waitForResponse((r) => r.url().endsWith("/api/trace"), { timeout: 120_000 });
    await page.keyboard.press("Enter");
    const keyed = await (await again).json();
    check(keyed.area_mm2.value !== wider.area_mm2.value, "keys alone move a point");
    await settle(page);
    const wrong = await faultsOf(page);
    check(wrong.length === 0, `tracing at ${size[0]}: ${wrong.join("\n        ") || "accessible"}`);
    const low = await page.evaluate(() => [...document.querySelectorAll(".big-tap")].filter((n) => n.getBoundingClientRect().height < 64).length);
    check(low === 0, "what is touched while tracing is 64 px high");
    await page.locator(".trace").screenshot({ path: `${screens}trace-${size[0]}.jpg`, quality: 82, type: "jpeg" });

    await page.getByRole("button", { name: "Next", exact: true }).click();
    await page.getByLabel("About how thick is the colour?").fill("2");
    await page.locator(".option", { hasText: "Half" }).first().click();
    await page.getByRole("button", { name: "Next", exact: true }).click();
    const kept = page.waitForResponse((r) => r.url().endsWith("/api/stones") && r.request().method() === "POST");
    await page.getByRole("button", { name: "Take it in" }).click();
    const { number } = await (await kept).json();
    const shape = await page.evaluate(async (n) => (await (await fetch(`/api/stones/${n}`)).json()).evidence.shape, number);
    check(shape.outline?.points_mm.length === keyed.outline_mm.length && shape.outline.heights_mm[0][2] === 12, "the stone is kept with its outline and height");
    check(faults.length === 0, `tracing: ${faults.join("; ") || "nothing went wrong"}`);
    await close();
  }
}

/** The stone from the side: middle, half sizes and foot of the drawn photo, pixels. */
const SIDE = { middle: [600, 350], half: [400, 150], size: [1200, 700] };
/** Its bar's upper edge and thickness at a place across, pixels. */
const upperAt = (x) => 330 + 20 * Math.sin((x - 600) / 130);
const BAR = 36;

async function sideDrawn(page) {
  const upper = Array.from({ length: SIDE.size[0] + 1 }, (_, x) => upperAt(x));
  const url = await page.evaluate(({ SIDE, upper, BAR }) => {
    const canvas = document.createElement("canvas");
    [canvas.width, canvas.height] = SIDE.size;
    const pen = canvas.getContext("2d");
    pen.fillStyle = "#e8e6e2";
    pen.fillRect(0, 0, ...SIDE.size);
    pen.beginPath();
    pen.ellipse(...SIDE.middle, ...SIDE.half, 0, 0, 2 * Math.PI);
    pen.clip();
    pen.fillStyle = "#787670";
    pen.fillRect(0, 0, ...SIDE.size);
    pen.fillStyle = "#3c965a";
    pen.beginPath();
    // The middle of the first pixel is 0 in the edges' places, 0.5 on the canvas.
    upper.forEach((y, x) => pen.lineTo(x + 0.5, y + 0.5));
    [...upper.keys()].reverse().forEach((x) => pen.lineTo(x + 0.5, upper[x] + BAR + 0.5));
    pen.fill();
    return canvas.toDataURL("image/png");
  }, { SIDE, upper, BAR });
  return { name: "side.png", mimeType: "image/png", buffer: Buffer.from(url.split(",")[1], "base64") };
}

export async function theSide({ open, check, settle, screens, sizes }) {
  for (const size of sizes) {
    const { page, faults, go, close } = await open(size);
    await go("#/take-in");
    await settle(page);
    await page.locator("[data-path='piece.name']").fill(`Side ${size[0]}`);
    await page.locator("[data-path='piece.weight_ct']").fill("120");
    for (const [part, mm] of [["length", 40], ["width", 30], ["height", 15]]) await page.locator(`[data-path='shape.callipers.${part}_mm']`).fill(String(mm));
    await page.getByRole("button", { name: "Next", exact: true }).click();
    await page.locator(".option", { hasText: "Mark the places" }).click();
    await page.locator(".side-bar summary").click();
    const answered = () => page.waitForResponse((r) => r.url().endsWith("/api/trace-bar"), { timeout: 120_000 });
    let answer = answered();
    await page.getByLabel("Photo of that side").setInputFiles(await sideDrawn(page));
    const found = await (await answer).json();
    check(Math.abs(found.stone_px[0][0] - 200) < 3 && Math.abs(found.stone_px[1][1] - 500) < 3, `the stone is found in the photo: ${found.stone_px.join(" to ")}`);
    const photo = page.locator(".photo");
    await photo.waitFor();
    // Four touches a few pixels off, on a phone with a finger's error too.
    const touch = async (x, y) => {
      await photo.scrollIntoViewIfNeeded();
      const [left, top] = await photo.evaluate((svg, [px, py]) => { const p = new DOMPoint(px, py).matrixTransform(svg.getScreenCTM()); return [p.x, p.y]; }, [x, y]);
      const said = answered();
      await page.mouse.click(left, top);
      return (await said).json();
    };
    const PLACES = [280, 420, 600, 760, 920];
    for (const [k, x] of PLACES.entries()) await touch(x, upperAt(x) + (k % 2 ? 3 : -3));
    await page.locator(".side-bar .option", { hasText: /^Lower edge/ }).click();
    let doc;
    for (const [k, x] of PLACES.entries()) doc = await touch(x, upperAt(x) + BAR + (k % 2 ? -3 : 3));
    const mm = 15 / 300;
    const wrong = doc.places.filter(({ at_px: [x], top_mm, thickness_mm }) => Math.abs(top_mm.value - (500 - upperAt(x)) * mm) > 0.08 || Math.abs(thickness_mm.value - BAR * mm) > 0.08);
    check(doc.places.length === 6 && wrong.length === 0, `heights and thicknesses on the side are the drawn ones: ${JSON.stringify(wrong)}`);
    // By keys alone: another point, put a little higher, and taken back.
    await page.getByRole("button", { name: "Another point" }).click();
    await photo.focus();
    await page.keyboard.press("ArrowUp");
    answer = answered();
    await page.keyboard.press("Enter");
    await answer;
    await page.waitForFunction(() => document.activeElement?.classList.contains("photo"));
    answer = answered();
    await page.getByRole("button", { name: "Undo the last point" }).click();
    await answer;
    await page.getByRole("button", { name: "Take these 6 places" }).waitFor();
    await settle(page);
    const low = await page.evaluate(() => [...document.querySelectorAll(".side-bar .big-tap")].filter((n) => n.getBoundingClientRect().height < 64).length);
    check(low === 0, "what is touched on a photo of the side is 64 px high");
    const unfit = await faultsOf(page);
    check(unfit.length === 0, `the side at ${size[0]}: ${unfit.join("\n        ") || "accessible"}`);
    await page.locator(".side-bar").screenshot({ path: `${screens}side-${size[0]}.jpg`, quality: 82, type: "jpeg" });
    await page.getByRole("button", { name: "Take these 6 places" }).click();
    await page.locator(".place-editor").waitFor();
    await page.getByRole("button", { name: "Next", exact: true }).click();
    const kept = page.waitForResponse((r) => r.url().endsWith("/api/stones") && r.request().method() === "POST");
    await page.getByRole("button", { name: "Take it in" }).click();
    const { number } = await (await kept).json();
    const [bar] = await page.evaluate(async (n) => (await (await fetch(`/api/stones/${n}`)).json()).evidence.bar, number);
    const told = bar.sighting.map((v) => [v.thickness_mm, v.top_mm, v.thickness_sigma_mm > 0, v.at_mm[1] < 15]);
    check(told.length === 6 && told.every(([t, top, sure, near]) => Math.abs(t - BAR * mm) < 0.08 && top > 0 && sure && near), `the stone is kept with the places and how sure they are: ${JSON.stringify(told[0])}`);
    check(faults.length === 0, `the side: ${faults.join("; ") || "nothing went wrong"}`);
    await close();
  }
}
