"""The assistant's ridge response and path beside scikit-image and OpenCV, in
one run on the same film, scales and number of threads.

    cargo build --release --no-default-features --example assist_speed
    python3 tests/scripts/bench_trace.py [FILM.png]

Without a film a noisy one with curved dark canals is made (1368 x 1840).
Needs numpy, scikit-image and opencv-python-headless.
"""

import json
import pathlib
import subprocess
import sys
import tempfile
import time

import cv2
import numpy as np
from skimage.filters import sato
from skimage.graph import route_through_array

THREADS = 2
SIGMAS_PX = [3.0, 4.5, 6.8, 10.2, 15.2, 24.0]
PROGRAM = pathlib.Path(__file__).parents[2] / "target/release/examples/assist_speed"


def made_film(height=1840, width=1368):
    rng = np.random.default_rng(7)
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    film = 0.5 + 0.1 * np.sin(x / 190) * np.cos(y / 260)
    for k, canal_width in enumerate([6, 10, 18, 30, 48]):
        centre = width * (k + 0.7) / 5.4 + 45 * np.sin(y / 320 + k)
        film -= 0.12 * np.exp(-0.5 * ((x - centre) / (canal_width / 2.35)) ** 2)
    film += cv2.GaussianBlur(rng.normal(0, 0.3, film.shape).astype(np.float32), (0, 0), 6)
    film += rng.normal(0, 0.01, film.shape).astype(np.float32)
    return np.clip(film, 0, 1).astype(np.float32)


def best(repeats, run):
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        result = run()
        times.append(time.perf_counter() - start)
    return min(times) * 1e3, result


def opencv_filters(film):
    """Gaussian and the three second derivatives at every scale, nothing more."""
    for sigma in SIGMAS_PX:
        smooth = cv2.GaussianBlur(film, (0, 0), sigma)
        for dx, dy in [(2, 0), (0, 2), (1, 1)]:
            cv2.Sobel(smooth, cv2.CV_32F, dx, dy, ksize=3)


def main():
    cv2.setNumThreads(THREADS)
    if len(sys.argv) > 1:
        film = cv2.imread(sys.argv[1], cv2.IMREAD_UNCHANGED)
        film = film.astype(np.float32) / np.iinfo(film.dtype).max
        film = film if film.ndim == 2 else film[..., 0].copy()
    else:
        film = made_film()
    height, width = film.shape
    print(f"film {width} x {height}, scales {SIGMAS_PX} px, {THREADS} threads")

    opencv_ms, _ = best(7, lambda: opencv_filters(film))
    sato_ms, expected = best(1, lambda: sato(film, sigmas=SIGMAS_PX, black_ridges=True))
    costs = (1.0 / (0.02 + expected / np.quantile(expected, 0.99))).astype(np.float32)
    costs /= costs.max()
    start, end = (width // 8, height // 20), (width * 7 // 8, height * 19 // 20)
    route_ms, (_, route_cost) = best(
        1, lambda: route_through_array(costs, start[::-1], end[::-1], fully_connected=True, geometric=True)
    )

    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        film.tofile(folder / "film.raw")
        costs.tofile(folder / "costs.raw")
        line = subprocess.check_output(
            [PROGRAM, folder / "film.raw", "--width", str(width), "--threads", str(THREADS),
             "--sigmas-px", ",".join(map(str, SIGMAS_PX)), "--response", folder / "response.raw",
             "--costs", folder / "costs.raw", "--ends", ",".join(map(str, start + end))],
            text=True,
        )
        response = np.fromfile(folder / "response.raw", np.float32).reshape(film.shape)
    ours = json.loads(line)
    margin = int(4 * max(SIGMAS_PX))
    inside = (slice(margin, -margin),) * 2
    correlation = np.corrcoef(response[inside].ravel(), expected[inside].ravel())[0, 1]
    whole = np.corrcoef(response.ravel(), expected.ravel())[0, 1]

    print(f"ridge response: ours {ours['ridge_ms']:.1f} ms (with eigenvalues and maximum)")
    print(f"  OpenCV filters alone {opencv_ms:.1f} ms: ratio {opencv_ms / ours['ridge_ms']:.2f}")
    print(f"  scikit-image sato {sato_ms:.0f} ms: ratio {sato_ms / ours['ridge_ms']:.0f}")
    print(f"  correlation with sato {correlation:.5f} inside, {whole:.5f} whole film")
    print(f"path: ours {ours['path_ms']:.1f} ms, route_through_array {route_ms:.0f} ms: ratio {route_ms / ours['path_ms']:.1f}")
    print(f"  costs {ours['path_cost']:.6f} and {route_cost:.6f}, relative difference {ours['path_cost'] / route_cost - 1:.1e}")


if __name__ == "__main__":
    main()
