// Makes crates/opal-server/page/vendor/three.js anew: the parts of three.js that
// the page uses, as one module. Run it when the version in package.json changes;
// what it writes is committed, so nothing is built when the program is.

import { build } from "esbuild";
import { copyFile } from "node:fs/promises";
import { fileURLToPath } from "node:url";

const here = (path) => fileURLToPath(new URL(path, import.meta.url));
const vendor = here("../../crates/opal-server/page/vendor/");

const USED = [
  "BufferAttribute", "BufferGeometry", "Color", "DirectionalLight", "DoubleSide", "Group",
  "HemisphereLight", "LineBasicMaterial", "LineLoop", "Mesh", "MeshBasicMaterial", "MeshStandardMaterial", "PerspectiveCamera",
  "Plane", "Raycaster", "Scene", "SphereGeometry", "Vector2", "Vector3", "WebGLRenderer",
];

await build({
  stdin: {
    contents: `export { ${USED.join(", ")} } from "three";
export { OrbitControls } from "three/examples/jsm/controls/OrbitControls.js";`,
    resolveDir: here("."),
  },
  bundle: true,
  minify: true,
  format: "esm",
  target: "es2022",
  legalComments: "inline",
  outfile: `${vendor}three.js`,
});
await copyFile(here("node_modules/three/LICENSE"), `${vendor}three-LICENSE.txt`);
