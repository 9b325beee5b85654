"""Volumes, areas and sections of solids of our own, by trimesh.

The solids are given by formulas, so that the test builds the same ones.
"""

import numpy as np
import trimesh


def lumpy(level):
    """A ball whose radius wavers: a stone-like shape without symmetry."""
    mesh = trimesh.creation.icosphere(subdivisions=level, radius=1.0)
    x, y, z = mesh.vertices.T
    r = 10.0 * (1.0 + 0.15 * np.sin(3.0 * x + 1.0) * np.cos(2.0 * y - 0.5) + 0.1 * np.sin(4.0 * z + x))
    mesh.vertices = mesh.vertices * np.column_stack([r, 1.4 * r, 0.6 * r])
    return mesh


def facts(mesh, z):
    flat = mesh.section(plane_origin=[0, 0, z], plane_normal=[0, 0, 1])
    planar, _ = flat.to_2D()
    above = mesh.slice_plane([0, 0, z], [0, 0, 1], cap=True)
    return {
        "faces": len(mesh.faces),
        "volume_mm3": float(mesh.volume),
        "area_mm2": float(mesh.area),
        "size_mm": mesh.extents.tolist(),
        "watertight": bool(mesh.is_watertight),
        "section_z_mm": z,
        "section_area_mm2": float(planar.area),
        "volume_above_mm3": float(above.volume),
    }


def values():
    solids = {
        "lumpy_4": facts(lumpy(4), 1.5),
        "lumpy_5": facts(lumpy(5), -2.0),
        "icosphere_5": facts(trimesh.creation.icosphere(subdivisions=5, radius=1.0), 0.5),
        "torus_3_1": facts(
            trimesh.creation.torus(3.0, 1.0, major_sections=256, minor_sections=256), 0.3
        ),
        "box_2_3_5": facts(trimesh.creation.box(extents=[2.0, 3.0, 5.0]), 0.7),
    }
    versions = {"trimesh": trimesh.__version__, "numpy": np.__version__}
    return {"versions": versions, "solids": solids}
