//! The measures of a table in words, and as a table of two columns.

use serde_json::Value;

use super::Interval;
use super::analysis::AgreementAnalysis;
use super::bland_altman::BlandAltman;
use crate::spreadsheet::{Dialect, inert};

/// One measure a line; what is not available with its reason.
pub fn text(found: &AgreementAnalysis) -> String {
    let mut lines = vec![format!(
        "{} subjects, {} raters ({}): {}",
        found.subjects,
        found.raters.len(),
        found.raters.join(", "),
        found.kind
    )];
    if let Some(column) = &found.subject_column {
        lines.push(format!("Subjects are named by the column \"{column}\""));
    }
    if let Some(icc) = &found.icc {
        for (name, one) in [
            ("ICC(1,1)", Some(icc.icc_1_1)),
            ("ICC(2,1)", Some(icc.icc_2_1)),
            ("ICC(3,1)", Some(icc.icc_3_1)),
            ("ICC(1,k)", icc.icc_1_k),
            ("ICC(2,k)", icc.icc_2_k),
            ("ICC(3,k)", icc.icc_3_k),
        ] {
            if let Some(one) = one {
                lines.push(format!(
                    "{name} {}",
                    with_interval(one.value, Some(one.ci95))
                ));
            }
        }
    }
    if let Some((sem, mdc)) = found.sem.zip(found.mdc95) {
        lines.push(format!("SEM {sem:.4}, smallest detectable change {mdc:.4}"));
    }
    if let Some(r) = &found.repeatability {
        lines.push(format!(
            "Repeatability: within-subject standard deviation {:.4}, coefficient {:.4}",
            r.within_subject_sd, r.repeatability_coefficient
        ));
    }
    for pair in &found.pairs {
        let [first, second] = &pair.raters;
        if let Some(limits) = &pair.bland_altman {
            lines.push(format!("{first} − {second}: {}", of_limits(limits)));
        }
        if let Some(d) = &pair.dahlberg {
            lines.push(format!(
                "{first}, {second}: Dahlberg's error {:.4}",
                d.error
            ));
        }
        if let Some(k) = &pair.kappa {
            let kappa = with_interval(k.kappa, k.ci95);
            lines.push(format!("{first}, {second}: Cohen's κ {kappa}"));
        }
    }
    if let Some(c) = &found.bland_altman_by_subject {
        lines.push(format!(
            "By subject ({} pairs of {}): bias {}, limits {} and {}",
            c.pairs,
            c.clusters,
            with_interval(c.bias, Some(c.bias_ci95)),
            with_interval(c.lower_limit, Some(c.lower_limit_ci95)),
            with_interval(c.upper_limit, Some(c.upper_limit_ci95))
        ));
    }
    if let Some(kappa) = found.mean_kappa {
        lines.push(format!("Mean of the pairwise κ {kappa:.4}"));
    }
    if let Some(w) = &found.weighted_kappa {
        let (linear, quadratic) = (&w.linear, &w.quadratic);
        lines.push(format!(
            "Weighted κ: linear {}, quadratic {}",
            with_interval(linear.kappa, linear.ci95),
            with_interval(quadratic.kappa, quadratic.ci95)
        ));
    }
    if let Some(f) = &found.fleiss_kappa {
        lines.push(format!("Fleiss' κ {:.4}", f.kappa));
    }
    if let Some(k) = &found.krippendorff_alpha {
        let level = format!("{:?}", k.level).to_lowercase();
        lines.push(format!("Krippendorff's α {:.4} ({level})", k.alpha));
    }
    let warnings = found.warnings.iter();
    lines.extend(warnings.map(|warning| format!("Warning: {}", warning.text)));
    lines.join("\n") + "\n"
}

fn with_interval(value: f64, interval: Option<Interval>) -> String {
    match interval {
        Some(ci) if ci.low.is_finite() && ci.high.is_finite() => {
            format!("{value:.4} (95 % CI {:.4} to {:.4})", ci.low, ci.high)
        }
        _ => format!("{value:.4}"),
    }
}

fn of_limits(limits: &BlandAltman) -> String {
    format!(
        "bias {}, standard deviation {:.4}, limits of agreement {} and {}, {} pairs",
        with_interval(limits.bias, Some(limits.bias_ci95)),
        limits.sd,
        with_interval(limits.lower_limit, Some(limits.lower_limit_exact_ci95)),
        with_interval(limits.upper_limit, Some(limits.upper_limit_exact_ci95)),
        limits.pairs
    )
}

/// Every number of the JSON with its key, one a row.
pub fn table(found: &AgreementAnalysis, dialect: Dialect) -> Vec<u8> {
    let mut rows = vec![["key", "value"].map(str::to_owned).to_vec()];
    let whole = serde_json::to_value(found).unwrap_or(Value::Null);
    flatten("", &whole, dialect, &mut rows);
    dialect.bytes(rows)
}

fn flatten(key: &str, value: &Value, dialect: Dialect, rows: &mut Vec<Vec<String>>) {
    let below = |name: &str| match key {
        "" => name.to_owned(),
        key => format!("{key}.{name}"),
    };
    match value {
        Value::Object(fields) => {
            for (name, value) in fields {
                flatten(&below(name), value, dialect, rows);
            }
        }
        Value::Array(items) => {
            for (index, value) in items.iter().enumerate() {
                flatten(&below(&(index + 1).to_string()), value, dialect, rows);
            }
        }
        value => {
            let cell = match value {
                Value::Null => String::new(),
                Value::Number(number) => match number.as_f64() {
                    Some(number) => dialect.number(number),
                    None => number.to_string(),
                },
                Value::String(text) => inert(text),
                other => other.to_string(),
            };
            rows.push(vec![key.to_owned(), cell]);
        }
    }
}
