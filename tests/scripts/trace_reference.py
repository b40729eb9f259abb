"""Writes tests/data/trace_reference.json: a small raster with dark lines, its
line response by scikit-image (`sato`) and the costs of the cheapest paths
between pairs of its cells (`route_through_array`).
"""
import json
import pathlib

import numpy as np
from skimage.filters import sato
from skimage.graph import route_through_array

HEIGHT, WIDTH = 72, 64
SIGMAS_PX = [1.5, 2.25, 3.4]
ENDS = [([8, 4], [60, 68]), ([40, 3], [12, 70]), ([2, 2], [61, 5]), ([32, 36], [33, 36])]

rng = np.random.default_rng(11)
y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(float)
raster = 0.5 + 0.1 * np.sin(x / 21) * np.cos(y / 17)
for k, width in enumerate([2.5, 4.0, 6.5]):
    centre = 14 + 17 * k + 4 * np.sin(y / 14 + k)
    raster -= 0.15 * np.exp(-0.5 * ((x - centre) / (width / 2.35)) ** 2)
raster = np.round(raster + rng.normal(0, 0.004, raster.shape), 5)
response = sato(raster, sigmas=SIGMAS_PX, black_ridges=True, mode="reflect")
costs = np.round(1 / (0.05 + response / response.max()), 4)
paths = []
for (x0, y0), (x1, y1) in ENDS:
    # Weights per step: the mean of both cells times the step's length.
    _, cost = route_through_array(costs, (y0, x0), (y1, x1), fully_connected=True, geometric=True)
    paths.append({"from": [x0, y0], "to": [x1, y1], "cost": cost})
out = {
    "width": WIDTH,
    "height": HEIGHT,
    "sigmas_px": SIGMAS_PX,
    "raster": raster.ravel().tolist(),
    "response": np.round(response, 7).ravel().tolist(),
    "costs": costs.ravel().tolist(),
    "paths": paths,
}
target = pathlib.Path(__file__).parents[1] / "data/trace_reference.json"
target.write_text(json.dumps(out, separators=(",", ":")) + "\n")
