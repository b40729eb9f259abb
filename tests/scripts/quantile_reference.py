"""Writes tests/data/quantiles.csv: Student t, Fisher F and chi-squared quantiles by SciPy."""
from scipy import stats

rows = ["kind,p,dof1,dof2,quantile"]
for dof in [1, 1.5, 2, 3, 5, 9.37, 16, 19, 50, 120, 1000, 25000]:
    for p in [0.9, 0.95, 0.975, 0.995]:
        rows.append(f"t,{p},{dof},0,{stats.t.ppf(p, dof):.12g}")
for d1 in [1, 2, 3.8, 5, 18, 60, 499]:
    for d2 in [1, 2, 4.79, 15, 90, 1497]:
        for p in [0.025, 0.95, 0.975]:
            rows.append(f"f,{p},{d1},{d2},{stats.f.ppf(p, d1, d2):.12g}")
for dof in [1, 2, 4, 8, 9.37, 16, 50, 160, 1000]:
    for p in [0.025, 0.5, 0.975]:
        rows.append(f"chi2,{p},{dof},0,{stats.chi2.ppf(p, dof):.12g}")
with open("tests/data/quantiles.csv", "w") as out:
    out.write("\n".join(rows) + "\n")
