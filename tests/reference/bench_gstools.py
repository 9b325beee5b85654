"""Time and error of conditional fields here and in GSTools, in one run.

One field, Matern 3/2 of range 6 mm, sill 1, 200 readings with error sd 0.1, flat
constant mean, 200 x 160 nodes of 0.2 mm: the same model, data and grid for both.
Build first: cargo build --release -p opal-geostat --example field_speed
Run: python tests/reference/bench_gstools.py [path of field_speed]
"""

import json
import pathlib
import subprocess
import sys
import time

import gstools as gs
import numpy as np

root = pathlib.Path(__file__).resolve().parents[2]
binary = sys.argv[1] if len(sys.argv) > 1 else root / "target/release/examples/field_speed"
command = [str(binary), "200", "300", "6", "three", "1", "places"]
lines = subprocess.run(command, capture_output=True, text=True, check=True).stdout.splitlines()
ours = json.loads(lines[-1])
data = np.array([[float(v) for v in line.split()] for line in lines[:-1]])
places, values = data[:, :2], data[:, 2]

# GSTools writes sqrt(nu) h / len.
model = gs.Matern(dim=2, var=1.0, len_scale=6.0 / np.sqrt(2.0), nu=1.5)
krige = gs.krige.Ordinary(model, places.T, values, cond_err=0.01, exact=False)
field = gs.CondSRF(krige)
x, y = 0.2 * np.arange(200), 0.2 * np.arange(160)
field((x, y), mesh_type="structured", seed=0)
repeats = 4
start = time.perf_counter()
for seed in range(repeats):
    field((x, y), mesh_type="structured", seed=1 + seed)
theirs_ms = 1e3 * (time.perf_counter() - start) / repeats

# Conditional covariance between the same 12 nodes, 300 draws, against the exact one.
def kernel(a, b):
    s = np.sqrt(3.0) * np.hypot(*(a[:, None, :] - b[None, :, :]).transpose(2, 0, 1)) / 6.0
    return (1.0 + s) * np.exp(-s)

nodes = np.array([[20 + 60 * (k % 3), 20 + 35 * (k // 3)] for k in range(12)]) * 0.2
inverse = np.linalg.inv(kernel(places, places) + 0.01 * np.eye(len(places)))
cross = kernel(places, nodes)
ones = np.ones(len(places))
left_over = 1.0 - ones @ inverse @ cross
exact = (
    kernel(nodes, nodes)
    - cross.T @ inverse @ cross
    + np.outer(left_over, left_over) / (ones @ inverse @ ones)
)
draws = np.array([field(nodes.T, seed=seed).copy() for seed in range(300)])
sampled = np.cov(draws.T)
lower = np.tril_indices(12)
theirs_error = float(np.sqrt(np.mean((sampled - exact)[lower] ** 2)))
print(
    json.dumps(
        {
            "gstools": gs.__version__,
            "ours": ours,
            "gstools_ms_per_field": round(theirs_ms, 1),
            "ratio": round(theirs_ms / ours["ms_per_field"], 1),
            "gstools_sampled_covariance_rms_error": round(theirs_error, 6),
            "rms_of_exact_covariance": round(float(np.sqrt(np.mean(exact[lower] ** 2))), 6),
        },
        indent=1,
    )
)
