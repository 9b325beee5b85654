// The stone in three dimensions: skin, bar with its spread, planned stones.
// Drawn only when something changes, so that a tablet stays cool.

import * as THREE from "../vendor/three.js";
import { h } from "../dom.js";
import { T } from "../strings.js";
import { mm } from "../format.js";
import { bounds, nodeAt, rim, triangles } from "./grid.js";

const colourOf = (name) => new THREE.Color(getComputedStyle(document.documentElement).getPropertyValue(name).trim());

/** A touch that moves farther than this turns the stone, pixels. */
const STILL = 8;

/**
 * Gives the element, and `show(plan)` to change what is planned. `touched(at)`,
 * where it is given, hears of each place on the skin that is touched, mm.
 */
export function view3d(scene, touched) {
  const canvas = h("canvas", { class: "scene", tabindex: 0, role: "img", "aria-label": T.view.label });
  const box = h("div", { class: "scene-box" }, canvas);
  let drawing;
  try {
    drawing = new Drawing(scene, canvas);
  } catch {
    return { element: h("div", { class: "note" }, T.view.missing), show() {}, redraw() {}, close() {} };
  }
  const { low, high } = drawing.box;
  const depth = h("input", { type: "range", min: 0, max: 1000, value: 0, id: "depth", class: "slider" });
  const told = h("output", { for: "depth" });
  const setDepth = () => {
    const off = (Number(depth.value) / 1000) * (high[2] - low[2]);
    drawing.cutAt(high[2] - off);
    told.textContent = off > 0 ? T.view.groundOff(mm(off)) : T.view.nothingOff;
    depth.setAttribute("aria-valuetext", told.textContent);
  };
  depth.addEventListener("input", setDepth);
  setDepth();
  const layers = [["skin", true], ["bar", true], ["doubt", true], ["stones", true], ["cuts", true]].map(([key, on]) =>
    h("label", { class: "check" },
      h("input", { type: "checkbox", checked: on, onchange: (e) => drawing.toggle(key, e.target.checked) }),
      h("span", {}, h("i", { class: `swatch ${key}`, "aria-hidden": "true" }), T.view.layers[key])));
  const element = h("div", { class: "view" },
    box,
    h("div", { class: "row tight" }, ["slant", "top", "side"].map((from) =>
      h("button", { type: "button", class: "quiet", onclick: () => drawing.lookFrom(from) }, T.view.from[from]))),
    h("div", { class: "depth" }, h("label", { for: "depth" }, T.view.depth), depth, told),
    h("fieldset", { class: "layers" }, h("legend", {}, T.view.show), layers));
  if (touched) {
    let down = null;
    canvas.addEventListener("pointerdown", (e) => { down = [e.clientX, e.clientY]; });
    canvas.addEventListener("pointerup", (e) => {
      const at = down && Math.hypot(e.clientX - down[0], e.clientY - down[1]) < STILL && drawing.placeAt(e.clientX, e.clientY);
      if (at) touched(at);
    });
  }
  const observer = new ResizeObserver(() => drawing.resize());
  observer.observe(box);
  return {
    element,
    show: (plan) => { drawing.setStones(plan.stones); drawing.setCuts(plan.cuts); },
    mark: (sightings) => { scene.sightings = sightings; drawing.addSightings(); drawing.recolour(); },
    addScan: (mesh) => drawing.setScan(mesh),
    redraw: () => drawing.recolour(),
    close: () => { observer.disconnect(); drawing.close(); },
  };
}

class Drawing {
  constructor(scene, canvas) {
    this.data = scene;
    this.canvas = canvas;
    this.box = bounds(scene);
    this.renderer = new THREE.WebGLRenderer({ canvas, antialias: true, alpha: true });
    this.renderer.setPixelRatio(Math.min(2, window.devicePixelRatio || 1));
    this.renderer.localClippingEnabled = true;
    this.clip = new THREE.Plane(new THREE.Vector3(0, 0, -1), this.box.high[2] + 1);
    this.world = new THREE.Scene();
    this.camera = new THREE.PerspectiveCamera(32, 1, 1, 5000);
    this.camera.up.set(0, 0, 1);
    this.world.add(new THREE.HemisphereLight(0xffffff, 0x8a8a80, 1.7));
    this.sun = new THREE.DirectionalLight(0xffffff, 1.6);
    this.world.add(this.sun);
    this.controls = new THREE.OrbitControls(this.camera, canvas);
    this.controls.enableDamping = false;
    this.controls.addEventListener("change", () => this.request());
    this.groups = {};
    for (const key of ["skin", "bar", "doubt", "stones", "cuts", "sightings"]) {
      this.groups[key] = new THREE.Group();
      this.world.add(this.groups[key]);
    }
    this.addSkin();
    scene.bars.forEach((bar) => this.addBar(bar));
    this.addSightings();
    this.recolour();
    this.lookFrom("slant");
    canvas.addEventListener("keydown", (e) => this.key(e));
  }

  material(key, kind, options) {
    const material = new kind({ side: THREE.DoubleSide, clippingPlanes: [this.clip], ...options });
    material.userData.key = key;
    return material;
  }

  surface(corners, faces, material, order, colours) {
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(new Float32Array(corners), 3));
    if (colours) geometry.setAttribute("color", new THREE.BufferAttribute(new Float32Array(colours), 4));
    geometry.setIndex(faces.flat());
    geometry.computeVertexNormals();
    const mesh = new THREE.Mesh(geometry, material);
    mesh.renderOrder = order;
    return mesh;
  }

  addSkin() {
    const { data } = this;
    const n = data.nx * data.ny;
    const faces = triangles(data, (k) => data.skin_top_mm[k] != null);
    const corners = [];
    for (const heights of [data.skin_top_mm, data.skin_bottom_mm]) {
      for (let k = 0; k < n; k++) {
        const [x, y] = nodeAt(data, k % data.nx, Math.floor(k / data.nx));
        corners.push(x, y, heights[k] ?? 0);
      }
    }
    const all = faces.slice();
    for (const [a, b, c] of faces) all.push([c + n, b + n, a + n]);
    for (const [a, b] of rim(faces)) all.push([b, a, a + n], [b, a + n, b + n]);
    const material = this.material("--skin", THREE.MeshStandardMaterial, {
      transparent: true, opacity: 0.26, roughness: 0.9, depthWrite: false,
    });
    this.groups.skin.add(this.surface(corners, all, material, 5));
  }

  /** The middle of the bar solid, as sure as it is there; around it where it may be. */
  addBar(bar) {
    const { data } = this;
    const held = (k) => data.skin_top_mm[k] != null;
    const inSkin = (z, k) => Math.min(data.skin_top_mm[k], Math.max(data.skin_bottom_mm[k], z));
    const layer = (group, heights, material, order, alpha) => {
      const has = (k) => held(k) && heights[k] != null;
      const corners = [];
      const colours = [];
      const [a, b, c] = ["--bar-1", "--bar-2", "--bar-3"].map(colourOf);
      for (let k = 0; k < data.nx * data.ny; k++) {
        const [x, y] = nodeAt(data, k % data.nx, Math.floor(k / data.nx));
        corners.push(x, y, has(k) ? inSkin(heights[k], k) : 0);
        // A slow play of three hues along the bar, as the eye expects of opal.
        const t = 0.5 + 0.5 * Math.sin(0.21 * x + 0.13 * y);
        const mixed = t < 0.5 ? a.clone().lerp(b, 2 * t) : b.clone().lerp(c, 2 * t - 1);
        colours.push(mixed.r, mixed.g, mixed.b, alpha ? alpha(k) : 1);
      }
      group.add(this.surface(corners, triangles(data, has), material, order, colours));
    };
    const solid = this.material(null, THREE.MeshStandardMaterial, {
      vertexColors: true, transparent: true, roughness: 0.35, metalness: 0.05, depthWrite: false,
    });
    // See-through even where it is sure, so that a stone planned in it shows.
    const chance = (k) => Math.max(0.06, 0.62 * Math.min(1, bar.chance[k] ?? 0));
    layer(this.groups.bar, bar.top_mm[1], solid, 2, chance);
    layer(this.groups.bar, bar.bottom_mm[1], solid, 1, chance);
    const faint = this.material("--doubt", THREE.MeshBasicMaterial, {
      transparent: true, opacity: 0.17, depthWrite: false,
    });
    layer(this.groups.doubt, bar.top_mm[2], faint, 4);
    layer(this.groups.doubt, bar.bottom_mm[0], faint, 3);
  }

  addSightings() {
    this.groups.sightings.clear();
    const size = Math.max(0.35, (this.box.high[0] - this.box.low[0]) / 90);
    for (const seen of this.data.sightings) {
      const material = this.material(seen.seen === "absent" ? "--loss" : "--ink", THREE.MeshBasicMaterial, {
        wireframe: seen.seen === "absent",
      });
      const ball = new THREE.Mesh(new THREE.SphereGeometry(size, 12, 8), material);
      const middle = (this.box.low[2] + this.box.high[2]) / 2;
      ball.position.set(seen.at_mm[0], seen.at_mm[1], seen.top_mm ?? middle);
      ball.renderOrder = 6;
      this.groups.sightings.add(ball);
    }
  }

  setStones(stones) {
    this.groups.stones.clear();
    for (const stone of stones) {
      const { positions_mm: corners, faces } = stone.surface;
      if (corners.length === 0) continue;
      const material = this.material("--stone", THREE.MeshStandardMaterial, {
        roughness: 0.3, metalness: 0,
        // A face that follows the bar lies in it exactly; the bar is to win.
        polygonOffset: true, polygonOffsetFactor: 2, polygonOffsetUnits: 16,
      });
      const triples = [];
      for (let k = 0; k < faces.length; k += 3) triples.push([faces[k], faces[k + 1], faces[k + 2]]);
      this.groups.stones.add(this.surface(corners, triples, material, 0));
      this.groups.stones.add(this.girdle(stone));
    }
    this.recolour();
  }

  /** Upright saw planes as see-through sheets, a line around each so that it shows edge on. */
  setCuts(cuts) {
    this.groups.cuts.clear();
    const { low, high } = this.box;
    const air = 0.06 * (high[0] - low[0]);
    const [bottom, top] = [low[2] - air, high[2] + air];
    for (const { line_mm: [a, b], tilt_deg: tilt } of cuts) {
      // A slice across the height has no line from above; its words tell it.
      if (Math.abs(tilt) > 1) continue;
      const corners = [...a, bottom, ...b, bottom, ...b, top, ...a, top];
      const sheet = this.material("--loss", THREE.MeshBasicMaterial, { transparent: true, opacity: 0.16, depthWrite: false });
      this.groups.cuts.add(this.surface(corners, [[0, 1, 2], [0, 2, 3]], sheet, 6));
      const geometry = new THREE.BufferGeometry();
      geometry.setAttribute("position", new THREE.BufferAttribute(new Float32Array(corners), 3));
      const line = new THREE.LineLoop(geometry, this.material("--loss", THREE.LineBasicMaterial, {}));
      line.renderOrder = 7;
      this.groups.cuts.add(line);
    }
    this.recolour();
  }

  /** The place on the skin under a point of the screen, mm; null beside the stone. */
  placeAt(clientX, clientY) {
    const r = this.canvas.getBoundingClientRect();
    const point = new THREE.Vector2((2 * (clientX - r.left)) / r.width - 1, 1 - (2 * (clientY - r.top)) / r.height);
    const ray = new THREE.Raycaster();
    ray.setFromCamera(point, this.camera);
    // What is ground off on the screen cannot be touched.
    const hit = ray.intersectObjects(this.groups.skin.children).find(({ point: p }) => p.z <= this.clip.constant);
    return hit ? hit.point.toArray() : null;
  }

  /** The outline at the edge of the dome, so that the stone stands out of the bar. */
  girdle({ outline_mm: outline, surface }) {
    const heights = outline.map(([x, y]) => {
      let best = [Infinity, 0];
      const p = surface.positions_mm;
      for (let k = 0; k < p.length; k += 3) {
        const far = (p[k] - x) ** 2 + (p[k + 1] - y) ** 2;
        // Of the corners above one another at the wall, the highest is the edge.
        if (far < best[0] - 1e-6 || (far < best[0] + 1e-6 && p[k + 2] > best[1])) best = [Math.min(far, best[0]), p[k + 2]];
      }
      return best[1];
    });
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(new Float32Array(outline.flatMap(([x, y], k) => [x, y, heights[k]])), 3));
    const line = new THREE.LineLoop(geometry, this.material("--ink", THREE.LineBasicMaterial, {}));
    line.renderOrder = 7;
    return line;
  }

  /** The scan itself in place of the layered skin. */
  setScan({ positions, faces }) {
    const material = this.groups.skin.children[0].material;
    this.groups.skin.clear();
    const geometry = new THREE.BufferGeometry();
    geometry.setAttribute("position", new THREE.BufferAttribute(positions, 3));
    geometry.setIndex(new THREE.BufferAttribute(faces, 1));
    geometry.computeVertexNormals();
    const mesh = new THREE.Mesh(geometry, material);
    mesh.renderOrder = 5;
    this.groups.skin.add(mesh);
    this.request();
  }

  recolour() {
    this.world.traverse((node) => {
      const key = node.material?.userData.key;
      if (key) node.material.color = colourOf(key);
    });
    this.request();
  }

  toggle(key, on) {
    this.groups[key].visible = on;
    if (key === "bar") this.groups.sightings.visible = on;
    this.request();
  }

  cutAt(z) {
    this.clip.constant = z + 1e-3;
    this.request();
  }

  lookFrom(from) {
    const { low, high } = this.box;
    const middle = new THREE.Vector3(...[0, 1, 2].map((a) => (low[a] + high[a]) / 2));
    const size = Math.hypot(high[0] - low[0], high[1] - low[1], high[2] - low[2]);
    const way = {
      slant: new THREE.Vector3(-0.45, -1, 0.75),
      top: new THREE.Vector3(0, -0.001, 1),
      side: new THREE.Vector3(0, -1, 0.001),
    }[from].normalize();
    this.controls.target.copy(middle);
    // The box's own ball would fit at 1; stones are flat, so a little nearer does.
    const fits = (0.5 * size) / Math.tan((this.camera.fov * Math.PI) / 360);
    this.camera.position.copy(middle).addScaledVector(way, (0.84 * fits) / Math.min(1, this.camera.aspect));
    this.controls.minDistance = size * 0.4;
    this.controls.maxDistance = size * 8;
    this.looking = from;
    this.controls.update();
    this.request();
  }

  key(event) {
    const turn = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    const nearer = { "+": 0.9, "=": 0.9, "-": 1 / 0.9 }[event.key];
    if (!turn && !nearer) return;
    event.preventDefault();
    const target = this.controls.target;
    const arm = this.camera.position.clone().sub(target);
    if (nearer) arm.multiplyScalar(nearer);
    else {
      arm.applyAxisAngle(new THREE.Vector3(0, 0, 1), -0.14 * turn[0]);
      const level = new THREE.Vector3(0, 0, 1).cross(arm).normalize();
      const lifted = arm.clone().applyAxisAngle(level, -0.12 * turn[1]);
      // Stops short of straight above and below, where left and right would swap.
      if (Math.abs(lifted.z) < 0.995 * lifted.length()) arm.copy(lifted);
    }
    this.camera.position.copy(target).add(arm);
    this.controls.update();
    this.request();
  }

  resize() {
    const { clientWidth: width, clientHeight: height } = this.canvas.parentElement;
    if (!width || !height) return;
    this.renderer.setSize(width, height, false);
    this.camera.aspect = width / height;
    this.camera.updateProjectionMatrix();
    if (!this.sized) {
      this.sized = true;
      this.lookFrom(this.looking);
    }
    this.request();
  }

  request() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.sun.position.copy(this.camera.position);
      this.renderer.render(this.world, this.camera);
      this.canvas.dataset.drawn = "yes";
    });
  }

  close() {
    this.controls.dispose();
    this.world.traverse((node) => { node.geometry?.dispose(); node.material?.dispose(); });
    this.renderer.dispose();
  }
}
