"""Chequer corners, a homography and a threshold by OpenCV.

The pictures are given by formulas, so that the test draws the same ones.
"""

import cv2
import numpy as np

# Places in pixels: OpenCV stops refining at a thousandth of a pixel.
TOLERANCE = 1e-4

SQUARE = 10.0
COLUMNS, ROWS = 10, 7
WIDTH, HEIGHT = 640, 480
# From the board in mm to the picture in pixels, row by row.
VIEWS = [
    [4.6, 0.25, 70.0, -0.2, 4.7, 60.0, 0.0, 0.0, 1.0],
    [3.9, -1.1, 150.0, 1.0, 4.2, 40.0, 0.0006, 0.0011, 1.0],
    [4.9, 0.9, 60.0, -0.4, 4.1, 110.0, 0.0012, -0.0004, 1.0],
]


def picture(view):
    """A board of soft-edged squares on white, 8-bit grey."""
    back = np.linalg.inv(np.array(view).reshape(3, 3))
    x, y = np.meshgrid(np.arange(WIDTH, dtype=float), np.arange(HEIGHT, dtype=float))
    w = back[2, 0] * x + back[2, 1] * y + back[2, 2]
    u = (back[0, 0] * x + back[0, 1] * y + back[0, 2]) / w / SQUARE
    v = (back[1, 0] * x + back[1, 1] * y + back[1, 2]) / w / SQUARE
    value = 128.0 - 90.0 * np.tanh(9.0 * np.sin(np.pi * u)) * np.tanh(9.0 * np.sin(np.pi * v))
    on_board = (u >= 0) & (u <= COLUMNS) & (v >= 0) & (v <= ROWS)
    return np.where(on_board, np.floor(value + 0.5), 218.0).astype(np.uint8)


def view_facts(view):
    grey = picture(view)
    found, corners = cv2.findChessboardCorners(grey, (COLUMNS - 1, ROWS - 1))
    assert found
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 100, 1e-4)
    corners = cv2.cornerSubPix(grey, corners, (7, 7), (-1, -1), stop).reshape(-1, 2).astype(float)
    # OpenCV may count from either end: told by place, not by order.
    true = [cv2.perspectiveTransform(np.array([[[SQUARE * c, SQUARE * r]]]), np.array(view).reshape(3, 3))[0, 0] for r in range(1, ROWS) for c in range(1, COLUMNS)]
    nearest = [corners[np.argmin(np.hypot(*(corners - t).T))] for t in true]
    board = np.array([[SQUARE * c, SQUARE * r] for r in range(1, ROWS) for c in range(1, COLUMNS)])
    map_, _ = cv2.findHomography(board, np.array(nearest), 0)
    probe = cv2.perspectiveTransform(np.array([[[5.0, 5.0], [50.0, 35.0], [98.0, 66.0]]]), map_)[0]
    return {
        "view": view,
        "corners": [[round(v, 4) for v in p] for p in nearest],
        "probe": probe.tolist(),
    }


def two_tones():
    """Values by a formula: two crowds of grey levels and a few in between."""
    k = np.arange(4096)
    part = k % 16
    return np.where(part <= 8, 20 + k % 7 * 3, np.where(part <= 14, 180 + k % 5 * 15, k // 16)).astype(np.uint8)


def values():
    threshold, _ = cv2.threshold(two_tones().reshape(64, 64), 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)
    return {
        "versions": {"numpy": np.__version__, "opencv": cv2.__version__},
        "square": SQUARE,
        "otsu_of_two_tones": threshold,
        "views": [view_facts(view) for view in VIEWS],
    }
