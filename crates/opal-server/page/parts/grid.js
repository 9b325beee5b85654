// Reading the heights that came with a scene.

/** Where node (i, j) stands. */
export const nodeAt = (scene, i, j) => [
  scene.origin_mm[0] + scene.cell_mm * i,
  scene.origin_mm[1] + scene.cell_mm * j,
];

/** The value nearest to a place; NaN outside. */
export function nearest(scene, values, x, y) {
  const i = Math.round((x - scene.origin_mm[0]) / scene.cell_mm);
  const j = Math.round((y - scene.origin_mm[1]) / scene.cell_mm);
  if (i < 0 || j < 0 || i >= scene.nx || j >= scene.ny) return NaN;
  return values[j * scene.nx + i] ?? NaN;
}

/** The box of all nodes that lie in the stone. */
export function bounds(scene) {
  const low = [Infinity, Infinity, Infinity];
  const high = [-Infinity, -Infinity, -Infinity];
  for (let j = 0; j < scene.ny; j++) {
    for (let i = 0; i < scene.nx; i++) {
      const k = j * scene.nx + i;
      if (scene.skin_top_mm[k] == null) continue;
      const [x, y] = nodeAt(scene, i, j);
      for (const [axis, a, b] of [[0, x, x], [1, y, y], [2, scene.skin_bottom_mm[k], scene.skin_top_mm[k]]]) {
        low[axis] = Math.min(low[axis], a);
        high[axis] = Math.max(high[axis], b);
      }
    }
  }
  return { low, high };
}

/** Triangles over the nodes at which `has(k)`; three good corners of a square make one. */
export function triangles(scene, has) {
  const faces = [];
  for (let j = 0; j + 1 < scene.ny; j++) {
    for (let i = 0; i + 1 < scene.nx; i++) {
      const a = j * scene.nx + i;
      const corners = [a, a + 1, a + 1 + scene.nx, a + scene.nx].filter(has);
      if (corners.length === 4) faces.push([corners[0], corners[1], corners[2]], [corners[0], corners[2], corners[3]]);
      else if (corners.length === 3) faces.push(corners);
    }
  }
  return faces;
}

/** Edges that belong to one triangle only, in its direction. */
export function rim(faces) {
  const seen = new Map();
  for (const [a, b, c] of faces) {
    for (const [from, to] of [[a, b], [b, c], [c, a]]) {
      const back = `${to},${from}`;
      if (seen.has(back)) seen.delete(back);
      else seen.set(`${from},${to}`, [from, to]);
    }
  }
  return [...seen.values()];
}
