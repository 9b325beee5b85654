// A large scan on the stone's page: it is drawn, it turns under the finger, and how many
// pictures a second that makes here is said.

/** Rings and steps round, for a little over two hundred thousand triangles. */
const RINGS = 318, ROUND = 316;

/** A closed pebble as a binary PLY, mm. */
function pebble() {
  const corners = [[0, 0, -9]];
  for (let ring = 1; ring < RINGS; ring++) for (let step = 0; step < ROUND; step++) {
    const [down, round] = [(Math.PI * ring) / RINGS, (2 * Math.PI * step) / ROUND];
    const bump = 1 + 0.03 * Math.sin(5 * round) * Math.sin(3 * down);
    corners.push([20 * bump * Math.sin(down) * Math.cos(round), 14 * bump * Math.sin(down) * Math.sin(round), -9 * bump * Math.cos(down)]);
  }
  corners.push([0, 0, 9]);
  const at = (ring, step) => 1 + (ring - 1) * ROUND + (step % ROUND);
  const faces = [];
  for (let step = 0; step < ROUND; step++) {
    faces.push([0, at(1, step + 1), at(1, step)], [corners.length - 1, at(RINGS - 1, step), at(RINGS - 1, step + 1)]);
    for (let ring = 1; ring < RINGS - 1; ring++) faces.push([at(ring, step), at(ring, step + 1), at(ring + 1, step)], [at(ring, step + 1), at(ring + 1, step + 1), at(ring + 1, step)]);
  }
  const head = `ply\nformat binary_little_endian 1.0\nelement vertex ${corners.length}\nproperty float x\nproperty float y\nproperty float z\nelement face ${faces.length}\nproperty list uchar int vertex_indices\nend_header\n`;
  const body = Buffer.alloc(12 * corners.length + 13 * faces.length);
  let place = 0;
  for (const corner of corners) for (const v of corner) place = body.writeFloatLE(v, place);
  for (const face of faces) {
    place = body.writeUInt8(3, place);
    for (const k of face) place = body.writeInt32LE(k, place);
  }
  return { file: Buffer.concat([Buffer.from(head), body]), triangles: faces.length };
}

export async function theScan({ open, check, address, sizes }) {
  const { file, triangles } = pebble();
  const form = new FormData();
  form.append("evidence", JSON.stringify({
    format: "opalwright-evidence/1", piece: { name: "Large scan", form: "nobby" },
    shape: { mesh: { file: "pebble.ply", unit: "mm" }, stone_from_mesh: { rotation: [1, 0, 0, 0, 1, 0, 0, 0, 1], translation_mm: [0, 0, 0] } }, bar: [{ name: "A", quick: { thickness_mm: 2, edge_share: 0.5 } }],
  }));
  form.append("scan", new Blob([file]), "pebble.ply");
  const taken = await fetch(`${address}/api/stones`, { method: "POST", headers: { "x-opalwright": "1" }, body: form });
  const { number } = await taken.json();
  check(taken.status === 201, `a scan of ${triangles} triangles is taken in`);
  const { page, faults, go, close } = await open(sizes[2]);
  await go(`#/stone/${number}`);
  await page.locator("canvas[data-drawn]").waitFor();
  await page.evaluate(() => {
    window.drawn = 0;
    new MutationObserver((all) => { window.drawn += all.length; }).observe(document.querySelector("canvas"), { attributes: true, attributeFilter: ["data-drawn"] });
  });
  const canvas = page.locator("canvas");
  await canvas.scrollIntoViewIfNeeded();
  // The scan comes after the page's own drawing.
  await page.waitForLoadState("networkidle");
  const { x, y, width, height } = await canvas.boundingBox();
  await page.mouse.move(x + width / 2, y + height / 2);
  await page.mouse.down();
  const [before, start] = [await page.evaluate(() => window.drawn), Date.now()];
  for (let turn = 0; Date.now() - start < 4000; turn++) await page.mouse.move(x + width / 2 + (width / 3) * Math.sin(turn / 9), y + height / 2 + (height / 6) * Math.cos(turn / 13));
  const [after, end] = [await page.evaluate(() => window.drawn), Date.now()];
  await page.mouse.up();
  check(after > before, "the scan turns under the pointer");
  console.log(`       a scan of ${triangles} triangles, drawn in software: ${(((after - before) * 1000) / (end - start)).toFixed(1)} pictures a second while it is turned`);
  check(faults.length === 0, `a large scan: ${faults.join("; ") || "nothing went wrong"}`);
  await close();
}
