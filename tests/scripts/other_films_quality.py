#!/usr/bin/env python3
"""How the assistant reads the films of `other_films.py`: `locate-file` from one
press on each file, `suggest`, and `follow` along the canals without a file.

    python3 tests/scripts/other_films_quality.py PROGRAM FOLDER FIRST LAST [OUT.json] [--files]

`--files`: only the files, no `suggest` and no canals.
"""

import json
import math
import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor

files_only = "--files" in sys.argv
sys.argv = [a for a in sys.argv if a != "--files"]
program, folder, first, last = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
# As many films at once as there are processors, each on one.
environment = dict(os.environ, RAYON_NUM_THREADS="1")


def run(*arguments):
    done = subprocess.run([program, *arguments, "--json"], capture_output=True, text=True, env=environment)
    return json.loads(done.stdout) if done.returncode == 0 else None


def to_line(p, line):
    def to_piece(a, b):
        v = [b[0] - a[0], b[1] - a[1]]
        share = ((p[0] - a[0]) * v[0] + (p[1] - a[1]) * v[1]) / max(v[0] ** 2 + v[1] ** 2, 1e-9)
        share = min(max(share, 0), 1)
        return math.dist(p, (a[0] + share * v[0], a[1] + share * v[1]))

    return min(to_piece(a, b) for a, b in zip(line, line[1:]))


def evenly(line, count=150):
    at = [0.0]
    for a, b in zip(line, line[1:]):
        at.append(at[-1] + math.dist(a, b))
    points, k = [], 0
    for i in range(count):
        s = at[-1] * i / (count - 1)
        while k + 2 < len(line) and at[k + 1] < s:
            k += 1
        share = (s - at[k]) / max(at[k + 1] - at[k], 1e-9)
        points.append([line[k][j] + share * (line[k + 1][j] - line[k][j]) for j in (0, 1)])
    return points


def examine(seed):
    with open(f"{folder}/{seed}.json") as text:
        truth = json.load(text)
    name, scale = f"{folder}/{seed}.png", truth["mm_per_px"]
    known = ["--mm-per-px", str(scale)]
    mm = lambda a, b: math.dist(a, b) * scale
    out = {"seed": seed, "cluttered": truth["cluttered"], "files": [], "paths": []}
    for file in truth["files"]:
        found = run("locate-file", name, "--near", "{},{}".format(*file["near"]), *known)
        shows = file["stop"] is not None and not file["stop_hidden"]
        row = {"shows": shows, "none": file["stop"] is None, "found": found is not None, "size": file["size"]}
        if found:
            before, tip = file["line"][-3], file["tip"]
            ahead = [(tip[k] - before[k]) / math.dist(tip, before) for k in (0, 1)]
            error = [(found["tip_px"][k] - tip[k]) * scale for k in (0, 1)]
            stop = found["stop_px"]
            row.update(
                tip=mm(found["tip_px"], tip),
                along=error[0] * ahead[0] + error[1] * ahead[1],
                across=error[0] * ahead[1] - error[1] * ahead[0],
                confidence=found["confidence"],
                stop_confidence=found["stop_confidence"],
                claimed=stop is not None,
                stop=mm(stop, file["stop"]) if stop and file["stop"] else None,
                candidate=mm(found["points_px"][0], file["stop"]) if file["stop"] else None,
                ms=found["ms"],
            )
        out["files"].append(row)
    if files_only:
        return out | {"named": [], "apices": [], "suggest_ms": 0.0, "warnings": []}
    found = run("suggest", name, *known)
    ends = [root["apex"] for root in truth["roots"]]
    out["suggest_ms"] = found["ms"]
    # A tooth beside has ends too.
    all_ends = ends + truth["ends_beside"]
    out["named"] = [
        (root["confidence"], min(mm(root["apex_px"], end) for end in all_ends)) for root in found["roots"]
    ]
    out["apices"] = [min([mm(root["apex_px"], end) for root in found["roots"]] + [99]) for end in ends]
    out["warnings"] = [w["code"] for w in found["warnings"]]
    for root in truth["roots"][len(truth["files"]) :]:
        canal = root["canal"]
        ways = [a for p in (canal[0], canal[-1]) for a in ("--through", "{},{}".format(*p))]
        path = run("follow", name, *ways, *known)
        off = sorted(to_line(p, canal) * scale for p in evenly(path["points_px"])) if path else [9.0] * 150
        out["paths"].append({"mean": sum(off) / 150, "p95": off[142], "left": sum(v > 0.5 for v in off) / 150})
    return out


def share(name, results):
    results = list(results)
    print(f"  {name:46} {sum(results):4d} of {len(results):4d}  {100 * sum(results) / max(1, len(results)):5.1f} %")


def reliability(name, pairs):
    print(f"  {name}: confidence stated, share right, number")
    for tenth in range(10):
        inside = [p for p in pairs if tenth / 10 <= p[0] < tenth / 10 + 0.1 or (tenth == 9 and p[0] >= 1)]
        if inside:
            stated, right = (sum(p[k] for p in inside) / len(inside) for k in (0, 1))
            print(f"    {tenth / 10:.1f}  {stated:.3f}  {right:.3f}  {len(inside)}")


with ThreadPoolExecutor(os.cpu_count()) as pool:
    films = list(pool.map(examine, range(first, last)))
if len(sys.argv) > 5:
    with open(sys.argv[5], "w") as out:
        json.dump(films, out)
for title, of in (
    ("tidy", [f for f in films if not f["cluttered"]]),
    ("cluttered", [f for f in films if f["cluttered"]]),
    ("all", films),
):
    files = [row for f in of for row in f["files"]]
    found = [row for row in files if row["found"]]
    paths = [p for f in of for p in f["paths"]]
    print(f"{title}: {len(of)} films")
    for limit in (0.15, 0.3, 0.5):
        share(f"tip within {limit} mm", (row["found"] and row["tip"] <= limit for row in files))
    shows = [row for row in files if row["shows"]]
    claimed = lambda row: row["found"] and row["claimed"]
    share("visible stop within 0.2 mm", (claimed(row) and row["stop"] <= 0.2 for row in shows))
    share("visible stop claimed, but > 0.5 mm off", (claimed(row) and row["stop"] > 0.5 for row in shows))
    share("best candidate of a visible stop within 0.2 mm", (row["found"] and row["candidate"] <= 0.2 for row in shows))
    share("stop claimed where the film shows none", (claimed(row) for row in files if row["none"]))
    share("stop claimed where it is hidden", (claimed(row) for row in files if not row["none"] and not row["shows"]))
    share("apex within 0.5 mm of a named one", (mm <= 0.5 for f in of for mm in f["apices"]))
    named = [place for f in of for place in f["named"]]
    share("named above 0.5, but > 1 mm off", (mm > 1 for sure, mm in named if sure > 0.5))
    share("canal path good", (p["mean"] <= 0.08 and p["p95"] <= 0.2 for p in paths))
    share("canal left for a neighbour", (p["left"] > 0.1 for p in paths))
    reliability("tips within 0.15 mm", [(row["confidence"], row["tip"] <= 0.15) for row in found])
    reliability("tips within 0.3 mm", [(row["confidence"], row["tip"] <= 0.3) for row in found])
    reliability("apices", [(sure, mm <= 0.5) for sure, mm in named])
    near = [row for row in found if row["tip"] < 0.5]
    for axis in ("along", "across"):
        values = sorted(row[axis] for row in near)
        mean = sum(values) / max(1, len(values))
        spread = (sum((v - mean) ** 2 for v in values) / max(1, len(values))) ** 0.5
        print(f"  tips less than 0.5 mm off, {axis} the file: mean {mean:+.3f} mm, deviation {spread:.3f} mm")
times = sorted(f["suggest_ms"] for f in films)
print(f"suggest, one processor: median {times[len(times) // 2]:.0f} ms, longest {times[-1]:.0f} ms")
