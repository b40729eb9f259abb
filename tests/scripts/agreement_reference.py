"""Prints the frozen reference values of tests/it/agreement.rs.

Needs statsmodels and pingouin (general statistics packages from PyPI).
"""
import numpy as np
import pandas as pd
import pingouin
from statsmodels.stats.inter_rater import cohens_kappa

pingouin.options["round.column.CI95"] = 10

KAPPA_TABLES = [
    [[20, 5], [10, 15]],
    [[75, 1, 4], [5, 4, 1], [0, 0, 10]],
    [[106, 10, 4], [22, 28, 10], [2, 12, 6]],
]
for table in KAPPA_TABLES:
    k = cohens_kappa(np.array(table))
    print(table, f"kappa {k.kappa:.10f} se {k.std_kappa:.10f}")

pd.set_option("display.precision", 12, "display.width", 200)
ICC_TABLES = {
    # Canal angles, invented: no rater effect, negative correlation, tilt.
    "angles": [[21.5, 23.0, 22.1], [35.2, 34.0, 37.9], [10.1, 14.2, 9.8], [28.0, 31.5, 27.2], [44.4, 41.9, 45.0]],
    "poor": [[3.0, 1.0], [1.0, 3.5], [2.0, 2.2], [2.5, 1.1]],
}
for name, rows in ICC_TABLES.items():
    data = pd.DataFrame(
        [(i, j, v) for i, row in enumerate(rows) for j, v in enumerate(row)],
        columns=["subject", "rater", "score"],
    )
    icc = pingouin.intraclass_corr(data, "subject", "rater", "score")
    print(name)
    for _, line in icc.iterrows():
        interval = line.get("CI95%", line.get("CI95"))
        print("  ", line["Type"], repr(float(line["ICC"])), [repr(float(v)) for v in interval])
