// What was typed and chosen at the counter, and the readings file that it makes.

import { typed } from "../format.js";
import { T } from "../strings.js";

export const SIZES = ["length_mm", "width_mm", "height_mm"];
export const OUTLINES = ["oval", "round", "freeform"];
export const TONES = ["N1", "N2", "N3", "N4", "N5", "N6", "N7", "N8", "N9"];
export const VIEWS = ["face-up", "from-the-side"];
export const BRIGHTNESS = ["dull", "subdued", "bright", "very bright", "brilliant"];
/** What is told or judged in words of one's own. */
export const TOLD = ["pattern", "origin", "cap", "back"];

export const emptyDraft = () => ({
  name: "", by: "", described: "", weight: "", gravity: "", index: "",
  looks: {}, seen: {}, outline: OUTLINES[0], sizes: {},
  tone: undefined, viewed: VIEWS[0], brightness: undefined, said: {}, toldBy: "",
  photos: {}, water: emptyWater(),
});

/** What water could harm; unknown until somebody looked. */
export const HARM = ["porous", "glued", "treated", "open_cracks"];
/** Weighings in water as typed: carats and degrees. */
const emptyWater = () => ({ known: Object.fromEntries(HARM.map((key) => [key, "unknown"])), rows: [["", ""]], wire: "", temp: "", scale: "0.005" });

export const today = () => new Date().toISOString().slice(0, 10);

/** What cannot be read as a number is sent as it is: the answer names its place. */
const number = (text) => {
  if (text.trim() === "") return undefined;
  const value = typed(text);
  return Number.isNaN(value) ? text : value;
};

/** Weighings as the readings file has them, in grams; nothing where none was made. */
function weighingOf(water) {
  const grams = (text) => {
    const carats = number(text);
    return typeof carats === "number" ? Number((0.2 * carats).toPrecision(12)) : carats;
  };
  const rows = water.rows.filter((row) => row.some((said) => said.trim() !== ""));
  if (rows.length === 0) return {};
  return {
    weighing: {
      scale_sigma_g: grams(water.scale),
      rows: rows.map(([air, wet]) => ({ in_air_g: grams(air), in_water_g: grams(wet), wire_g: grams(water.wire) ?? 0, water_c: number(water.temp) })),
    },
    soak: water.known,
  };
}

/** The readings file of what was typed and chosen. */
export function readingsOf(d) {
  const by = d.by.trim() || undefined;
  const photo = (key) => ({ photo: d.photos[key]?.name, photo_sha256: d.photos[key]?.sha256 });
  const reading = Object.entries(d.looks).map(([look, value]) => ({ id: look, look, value, by, at: d.seen[look], ...photo(look) }));
  const weighed = weighingOf(d.water);
  for (const look of ["gravity", "index"]) {
    // One specific gravity: weighed here, it stands in place of one that is told.
    if (look === "gravity" && weighed.weighing) continue;
    const value = number(d[look]);
    if (value !== undefined) reading.push({ id: look, look, value, by, at: d.seen[look] });
  }
  const described = [];
  const say = (what, value, more) => value && described.push({ what, value, by, at: d.seen[what], ...more });
  say("body-tone", d.tone, { viewed: d.viewed });
  say("brightness", d.brightness);
  for (const what of TOLD) say(what, d.said[what]?.trim(), what === "origin" ? { by: d.toldBy.trim() || undefined } : undefined);
  const sizes = Object.fromEntries(SIZES.map((key) => [key, number(d.sizes[key] ?? "")]));
  const sized = SIZES.some((key) => sizes[key] !== undefined);
  return {
    format: "opalwright-readings/1",
    stone: {
      name: d.name.trim() || T.counter.unnamed,
      described_as: d.described.trim() || undefined,
      weight_ct: number(d.weight),
      sizes: sized ? { outline: d.outline, ...sizes } : undefined,
    },
    ...weighed,
    reading,
    described,
  };
}

const ENDINGS = { "image/jpeg": "jpg", "image/png": "png", "image/webp": "webp" };

/** A photo that was chosen for a look: its name, its SHA-256, the file itself. */
export async function photoOf(look, file) {
  const ending = ENDINGS[file.type];
  if (!ending) return null;
  const digest = new Uint8Array(await crypto.subtle.digest("SHA-256", await file.arrayBuffer()));
  const sha256 = [...digest].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  const name = `${look}.${ending}`;
  return { name, sha256, file: new File([file], name, { type: file.type }) };
}

export const photosOf = (d) => Object.entries(d.photos).filter(([look]) => d.looks[look] !== undefined).map(([, photo]) => photo.file);
