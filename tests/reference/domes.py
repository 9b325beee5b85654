"""Volumes of cut stones by trimesh: dome, wall, bevel and flat back over an outline.

The stones are given by formulas, so that the test builds the same ones. The meshes
here are finer than ours and made ring by ring from the closed forms of the faces.
"""

import numpy as np
import trimesh

RINGS = 256
POINTS = 360


def outline(stone, n=POINTS):
    """Points about the crown: a superellipse, or one that bulges to one side."""
    t = 2.0 * np.pi * np.arange(n) / n
    a, b, p, bulge = stone["half_length"], stone["half_width"], stone["power"], stone["bulge"]
    r = (np.abs(np.cos(t) / a) ** p + np.abs(np.sin(t) / b) ** p) ** (-1.0 / p)
    r = r * (1.0 + bulge * np.cos(3.0 * t + 0.4))
    return np.column_stack([r * np.cos(t), r * np.sin(t)])


def surface(stone):
    """A closed mesh, from the crown outward, down the wall and back to the middle."""
    rim = outline(stone)
    height, exponent, wall, bevel = (stone[k] for k in ("height", "exponent", "wall", "bevel"))
    slope = np.array(stone["slope"])
    reach = np.linalg.norm(rim, axis=1)
    rings = []
    for k in range(1, RINGS + 1):
        rho = k / RINGS
        at = rho * rim
        rings.append(np.column_stack([at, at @ slope + height * (1.0 - rho**exponent)]))
    rings.append(np.column_stack([rim, rim @ slope - wall + bevel]))
    foot = rim * (1.0 - bevel / reach)[:, None]
    rings.append(np.column_stack([foot, foot @ slope - wall]))
    vertices = np.vstack([[[0.0, 0.0, height]], *rings, [[0.0, 0.0, -wall]]])
    n = len(rim)
    k = np.arange(n)
    after = (k + 1) % n
    faces = [np.column_stack([np.zeros(n, int), 1 + k, 1 + after])]
    for ring in range(len(rings) - 1):
        up, down = 1 + ring * n, 1 + (ring + 1) * n
        faces.append(np.column_stack([up + k, down + k, down + after]))
        faces.append(np.column_stack([up + k, down + after, up + after]))
    last = 1 + (len(rings) - 1) * n
    faces.append(np.column_stack([last + k, np.full(n, len(vertices) - 1), last + after]))
    return trimesh.Trimesh(vertices, np.vstack(faces), process=False)


def stone(half_length, half_width, height, exponent, wall, bevel=0.4, power=2.0, bulge=0.0, slope=(0.0, 0.0)):
    shape = {
        "half_length": half_length,
        "half_width": half_width,
        "power": power,
        "bulge": bulge,
        "height": height,
        "exponent": exponent,
        "wall": wall,
        "bevel": bevel,
        "slope": list(slope),
    }
    mesh = surface(shape)
    assert mesh.is_watertight
    return shape | {"volume_mm3": float(mesh.volume), "area_mm2": float(mesh.area)}


def values():
    versions = {"trimesh": trimesh.__version__, "numpy": np.__version__}
    stones = {
        "low_oval": stone(9.0, 6.5, 1.0, 2.0, 2.2),
        "high_oval": stone(9.0, 6.5, 3.3, 2.0, 1.0),
        "flat_topped_round": stone(5.0, 5.0, 0.4, 4.0, 2.4),
        "cushion": stone(8.0, 7.0, 2.0, 2.0, 1.5, power=4.0),
        "lopsided_and_tilted": stone(11.0, 7.0, 2.1, 2.0, 2.0, bulge=0.12, slope=(0.08, -0.05)),
        "no_bevel": stone(7.0, 5.0, 1.5, 3.0, 2.0, bevel=0.0),
    }
    return {"versions": versions, "stones": stones}
