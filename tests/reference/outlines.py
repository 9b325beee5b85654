"""Outlines by shapely, planes and domes in a layer by scipy's linear programming.

The shapes are given by formulas, so that the test builds the same ones.
"""

import numpy as np
import scipy
import shapely
from scipy.optimize import linprog

# Shapely's offsets replace arcs by chords, its largest circle stops at a given
# precision.
TOLERANCE = 1e-5


def wavy(k, n=240):
    """A star-shaped outline without symmetry."""
    t = 2.0 * np.pi * np.arange(n) / n
    r = 8.0 + (1.0 + 0.2 * k) * np.cos(2.0 * t + k) + 0.8 * np.sin(3.0 * t - 0.5 * k) + 0.4 * np.cos(5.0 * t)
    return np.column_stack([r * np.cos(t) + 0.3 * k, r * np.sin(t) - 0.7 * k])


def outline_facts(k):
    shape = shapely.Polygon(wavy(k))
    circle = shapely.maximum_inscribed_circle(shape, tolerance=1e-6)
    return {
        "k": k,
        "area": shape.area,
        "perimeter": shape.length,
        "centroid": [shape.centroid.x, shape.centroid.y],
        "hull_area": shape.convex_hull.area,
        "largest_circle_radius": circle.length,
        "grown_by_1": shape.buffer(1.0, quad_segs=64).area,
        "shrunk_by_1": shape.buffer(-1.0, quad_segs=64).area,
        "clearance_at_1_2": shape.exterior.distance(shapely.Point(1.0, 2.0)),
    }


def heights(n=400):
    """Heights without pattern, from sines of large multiples."""
    i = np.arange(n)
    x = 10.0 * np.sin(12.9898 * i)
    y = 7.0 * np.sin(78.233 * i + 1.0)
    z = 0.3 * x - 0.1 * y + 0.02 * x * y + 0.5 * np.sin(37.719 * i)
    return x, y, z


def plane_facts():
    x, y, z = heights()
    one = np.ones_like(x)
    rows = np.vstack([np.column_stack([one, x, y, -one]), np.column_stack([-one, -x, -y, -one])])
    got = linprog([0, 0, 0, 1], A_ub=rows, b_ub=np.concatenate([z, -z]), bounds=[(None, None)] * 3 + [(0, None)])
    return {"largest_error": got.x[3]}


def dome_facts(most_slope):
    """The dome farthest from floor and ceiling of a wavy layer, on an ellipse."""
    g = np.linspace(-5.0, 5.0, 41)
    x, y = (v.ravel() for v in np.meshgrid(g, g))
    q = (x / 5.0) ** 2 + (y / 3.5) ** 2
    x, y, q = x[q <= 1.0], y[q <= 1.0], q[q <= 1.0]
    ceiling = 3.0 - 0.04 * x**2 - 0.03 * y**2 + 0.15 * x + 0.2 * np.sin(1.3 * x + 0.4 * y)
    floor = ceiling - 1.5 - 0.3 * np.cos(0.9 * y)
    one, rise = np.ones_like(x), 1.0 - q
    rows = np.vstack([
        np.column_stack([one, x, y, rise, one]),
        np.column_stack([-one, -x, -y, -rise, one]),
    ])
    slope = (-most_slope, most_slope)
    got = linprog(
        [0, 0, 0, 0, -1],
        A_ub=rows,
        b_ub=np.concatenate([ceiling, -floor]),
        bounds=[(None, None), slope, slope, (0.0, 3.0), (None, None)],
    )
    return {"most_slope": most_slope, "margin": got.x[4]}


def values():
    return {
        "versions": {
            "numpy": np.__version__,
            "scipy": scipy.__version__,
            "shapely": shapely.__version__,
        },
        "outlines": [outline_facts(k) for k in range(4)],
        "plane": plane_facts(),
        "domes": [dome_facts(s) for s in (0.0, 0.1, 1.0)],
    }
