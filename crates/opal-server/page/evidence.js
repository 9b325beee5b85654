// Between what was typed and the evidence document (opalwright-evidence/1).

import { T } from "./strings.js";
import { typed } from "./format.js";

export const emptyDraft = () => ({
  name: "", form: "unknown", origin: "", weight: "", weightUnit: "ct",
  shape: "callipers", traced: null, length: "", width: "", height: "", scanUnit: "mm",
  barWay: "quick", thickness: "", share: undefined, barHeight: "", places: [], chosen: 0,
  torch: "", variety: "", brightness: [], tone: "", asking: "", currency: "",
});

const text = (v) => (v === undefined || v === null ? "" : String(v));

/** What a document says, as it would have been typed. */
export function draftOf(evidence, currency) {
  const { piece = {}, shape = {}, bar = [], look = {}, torch = {} } = evidence;
  const box = shape.callipers;
  const [first] = bar;
  const sightings = first?.sighting ?? [];
  const inGrams = piece.weight_g !== undefined && piece.weight_g !== null;
  return {
    ...emptyDraft(),
    name: text(piece.name),
    form: piece.form ?? "unknown",
    origin: text(piece.origin),
    weight: text(inGrams ? piece.weight_g : piece.weight_ct),
    weightUnit: inGrams ? "g" : "ct",
    shape: box ? "callipers" : "kept",
    length: text(box?.length_mm),
    width: text(box?.width_mm),
    height: text(box?.height_mm),
    barWay: sightings.length > 0 ? "places" : first?.quick ? "quick" : "none",
    thickness: text(first?.quick?.thickness_mm),
    share: first?.quick?.edge_share,
    barHeight: text(first?.quick?.top_mm),
    places: sightings.map((v) => ({
      at: v.at_mm,
      kind: v.absent ? "absent" : v.thickness_at_least_mm != null ? "at_least" : "measured",
      thickness: text(v.thickness_at_least_mm ?? v.thickness_mm),
      top: text(v.top_mm),
      kept: v,
    })),
    torch: torch?.look ?? "",
    variety: look?.variety ?? "",
    brightness: [look?.brightness ?? []].flat(),
    tone: text(look?.body_tone),
    asking: text(piece.asking?.amount),
    currency: piece.asking?.currency ?? currency,
  };
}

/** The document. What the page cannot show of `before` is kept as it was. */
export function evidenceOf(draft, scan, before) {
  const number = (v) => (text(v).trim() === "" ? undefined : typed(v));
  const word = (v) => (text(v).trim() === "" ? undefined : text(v).trim());
  const piece = {
    ...before?.piece,
    name: draft.name.trim(),
    form: draft.form,
    origin: word(draft.origin),
    weight_ct: draft.weightUnit === "ct" ? number(draft.weight) : undefined,
    weight_g: draft.weightUnit === "g" ? number(draft.weight) : undefined,
    asking: word(draft.asking) && { amount: text(draft.asking).trim().replace(",", "."), currency: draft.currency },
  };
  const shape = draft.shape === "kept" ? before.shape
    : draft.shape === "mesh" ? { mesh: { file: scan.name, unit: draft.scanUnit } }
      : draft.shape === "traced" ? { outline: { points_mm: draft.traced.outline_mm, heights_mm: [[...middleOf(draft.traced.outline_mm), draft.traced.height_mm]], base_mm: 0 } }
      : { callipers: { ...before?.shape?.callipers, length_mm: number(draft.length), width_mm: number(draft.width), height_mm: number(draft.height) } };
  const look = {
    ...before?.look,
    variety: word(draft.variety),
    brightness: draft.brightness.length > 0 ? draft.brightness : undefined,
    body_tone: number(draft.tone),
  };
  const bars = barsOf(draft, before, number);
  // Leaving a field out is what says 'not known'; JSON drops what is undefined.
  return JSON.parse(JSON.stringify({
    ...before,
    format: "opalwright-evidence/1",
    piece,
    shape,
    bar: bars,
    torch: word(draft.torch) && { look: draft.torch },
    look: Object.values(look).some((v) => v !== undefined) ? look : undefined,
  }));
}

/** Centroid of an outline's area, mm. */
function middleOf(points) {
  let [area, x, y] = [0, 0, 0];
  points.forEach(([x0, y0], k) => {
    const [x1, y1] = points[(k + 1) % points.length];
    const cross = x0 * y1 - x1 * y0;
    area += cross;
    x += (x0 + x1) * cross;
    y += (y0 + y1) * cross;
  });
  return [x, y].map((v) => Math.round((1e3 * v) / (3 * area)) / 1e3);
}

function barsOf(draft, before, number) {
  const [first, ...others] = before?.bar ?? [];
  const name = first?.name ?? "A";
  if (draft.barWay === "none") return others.length > 0 ? others : undefined;
  if (draft.barWay === "quick") {
    const quick = { ...first?.quick, thickness_mm: number(draft.thickness), edge_share: draft.share, top_mm: number(draft.barHeight) };
    return [{ ...first, name, quick, sighting: undefined }, ...others];
  }
  const sighting = draft.places.map((v) => {
    const at_mm = v.at.map(typed);
    // Readings that this page has no field for stay with the place.
    const { sigma_mm, top_sigma_mm, bottom_sigma_mm, thickness_sigma_mm, bottom_mm } = v.kept ?? {};
    const kept = { sigma_mm, top_sigma_mm, bottom_sigma_mm, thickness_sigma_mm };
    if (v.kind === "absent") return { at_mm, absent: true };
    if (v.kind === "at_least") return { ...kept, at_mm, thickness_at_least_mm: number(v.thickness) ?? 0, top_mm: number(v.top) };
    return { ...kept, at_mm, thickness_mm: number(v.thickness), top_mm: number(v.top), bottom_mm };
  });
  return [{ ...first, name, sighting, quick: first?.quick }, ...others];
}

/** What is wrong with a step before it is sent: only what the page itself can tell. */
export function ownFaults(draft, step, scan, before) {
  const faults = [];
  const fault = (field, value, limit) => faults.push({ field, value, limit });
  const numeric = (field, v, needed) => {
    const empty = text(v).trim() === "";
    if (empty ? needed : Number.isNaN(typed(v))) fault(field, empty ? "empty" : `'${v}'`, T.takeIn.needNumber);
  };
  if (step === 0) {
    if (draft.name.trim() === "") fault("piece.name", "empty", T.takeIn.needName);
    numeric(draft.weightUnit === "g" ? "piece.weight_g" : "piece.weight_ct", draft.weight, false);
    if (draft.shape === "callipers") {
      for (const part of ["length", "width", "height"]) numeric(`shape.callipers.${part}_mm`, draft[part], true);
    }
    if (draft.shape === "traced" && !draft.traced) fault("shape", "empty", T.takeIn.needTrace);
    else if (draft.shape === "traced" && !draft.traced.height_mm) fault("shape.outline.heights_mm", "empty", T.takeIn.needHeight);
    if (draft.shape === "mesh" && !scan && !before) fault("shape.mesh.file", "empty", T.takeIn.needScan);
  }
  if (step === 1 && draft.barWay === "quick") {
    numeric("bar[0].quick.thickness_mm", draft.thickness, true);
    if (draft.share === undefined) fault("bar[0].quick.edge_share", "empty", T.takeIn.needBar);
    numeric("bar[0].quick.top_mm", draft.barHeight, false);
  }
  if (step === 1 && draft.barWay === "places") {
    draft.places.forEach((v, k) => {
      const path = `bar[0].sighting[${k}]`;
      v.at.forEach((u) => numeric(`${path}.at_mm`, u, true));
      if (v.kind === "absent") return;
      numeric(`${path}.${v.kind === "measured" ? "thickness_mm" : "thickness_at_least_mm"}`, v.thickness, v.kind === "measured" && text(v.top).trim() === "");
      numeric(`${path}.top_mm`, v.top, false);
    });
  }
  if (step === 2) numeric("piece.asking.amount", draft.asking, false);
  return faults;
}
