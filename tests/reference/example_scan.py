"""Writes examples/scan-rough.ply: an invented stone, made of sines.

Python 3 alone. The same bytes come out each time.
"""
import math
import pathlib
import struct


def icosphere(level):
    g = (1 + 5**0.5) / 2
    points = [(-1, g, 0), (1, g, 0), (-1, -g, 0), (1, -g, 0), (0, -1, g), (0, 1, g),
              (0, -1, -g), (0, 1, -g), (g, 0, -1), (g, 0, 1), (-g, 0, -1), (-g, 0, 1)]
    faces = [(0, 11, 5), (0, 5, 1), (0, 1, 7), (0, 7, 10), (0, 10, 11), (1, 5, 9),
             (5, 11, 4), (11, 10, 2), (10, 7, 6), (7, 1, 8), (3, 9, 4), (3, 4, 2),
             (3, 2, 6), (3, 6, 8), (3, 8, 9), (4, 9, 5), (2, 4, 11), (6, 2, 10),
             (8, 6, 7), (9, 8, 1)]
    unit = lambda p: tuple(c / math.sqrt(sum(d * d for d in p)) for c in p)
    points = [unit(p) for p in points]
    for _ in range(level):
        middle, finer = {}, []

        def half(a, b):
            key = (min(a, b), max(a, b))
            if key not in middle:
                middle[key] = len(points)
                points.append(unit(tuple((p + q) / 2 for p, q in zip(points[a], points[b]))))
            return middle[key]

        for a, b, c in faces:
            ab, bc, ca = half(a, b), half(b, c), half(c, a)
            finer += [(a, ab, ca), (b, bc, ab), (c, ca, bc), (ab, bc, ca)]
        faces = finer
    return points, faces


def main():
    points, faces = icosphere(4)
    rows = []
    for x, y, z in points:
        bump = 1 + 0.05 * math.sin(3 * x + 1) * math.cos(4 * y) + 0.04 * math.sin(5 * z + 2 * x)
        flat = lambda v: math.copysign(abs(v) ** 0.8, v)  # sides flatter than an ellipsoid's
        rows.append((19.0 * bump * flat(x) + 20.0, 12.5 * bump * flat(y) + 14.0,
                     7.5 * bump * flat(z) + 8.0))
    header = ("ply\nformat binary_little_endian 1.0\n"
              "comment invented example, no such stone exists\n"
              f"element vertex {len(rows)}\nproperty float x\nproperty float y\nproperty float z\n"
              f"element face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n")
    body = b"".join(struct.pack("<3f", *row) for row in rows)
    body += b"".join(struct.pack("<B3i", 3, *face) for face in faces)
    root = pathlib.Path(__file__).resolve().parents[2]
    (root / "examples" / "scan-rough.ply").write_bytes(header.encode() + body)


if __name__ == "__main__":
    main()
