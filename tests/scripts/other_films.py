#!/usr/bin/env python3
"""Films of another make than the phantom's, with their truth: a second renderer
for trying the assistant on looks and shapes that it was never made on.

    python3 tests/scripts/other_films.py 500 740 FOLDER [PROCESSES]
    python3 tests/scripts/other_films_quality.py PROGRAM FOLDER 500 740

It shares nothing with `src/phantom`: flat pictures drawn from distances to
lines, not rays through solids. Odd seeds are cluttered (clamp across crown and
file, restorations, cut corners, scratches, a second file). Truth is in px of the
finished picture. Needs NumPy, SciPy and Pillow.
"""

import json
import os
import sys
from functools import partial
from multiprocessing import Pool

import numpy as np
from PIL import Image
from scipy.interpolate import CubicSpline
from scipy.ndimage import distance_transform_edt, gaussian_filter, zoom

# Attenuation of steel over that of dentine, per mm.
STEEL = 3.2


def arc_lengths(line):
    return np.r_[0, np.cumsum(np.hypot(*np.diff(line, axis=0).T))]


def spline(points, count=500):
    points = np.array(points, float)
    at = arc_lengths(points)
    return CubicSpline(at, points)(np.linspace(0, at[-1], count))


def distances(line, height, width):
    """Distance of every px to a line, and the way along it there."""
    at = arc_lengths(line)
    t = np.linspace(0, at[-1], int(at[-1] * 4) + 2)
    x, y = np.interp(t, at, line[:, 0]), np.interp(t, at, line[:, 1])
    inside = (x >= 0) & (x < width) & (y >= 0) & (y < height)
    free = np.ones((height, width), bool)
    way = np.zeros((height, width))
    free[y[inside].astype(int), x[inside].astype(int)] = False
    way[y[inside].astype(int), x[inside].astype(int)] = t[inside]
    _, (row, column) = distance_transform_edt(free, return_indices=True)
    s = way[row, column]
    # To a fraction of a px: along the tangent, twice.
    rows, columns = np.mgrid[:height, :width] + 0.5
    tx, ty = np.gradient(x, t), np.gradient(y, t)
    for _ in range(2):
        ahead = (columns - np.interp(s, t, x)) * np.interp(s, t, tx)
        ahead += (rows - np.interp(s, t, y)) * np.interp(s, t, ty)
        s = np.clip(s + np.clip(ahead, -3, 3), 0, at[-1])
    return np.hypot(columns - np.interp(s, t, x), rows - np.interp(s, t, y)), s


def step(x):
    """A soft step from 1 (x far below 0) to 0."""
    return 1 / (1 + np.exp(np.clip(x, -50, 50)))


def smooth_noise(r, height, width, sigma):
    coarse = max(1, int(sigma / 3))
    field = gaussian_filter(r.standard_normal((height // coarse + 2, width // coarse + 2)), sigma / coarse)
    if coarse > 1:
        field = zoom(field, coarse, order=1)
    return (field / field.std())[:height, :width]


def film(seed, folder):
    r = np.random.default_rng(seed)
    cluttered = seed % 2 == 1
    width, height = (820, 1090) if r.random() < 0.5 else (1090, 1440)
    pitch = 31.0 / width
    px = lambda mm: mm / pitch
    rows, columns = np.mgrid[:height, :width] + 0.5
    centre = width * r.uniform(0.4, 0.6)
    crown = height * r.uniform(0.18, 0.27)
    neck = height * r.uniform(0.3, 0.38)
    apex = height * r.uniform(0.75, 0.86)
    two_roots = r.random() < 0.45

    def root(end_x, end_y, start_x):
        neck_x = start_x * 0.7 + 0.3 * (centre + (end_x - centre) * 0.1)
        middle = (centre + (end_x - centre) * 0.55, neck + (apex - neck) * 0.55)
        return spline([(start_x, crown), (neck_x, neck), middle, (end_x, end_y)])

    if two_roots:
        aside = px(r.uniform(1.6, 2.6))
        axes = [
            root(centre - aside + px(r.uniform(-1, 1)), apex, centre - px(0.5)),
            root(centre + aside + px(r.uniform(-1, 1)), apex - px(r.uniform(-1, 1.5)), centre + px(0.5)),
        ]
    else:
        axes = [root(centre + r.uniform(-1, 1) * px(3.0), apex, centre + px(r.uniform(-0.3, 0.3)))]

    # Tooth, canal, periodontal space and lamina dura.
    zeros = lambda: np.zeros((height, width))
    tooth, canal, rounded, space, lamina, enamel = (zeros() for _ in range(6))
    neck_share = (neck - crown) / (apex - crown)
    crown_mm, root_mm = r.uniform(3.2, 4.2), 2.1 if two_roots else 2.6
    # How a root narrows: n the share of its length, half width ∝ (1 − n^p)^q.
    p, q = r.uniform(1.5, 2.6), r.uniform(0.48, 0.65)
    for axis in axes:
        d, s = distances(axis, height, width)
        total = arc_lengths(axis)[-1]
        share = s / total
        below = share > neck_share
        narrowing = np.clip((share - neck_share) / (1 - neck_share), 0, None) ** p
        half = np.where(
            below, px(root_mm) * np.clip(1 - narrowing, 0, 1) ** q, px(crown_mm) * (1 - 0.25 * (share / neck_share))
        )
        half = np.clip(half, px(0.05), None)
        own = step((d - half) / 1.5)
        space = np.maximum(space, np.exp(-(((d - half - px(0.15)) / px(0.12)) ** 2)) * below)
        lamina = np.maximum(lamina, np.exp(-(((d - half - px(0.4)) / px(0.15)) ** 2)) * below)
        enamel = np.maximum(enamel, (share < neck_share * 0.8) * own * np.clip(1 - (half - d) / px(1.2), 0, 1))
        bore = px(r.uniform(0.12, 0.3))
        canal = np.maximum(canal, np.exp(-((d / bore) ** 2) / 2) * (share > neck_share * 0.5) * (share < 0.985))
        rounded = np.maximum(rounded, own * np.sqrt(np.clip(1 - (d / half) ** 2, 0, 1)))
        tooth = np.maximum(tooth, own)
    outside = np.clip(1 - tooth, 0, 1)
    strengths, scales = r.uniform(0.02, 0.06, 3), px(np.array([0.12, 0.3, 0.9])) * r.uniform(0.7, 1.4)
    trabeculae = sum(a * smooth_noise(r, height, width, sigma) for a, sigma in zip(strengths, scales))
    bone = step(-(rows - neck - px(r.uniform(1, 2.5)) - 8 * np.sin(columns / width * 6)) / 6)
    bone = bone * (0.9 + 0.075 * smooth_noise(r, height, width, px(4)))
    mass = 0.35 * bone * (1 + trabeculae * 3) + (0.08 * lamina - 0.12 * space) * bone * outside
    mass += tooth * 0.75 + 0.15 * rounded + 0.5 * enamel - 0.18 * canal * tooth

    # Files and their stops.
    stop_kind = r.choice(["seen", "off", "clamp"], p=[0.45, 0.2, 0.35]) if cluttered else r.choice(["seen", "off"])
    files = []
    for k in range(2 if cluttered and two_roots and r.random() < 0.4 else 1):
        axis = axes[k]
        at = arc_lengths(axis)
        size = int(r.choice([8, 10, 15, 20, 25]))
        tip_at = at[-1] - px(max(r.uniform(-0.3, 2.5), 0.3))
        along = lambda s: np.array([np.interp(s, at, axis[:, j]) for j in (0, 1)])
        body = np.array([along(s) for s in np.linspace(0, tip_at, 300)])
        ahead = axis[1] - axis[0]
        ahead = ahead / np.hypot(*ahead)
        line = np.vstack([np.linspace(axis[0] - ahead * px(30), body[0], 300), body[1:]])
        d, s = distances(line, height, width)
        from_tip = arc_lengths(line)[-1] - s
        end = body[-1] - body[-4]
        end = end / np.hypot(*end)
        past = (columns - body[-1][0]) * end[0] + (rows - body[-1][1]) * end[1]
        face = np.where(from_tip < px(0.6), np.clip(0.5 - past, 0, 1), 1)
        radius = px((size / 100 + 0.02 * np.minimum(np.clip(from_tip, 0, None) * pitch, 16)) / 2)
        thick = 2 * np.sqrt(np.clip(radius**2 - d**2, 0.05, None)) * pitch
        mass += np.clip(radius - d + 0.5, 0, 1) * thick * STEEL * face
        file = {"tip": body[-1], "near": along(tip_at * 0.75), "size": size, "line": body[::6], "stop": None}
        if stop_kind == "seen":
            stop = axis[0] - ahead * (px(crown_mm) + px(r.uniform(0.0, 0.8) + 0.2 * k))
            if stop[1] - px(2.2) > 4:
                thickness, radius, tilt = px(r.uniform(0.9, 1.6)), px(r.uniform(0.9, 1.5)), r.uniform(-0.15, 0.15)
                up = -np.array(
                    [
                        np.cos(tilt) * ahead[0] - np.sin(tilt) * ahead[1],
                        np.sin(tilt) * ahead[0] + np.cos(tilt) * ahead[1],
                    ]
                )
                v = (columns - stop[0]) * up[0] + (rows - stop[1]) * up[1]
                w = (rows - stop[1]) * up[0] - (columns - stop[0]) * up[1]
                disc = step(np.abs(w) - radius) * step(np.abs(v - thickness / 2) - thickness / 2)
                mass += disc * r.uniform(0.2, 0.6) * np.sqrt(np.clip(1 - (w / radius) ** 2, 0.1, 1))
                file["stop"] = stop
            else:
                stop_kind = "off"
        files.append(file)

    # Clutter.
    hidden = np.zeros((height, width), bool)
    if cluttered:
        if stop_kind == "clamp" or r.random() < 0.4:
            for k in range(2):
                y = crown + px(r.uniform(-3, 4) if stop_kind == "clamp" else r.uniform(1.5, 4))
                swing, wave, thick = r.uniform(0.2, 1), px(r.uniform(3, 6)), px(r.uniform(0.5, 1.0))
                bar = np.abs(rows - y - px(1.5) * np.sin((columns - centre) / wave) * swing) < thick
                if k == 1:
                    bar &= np.abs(columns - centre - px(5)) < px(3)
                hidden |= bar
            mass = np.where(hidden, mass + 1.6, mass)
        if r.random() < 0.5:
            radius, y = px(r.uniform(1.2, 2.4)), crown + px(r.uniform(1, 3))
            mass += 1.4 * (np.hypot(columns - centre - px(r.uniform(-3, 3)), rows - y) < radius) * tooth
    beside = int(px(r.choice([-9, 9]) + r.uniform(-1, 1)))
    mass += 0.6 * np.roll(tooth, beside, 1) * outside

    # Exposure, blur, noise, curve.
    rays = gaussian_filter(np.exp(-mass * r.uniform(0.9, 1.3)), r.uniform(0.7, 2.2))
    grey = (1 - rays / rays.max()) ** r.uniform(0.6, 1.1)
    grey = grey / np.quantile(grey, 0.999)
    noise = gaussian_filter(r.standard_normal((height, width)), r.uniform(0.4, 1.2))
    grey = grey + noise / noise.std() * r.uniform(0.006, 0.02)
    if r.random() < 0.3:
        grey = grey + 0.5 * (grey - gaussian_filter(grey, 2))
    grey = step(-6 * (grey - 0.5) * r.uniform(0.7, 1.3))
    if cluttered:
        for _ in range(r.integers(0, 4)):
            x = r.integers(0, width)
            grey[:, x : x + 1] += 0.3 * (r.random() < 0.5)
        if r.random() < 0.7:
            corner, size = r.integers(0, 4), px(r.uniform(1, 5))
            across = columns if corner % 2 == 0 else width - columns
            down = rows if corner < 2 else height - rows
            cut = across + down < size
            hidden |= cut
            grey = np.where(cut, 0, grey)

    # Any quarter turn.
    turns = int(r.integers(0, 4))
    picture = np.rot90((np.clip(grey, 0, 1) * 255).astype(np.uint8), turns).copy()

    def place(p):
        (x, y), h, w = p, height, width
        for _ in range(turns):
            x, y = y, w - x
            h, w = w, h
        return [float(x), float(y)]

    def is_hidden(p):
        return bool(hidden[min(max(int(p[1]), 0), height - 1), min(max(int(p[0]), 0), width - 1)])

    truth = {
        "mm_per_px": pitch,
        "cluttered": cluttered,
        "files": [
            {
                "tip": place(f["tip"]),
                "near": place(f["near"]),
                "line": [place(p) for p in f["line"]],
                "size": f["size"],
                "stop": None if f["stop"] is None else place(f["stop"]),
                "stop_hidden": f["stop"] is not None and is_hidden(f["stop"]),
            }
            for f in files
        ],
        "ends_beside": [place([(axis[-1][0] + beside) % width, axis[-1][1]]) for axis in axes],
        "roots": [
            {
                "apex": place(axis[-1]),
                "canal": [place(p) for p in axis[int(500 * neck_share * 0.55) : int(500 * 0.985) : 4]],
            }
            for axis in axes
        ],
    }
    Image.fromarray(picture).save(f"{folder}/{seed}.png")
    with open(f"{folder}/{seed}.json", "w") as out:
        json.dump(truth, out)


if __name__ == "__main__":
    first, last, target = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    os.makedirs(target, exist_ok=True)
    with Pool(int(sys.argv[4]) if len(sys.argv) > 4 else None) as pool:
        pool.map(partial(film, folder=target), range(first, last), chunksize=1)
