"""Reference values of tests/it/agreement_many.rs.

Python 3.11, statsmodels 0.15.0, krippendorff 0.9.0, scipy 1.17.1.
"""

import krippendorff
import numpy as np
from scipy import stats
from statsmodels.stats.inter_rater import cohens_kappa, fleiss_kappa
from statsmodels.stats.proportion import proportion_confint

ORDINAL = np.array([[11, 3, 1, 0], [4, 17, 6, 2], [0, 5, 20, 4], [1, 1, 3, 12]])
for weights in (None, "linear", "quadratic"):
    found = cohens_kappa(ORDINAL, wt=weights)
    print(weights, found.kappa, found.std_kappa)

TEN = np.array(
    [
        [0, 0, 0, 0, 14], [0, 2, 6, 4, 2], [0, 0, 3, 5, 6], [0, 3, 9, 2, 0], [2, 2, 8, 1, 1],
        [7, 7, 0, 0, 0], [3, 2, 6, 3, 0], [2, 5, 3, 2, 2], [6, 5, 2, 1, 0], [0, 2, 2, 3, 7],
    ]
)
print("Fleiss", fleiss_kappa(TEN))

NONE = np.nan
GAPS = np.array(
    [
        [1, 2, 3, 3, 2, 1, 4, 1, 2, NONE, NONE, NONE],
        [1, 2, 3, 3, 2, 2, 4, 1, 2, 5, NONE, 3],
        [NONE, 3, 3, 3, 2, 3, 4, 2, 2, 5, 1, NONE],
        [1, 2, 3, 3, 2, 4, 4, 1, 2, 5, 1, NONE],
    ]
)
for level in ("nominal", "ordinal", "interval"):
    print(level, krippendorff.alpha(reliability_data=GAPS, level_of_measurement=level))

for n in (5, 10, 17, 20, 30, 50, 100):
    delta = 1.96 * np.sqrt(n)
    print(n, stats.nct.ppf([0.025, 0.975], n - 1, delta) / np.sqrt(n))
for t, dof, delta in (
    (2.5, 9, 6.2), (-1, 4, 0.7), (30, 16, 25), (19, 99, 19.6), (1, 3, 0), (70, 999, 61.98),
):
    print(t, dof, delta, stats.nct.cdf(t, dof, delta))
for passed, count in ((3, 4), (0, 5), (12, 12), (17, 60)):
    print(passed, count, proportion_confint(passed, count, method="wilson"))
first, second = [0.62, 0.8, 0.71, 0.55, 0.9], [0.82, 0.95, 0.7, 0.88, 0.91, 0.99]
print(stats.ttest_ind(second, first, equal_var=False).confidence_interval(0.95))
