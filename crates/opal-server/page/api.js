// Everything the page asks of the server, and nothing else.

/** What the server said no to: `kind`, `message`, and `faults` with their places. */
export class Refusal extends Error {
  constructor(error, status) {
    super(error.message);
    this.kind = error.kind;
    this.faults = error.faults ?? [];
    this.status = status;
  }
}

async function ask(method, path, body) {
  const options = { method, headers: {} };
  if (body instanceof Blob) {
    options.body = body;
    options.headers["x-opalwright"] = "1";
    options.headers["content-type"] = "application/octet-stream";
  } else if (body instanceof FormData) {
    options.body = body;
    options.headers["x-opalwright"] = "1";
  } else if (body !== undefined) {
    options.body = JSON.stringify(body);
    options.headers["content-type"] = "application/json";
  } else if (method !== "GET") {
    options.headers["x-opalwright"] = "1";
  }
  let response;
  try {
    response = await fetch(path, options);
  } catch {
    throw new Refusal({ kind: "away" }, 0);
  }
  if (response.ok) {
    const text = await response.text();
    return text ? JSON.parse(text) : null;
  }
  let error;
  try {
    error = (await response.json()).error;
  } catch {
    error = { kind: "internal", message: response.statusText };
  }
  throw new Refusal(error, response.status);
}

function withScan(evidence, scan) {
  if (!scan) return evidence;
  const form = new FormData();
  form.append("evidence", JSON.stringify(evidence));
  form.append("scan", scan, scan.name);
  return form;
}

/** Traces a photo from above, and one from the side where there is one (`opalwright-trace/1`). */
export function trace(what, top, side) {
  const form = new FormData();
  form.append("trace", JSON.stringify(what));
  form.append("photo", top, "top");
  if (side) form.append("photo", side, "side");
  return ask("POST", "/api/trace", form);
}
/** Traces a bar on a photo of the stone's side (`opalwright-bar-trace/1`). */
export function traceBar(what, side) {
  const form = new FormData();
  form.append("bar", JSON.stringify(what));
  form.append("photo", side, "side");
  return ask("POST", "/api/trace-bar", form);
}
export const scaleCardPath = (paper) => `/api/scale-card.pdf?paper=${paper}`;
export const about = () => ask("GET", "/api/about");
export const stones = async () => (await ask("GET", "/api/stones")).stones;
export const takeIn = async (evidence, scan) => (await ask("POST", "/api/stones", withScan(evidence, scan))).number;
export const takeInAgain = (n, evidence, scan) => ask("PUT", `/api/stones/${n}`, withScan(evidence, scan));
export const stone = (n) => ask("GET", `/api/stones/${n}`);
export const forecast = (n) => ask("GET", `/api/stones/${n}/forecast`);
export const atPrice = (n, amount) => ask("GET", `/api/stones/${n}/at-price?amount=${encodeURIComponent(amount)}`);
export const devices = () => ask("GET", "/api/devices");
export const deviceCode = () => ask("POST", "/api/devices/code", {});
export const withdraw = (device) => ask("DELETE", `/api/devices/${device}`);
export const pair = (code, name) => ask("POST", "/api/pair", { code, name });
export const prices = () => ask("GET", "/api/prices");
export const setPrices = (text) => ask("PUT", "/api/prices", { text });
export const ledger = (period) => ask("GET", `/api/ledger${days(period)}`);
export const entries = (period) => ask("GET", `/api/ledger/entries${days(period)}`);
/** Books slips; with `after`, only while the books hold so many entries. */
export const book = (slips, after) => ask("POST", `/api/ledger/entries${after === undefined ? "" : `?after=${after}`}`, slips);
/** Files over a year or a month; all days where empty. */
export const reportPath = (period) => `/api/ledger/report.pdf${days(period)}`;
export const heldPath = (period) => `/api/ledger/held.pdf${days(period)}`;
export const entriesPath = (period) => `/api/ledger/entries.csv${days(period)}`;
const days = (period) => (period ? `?period=${encodeURIComponent(period)}` : "");
export const lots = () => ask("GET", "/api/lots");
export const scales = async () => (await ask("GET", "/api/scales")).scales;
export const price = (finished) => ask("POST", "/api/price", finished);
export const learned = () => ask("GET", "/api/learned");
/** What was decided of a stone: orders, outlines that stay, ground left out. */
export const setWishes = (n, wishes) => ask("PUT", `/api/stones/${n}/wishes`, wishes);
/** Changes fields, `[{ field, value }]`; the rest of the cutter's text stays. */
export const changePrices = (changes) => ask("PATCH", "/api/prices", changes);
export const sheetPath = (n, plan) => `/api/stones/${n}/sheet.pdf?plan=${plan}`;
export const exportPath = (n) => `/api/stones/${n}/export`;

export const wheel = (n) => ask("GET", `/api/stones/${n}/log`);
export const log = (n, { once, at, event }) => ask("POST", `/api/stones/${n}/log`, { once, at, event });
export const now = (n) => ask("GET", `/api/stones/${n}/now`);
export const finish = (n, face, stock) => ask("GET", `/api/stones/${n}/finish?face_mm2=${face}&stock_mm=${stock}`);
/** `weights`: days and carats in place of what was logged, such as `0:41.2,7:41.05,14:41`. */
export const drying = (n, weights) => ask("GET", `/api/stones/${n}/drying${weights ? `?weights=${encodeURIComponent(weights)}` : ""}`);
export const sawOrGrind = (thickness, area, offcut) => ask("GET", `/api/saw-or-grind?thickness_mm=${thickness}&area_mm2=${area}&offcut_worth=${offcut}`);

export const wheels = () => ask("GET", "/api/wheels");
export const setWheels = (file) => ask("PUT", "/api/wheels", file);
export const backupPath = "/api/backup";
/** Takes a stone out of an exported file: `{ number, added }`. */
export function importStone(file, under) {
  const form = new FormData();
  form.append("import", JSON.stringify({ under }));
  form.append("stone", file, file.name);
  return ask("POST", "/api/import", form);
}
/** A bag of pieces (`opalwright-parcel/1`): what it may bring. */
export const parcel = (fields) => ask("POST", "/api/parcel", fields);
export const looks = () => ask("GET", "/api/counter/looks");
export const identify = (readings) => ask("POST", "/api/counter/identify", readings);
export const weigh = (readings) => ask("POST", "/api/counter/weigh", readings);
export const papers = (readings, market) => ask("POST", `/api/counter/papers?market=${market}`, readings);
export const lookOverWords = (readings, market, text) => ask("POST", `/api/counter/words?market=${market}`, { readings, text });

/** Keeps readings and photos with `{ stone }` or `{ customer }`; gives the stone's number. */
export async function keepReadings(readings, to, photos) {
  const form = new FormData();
  form.append("keep", JSON.stringify({ readings, with: to }));
  for (const photo of photos) form.append("photo", photo, photo.name);
  return (await ask("POST", "/api/counter/kept", form)).stone;
}
export const kept = (words) => ask("GET", `/api/counter/kept${words ? `?words=${encodeURIComponent(words)}` : ""}`);
export const keptReadings = (stone, mark) => ask("GET", `/api/counter/kept/${stone}/readings/${mark}`);
export const keptCardPath = (stone, mark) => `/api/counter/kept/${stone}/cards/${mark}`;
export const keptPhotoPath = (stone, sha256) => `/api/counter/kept/${stone}/photos/${sha256}`;

/** The card of a finished stone: its file name and the file. Kept with a stone where one is named. */
export async function card(readings, market, stone) {
  let response;
  try {
    response = await fetch(`/api/counter/card.pdf?market=${market}${stone === undefined ? "" : `&stone=${stone}`}`, {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(readings),
    });
  } catch {
    throw new Refusal({ kind: "away" }, 0);
  }
  if (!response.ok) throw new Refusal((await response.json()).error, response.status);
  const name = /filename="([^"]+)"/.exec(response.headers.get("content-disposition"))?.[1] ?? "card.pdf";
  return { name, file: await response.blob() };
}

/** The scan: corners and faces as flat lists. */
export async function scan(n) {
  const response = await fetch(`/api/stones/${n}/scan`);
  if (!response.ok) return null;
  const bytes = await response.arrayBuffer();
  const [nCorners, nFaces] = new Uint32Array(bytes, 0, 2);
  return {
    positions: new Float32Array(bytes, 8, 3 * nCorners),
    faces: new Uint32Array(bytes, 8 + 12 * nCorners, 3 * nFaces),
  };
}

export const studies = () => ask("GET", "/api/studies");
/** Looks into a copy of everything (`{ copy, here }`), or puts it back (`{ stones, kept }`). */
export const lookIntoCopy = (file) => ask("POST", "/api/restore?only_look=true", file);
export const putCopyBack = (file) => ask("POST", "/api/restore", file);

/** Runs a study; as `run`. */
export const runStudy = (asked, hear) => follow("/api/studies/run", hear, asked);
/** Follows a work that is going on; as `run`. */
export const followWork = (work, hear) => follow(null, hear, null, work);
/** Bids on all lots; as `run`. */
export const runLots = (hear) => follow("/api/lots/run", hear);
/**
 * Runs a stone. `hear(step, share)` is told how far it is. Gives `{ done, stop }`:
 * a promise of `"done"` or `"cancelled"`, and a function that stops the work.
 */
export const run = (n, hear) => follow(`/api/stones/${n}/run`, hear);

function follow(start, hear, asked = {}, going) {
  let work = going;
  let stopping = false;
  const cancel = () => ask("DELETE", `/api/works/${work}`).catch(() => {});
  const done = (async () => {
    work ??= (await ask("POST", start, asked)).work;
    if (stopping) cancel();
    return new Promise((resolve, reject) => {
      const source = new EventSource(`/api/works/${work}`);
      const end = (settle, value) => { source.close(); settle(value); };
      source.addEventListener("running", (e) => {
        const { step, share } = JSON.parse(e.data);
        hear(step, share);
      });
      source.addEventListener("done", () => end(resolve, "done"));
      source.addEventListener("cancelled", () => end(resolve, "cancelled"));
      source.addEventListener("failed", (e) => end(reject, new Refusal(JSON.parse(e.data).error, 500)));
      source.addEventListener("error", () => {
        // The browser tries again by itself unless the stream is gone for good.
        if (source.readyState === EventSource.CLOSED) end(reject, new Refusal({ kind: "away" }, 0));
      });
    });
  })();
  return { done, stop: () => { stopping = true; if (work !== undefined) cancel(); } };
}
