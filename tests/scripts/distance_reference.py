"""Writes tests/data/curve_distances.json: pairs of curves and their distances.

Hausdorff by SciPy (densely sampled), discrete Fréchet of dense samples by
similaritymeasures and, independently, by a dynamic programme here; mean and
95th percentile by brute force over dense samples. All in mm.
"""
import json

import numpy as np
import similaritymeasures
from scipy.spatial.distance import cdist, directed_hausdorff


def arc(angle_deg, radius, straight, lean=0.0, n=60):
    """A straight piece, then an arc; y down, turned about the start."""
    a = np.radians(angle_deg)
    t = np.linspace(0, 1, n)
    line = np.column_stack([np.zeros(n), t * straight])
    bend = np.column_stack([radius * (1 - np.cos(a * t)), straight + radius * np.sin(a * t)])
    path = np.vstack([line, bend[1:]])
    c, s = np.cos(lean), np.sin(lean)
    return path @ np.array([[c, s], [-s, c]])


def dense(path, count):
    s = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    u = np.linspace(0, s[-1], count)
    return np.column_stack([np.interp(u, s, path[:, 0]), np.interp(u, s, path[:, 1])])


def midpoints(path, count):
    s = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    u = (np.arange(count) + 0.5) * s[-1] / count
    return np.column_stack([np.interp(u, s, path[:, 0]), np.interp(u, s, path[:, 1])])


def to_polyline(points, path):
    """Exact distances of points to a polyline."""
    best = np.full(len(points), np.inf)
    for a, b in zip(path[:-1], path[1:]):
        chord = b - a
        t = np.clip((points - a) @ chord / (chord @ chord), 0, 1)
        best = np.minimum(best, np.hypot(*(points - a - t[:, None] * chord).T))
    return best


def discrete_frechet(p, q):
    d = cdist(p, q)
    c = np.empty_like(d)
    c[0] = np.maximum.accumulate(d[0])
    c[:, 0] = np.maximum.accumulate(d[:, 0])
    for i in range(1, len(p)):
        row, above = c[i], c[i - 1]
        for j in range(1, len(q)):
            row[j] = max(min(above[j], above[j - 1], row[j - 1]), d[i, j])
    return c[-1, -1]


rng = np.random.default_rng(20)
reference = arc(35, 8, 10)
pairs = {
    "itself": (reference, reference),
    "shifted": (reference, reference + [0.3, 0.0]),
    "short": (reference, arc(30, 8, 10)),
    "leaning": (reference, arc(28, 9, 10.5, lean=0.04)),
    "noisy": (reference, reference[::7] + rng.normal(0, 0.15, reference[::7].shape)),
    "doubles back": (
        np.array([[0.0, 0.0], [10.0, 0.0]]),
        np.array([[0.0, 0.1], [7.0, 0.1], [3.0, 0.4], [10.0, 0.2]]),
    ),
    "zigzag": (
        np.array([[0.0, 0.0], [2.0, 1.0], [4.0, -1.0], [6.0, 1.0], [8.0, -1.0], [10.0, 0.0]]),
        np.array([[0.2, 0.1], [5.0, 0.3], [4.0, 0.2], [9.7, -0.2]]),
    ),
    "crossing": (np.array([[0.0, 0.0], [1.0, 12.0]]), np.array([[0.5, 0.0], [0.0, 6.0], [1.5, 12.5]])),
}
out = []
for name, (a, b) in pairs.items():
    fa, fb = dense(a, 20001), dense(b, 20001)
    ca, cb = dense(a, 1201), dense(b, 1201)
    to_ref = to_polyline(midpoints(b, 20000), a)
    from_ref = to_polyline(midpoints(a, 20000), b)
    frechet = discrete_frechet(ca, cb)
    package = similaritymeasures.frechet_dist(dense(a, 301), dense(b, 301))
    out.append(
        {
            "name": name,
            "reference": a.round(12).tolist(),
            "trace": b.round(12).tolist(),
            "mean_to_reference_mm": float(to_ref.mean()),
            "mean_from_reference_mm": float(from_ref.mean()),
            "percentile_95_mm": float(max(np.quantile(to_ref, 0.95), np.quantile(from_ref, 0.95))),
            "hausdorff_mm": max(directed_hausdorff(fa, fb)[0], directed_hausdorff(fb, fa)[0]),
            "discrete_frechet_1201_mm": float(frechet),
            "discrete_frechet_301_mm": float(package),
            "step_1201_mm": float(max(np.hypot(*np.diff(ca, axis=0).T).max(), np.hypot(*np.diff(cb, axis=0).T).max())),
        }
    )
    print(name, {k: v for k, v in out[-1].items() if k.endswith("mm")})
with open("tests/data/curve_distances.json", "w") as f:
    json.dump(out, f, indent=None, separators=(",", ":"))
    f.write("\n")
