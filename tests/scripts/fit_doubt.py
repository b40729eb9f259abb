#!/usr/bin/env python3
"""Fits the confidences of the film reader (`src/assist/doubt.rs`) and what is
usual of a film's clearest root end (`src/assist/reader/likeness.rs`) to what the
example `reader_doubt` prints:

    cargo run --release --example reader_doubt -- plain --films 300 > plain.jsonl
    cargo run --release --example reader_doubt -- fitting --films 600 > fitting.jsonl
    cargo run --release --example reader_doubt -- check --films 400 > check.jsonl
    python3 tests/scripts/fit_doubt.py plain.jsonl fitting.jsonl check.jsonl

Prints coefficients (a constant first, in the order of `features`), and how they
do on the films of the third file, which no fit sees.
"""

import json
import math
import sys

import numpy as np
from scipy.optimize import minimize

RIGHT_MM = {"apex": 0.5, "tip": 0.15, "stop": 0.2}


def load(path):
    with open(path) as lines:
        return [json.loads(line) for line in lines]


def logit(p, least=1e-3):
    p = min(max(p, least), 1 - least)
    return math.log(p / (1 - p))


def features(row):
    if row["sign"] == "apex":
        return [1.0, logit(row["peak"]), min(row["rival"], 1.5)]
    value, course = logit(row["value"]), logit(row["course"], 0.02)
    if row["sign"] == "tip":
        own = [1.0, logit(row["along"], 0.005), value, min(row["rival"], 1.5)]
        return own + [course, row["likeness"], row["press_mm"]]
    return [1.0, logit(row["along"]), value, min(row["rival"], 3.0), course]


def is_right(row):
    return row["off_mm"] <= RIGHT_MM[row["sign"]] and row.get("visible", 1) > 0


def fit(x, y):
    def loss(w):
        return np.logaddexp(0, -(2 * y - 1) * (x @ w)).sum() + 0.01 * (w @ w)

    return minimize(loss, np.zeros(x.shape[1])).x


def logistic(x):
    return 1 / (1 + np.exp(-x))


def surest(rows, p):
    """Of each press the place that is named; root ends all."""
    best = {}
    for k, row in enumerate(rows):
        place = (row["film"], row.get("press"), k if row["sign"] == "apex" else None)
        if place not in best or p[k] > p[best[place]]:
            best[place] = k
    return sorted(best.values())


def table(p, y, gross):
    for tenth in range(10):
        inside = (p >= tenth / 10) & (p < tenth / 10 + 0.1 + 1e-9 * (tenth == 9))
        if inside.any():
            print(
                f"    {tenth / 10:.1f}: stated {p[inside].mean():.3f} right {y[inside].mean():.3f}"
                f" far off {gross[inside].mean():.3f} of {inside.sum()}"
            )


plain, fitting, check = (load(path) for path in sys.argv[1:4])
clearest = {row["film"]: row["clearest_cells"] for row in plain if row["sign"] == "apex"}
median, low = np.quantile(list(clearest.values()), (0.5, 0.05))
print(f"clearest root end: median {median:.2f}, deviation {(median - low) / 1.645:.2f} cells, {len(clearest)} films")
for sign in RIGHT_MM:
    rows = [row for row in plain + fitting if row["sign"] == sign and (sign != "stop" or row["value"] > 0)]
    w = fit(np.array([features(row) for row in rows]), np.array([is_right(row) for row in rows]))
    print(sign, "fit", w.round(3), f"({len(rows)} places)")
    for name, of in (("plain", plain), ("check", check)):
        rows = [row for row in of if row["sign"] == sign and (sign != "stop" or row["value"] > 0)]
        likeness = np.array([row["likeness"] for row in rows])
        x = np.array([features(row) for row in rows])
        p = logistic(x @ w) * (likeness if sign == "apex" else 1)
        named = surest(rows, p)
        rows, p = [rows[k] for k in named], p[named]
        print(f"  {name}: {len(rows)} places")
        table(p, np.array([is_right(row) for row in rows]), np.array([row["off_mm"] > 1 for row in rows]))
