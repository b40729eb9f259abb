//! Agreement with repeats, of many raters and of ordered classes, against
//! published tables and general packages
//! (tests/scripts/agreement_many_reference.py), and the tables people have.

use assert_cmd::Command;
use lengthfilm::agreement::bland_altman::{LimitConvention, bland_altman, exact_factors};
use lengthfilm::agreement::clustered::{ClusteredBlandAltman, clustered_bland_altman};
use lengthfilm::agreement::many_raters::{Level, fleiss_kappa, krippendorff_alpha};
use lengthfilm::agreement::sample_size::{
    design_effect, icc_width, limits_power, subjects_for_icc, subjects_for_limits,
};
use lengthfilm::agreement::weighted_kappa::{Weighting, weighted_kappa};
use lengthfilm::learning::analysis::wilson;
use lengthfilm::learning::compare::independent;
use lengthfilm::statistics::noncentral_t_cdf;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde_json::Value;

#[track_caller]
fn close(value: f64, expected: f64, within: f64) {
    assert!(
        (value - expected).abs() <= within,
        "{value}, not {expected}"
    );
}

/// Bland & Altman 2007, J Biopharm Stat 17:571–82, Table 1 (SEEN in public
/// code): cardiac output by two methods, 60 pairs of 12 subjects.
const CARDIAC: [(u8, f64, f64); 60] = [
    (1, 7.83, 6.57),
    (1, 7.42, 5.62),
    (1, 7.89, 6.90),
    (1, 7.12, 6.57),
    (1, 7.88, 6.35),
    (2, 6.16, 4.06),
    (2, 7.26, 4.29),
    (2, 6.71, 4.26),
    (2, 6.54, 4.09),
    (3, 4.75, 4.71),
    (3, 5.24, 5.50),
    (3, 4.86, 5.08),
    (3, 4.78, 5.02),
    (3, 6.05, 6.01),
    (3, 5.42, 5.67),
    (4, 4.21, 4.14),
    (4, 3.61, 4.20),
    (4, 3.72, 4.61),
    (4, 3.87, 4.68),
    (4, 3.92, 5.04),
    (5, 3.13, 3.03),
    (5, 2.98, 2.86),
    (5, 2.85, 2.77),
    (5, 3.17, 2.46),
    (5, 3.09, 2.32),
    (5, 3.12, 2.43),
    (6, 5.92, 5.90),
    (6, 6.42, 5.81),
    (6, 5.92, 5.70),
    (6, 6.27, 5.76),
    (7, 7.13, 5.09),
    (7, 6.62, 4.63),
    (7, 6.58, 4.61),
    (7, 6.93, 5.09),
    (8, 4.54, 4.72),
    (8, 4.81, 4.61),
    (8, 5.11, 4.36),
    (8, 5.29, 4.20),
    (8, 5.39, 4.36),
    (8, 5.57, 4.20),
    (9, 4.48, 3.17),
    (9, 4.92, 3.12),
    (9, 3.97, 2.96),
    (10, 4.22, 4.35),
    (10, 4.65, 4.62),
    (10, 4.74, 3.16),
    (10, 4.44, 3.53),
    (10, 4.50, 3.53),
    (11, 6.78, 7.20),
    (11, 6.07, 6.09),
    (11, 6.52, 7.00),
    (11, 6.42, 7.10),
    (11, 6.41, 7.40),
    (11, 5.76, 6.80),
    (12, 5.06, 4.50),
    (12, 4.72, 4.20),
    (12, 4.90, 3.80),
    (12, 4.80, 3.80),
    (12, 4.90, 4.20),
    (12, 5.10, 4.50),
];

fn cardiac() -> ClusteredBlandAltman {
    let subjects: Vec<u8> = CARDIAC.iter().map(|row| row.0).collect();
    let first: Vec<f64> = CARDIAC.iter().map(|row| row.1).collect();
    let second: Vec<f64> = CARDIAC.iter().map(|row| row.2).collect();
    clustered_bland_altman(&first, &second, &subjects, LimitConvention::Normal196).unwrap()
}

/// The paper's own figures, "true value varies" (SEEN as tested in public
/// code): mean squares 4.2090856 and 0.170714026, divisor 4.9818182, standard
/// deviation 0.99062408, limits −1.3394565 and 2.5437899; 0.9610571 when the
/// subjects are ignored.
#[test]
fn limits_by_subject_are_those_of_the_paper() {
    let found = cardiac();
    assert_eq!((found.pairs, found.clusters), (60, 12));
    close(found.bias, 0.6021667, 5e-8);
    close(found.sd, 0.990_624_08, 5e-8);
    close(found.sd_within.unwrap().powi(2), 0.170_714_026, 5e-8);
    let between = (4.209_085_6 - 0.170_714_026) / 4.981_818_2;
    close(found.sd_between.powi(2), between, 2e-7);
    close(found.lower_limit, -1.339_456_5, 1e-6);
    close(found.upper_limit, 2.543_789_9, 1e-6);
    close(found.as_if_independent.sd, 0.961_057_1, 5e-8);
    // The same by SciPy 1.17: t and χ² of 11 and 48 degrees of freedom put into
    // the formulas of Zou 2013 (MEM-H).
    let is = |found: lengthfilm::agreement::Interval, low: f64, high: f64| {
        close(found.low, low, 1e-6);
        close(found.high, high, 1e-6);
    };
    is(found.bias_ci95, 0.007_089_507, 1.197_243_826);
    is(found.lower_limit_ci95, -2.681_496_307, -0.576_793_625);
    is(found.upper_limit_ci95, 1.781_126_959, 3.885_829_640);
    // The bias of 12 subjects is known less well than 60 pairs pretend.
    let wide = |ci: lengthfilm::agreement::Interval| ci.high - ci.low;
    assert!(wide(found.bias_ci95) > 1.8 * wide(found.as_if_independent.bias_ci95));
}

/// 15 students with 2 to 5 canals each: the stated intervals hold the true
/// limit and the true bias about 95 % of the time, those that take the canals
/// for independent do not hold the bias.
#[test]
fn intervals_by_student_hold_what_they_promise() {
    let mut rng = ChaCha8Rng::seed_from_u64(11);
    let mut normal = move || -> f64 { StandardNormal.sample(&mut rng) };
    let mut sizes = ChaCha8Rng::seed_from_u64(12);
    let (between, within, bias) = (0.8, 0.5, 0.3);
    let true_limit = bias + 1.96 * f64::hypot(between, within);
    let runs = 1000;
    let (mut limit, mut mean, mut naive) = (0, 0, 0);
    for _ in 0..runs {
        let (mut first, mut students) = (Vec::new(), Vec::new());
        for student in 0..15 {
            let own = bias + between * normal();
            for _ in 0..sizes.random_range(2..=5) {
                first.push(own + within * normal());
                students.push(student);
            }
        }
        let second = vec![0.0; first.len()];
        let found =
            clustered_bland_altman(&first, &second, &students, LimitConvention::Normal196).unwrap();
        let holds = |ci: lengthfilm::agreement::Interval, value: f64| {
            i32::from(ci.low <= value && value <= ci.high)
        };
        limit += holds(found.upper_limit_ci95, true_limit);
        mean += holds(found.bias_ci95, bias);
        naive += holds(found.as_if_independent.bias_ci95, bias);
    }
    let share = |count: i32| f64::from(count) / f64::from(runs);
    // Four standard errors of a share of 0.95 in 1000 runs are 0.028.
    assert!((0.92..=0.98).contains(&share(limit)), "{}", share(limit));
    assert!((0.92..=0.98).contains(&share(mean)), "{}", share(mean));
    assert!(share(naive) < 0.85, "{}", share(naive));
}

/// Carkeet 2015 (MEM-H formula): noncentral t by SciPy 1.17.1; n = 10 to 100
/// also DERIVED to four digits with z = 1.96.
#[test]
fn exact_intervals_of_the_limits() {
    for (n, near, far) in [
        (5, 0.923191046, 5.975018533),
        (10, 1.163208743, 3.800964745),
        (17, 1.315058515, 3.148323793),
        (20, 1.356513773, 3.014053449),
        (30, 1.450376576, 2.756636472),
        (50, 1.550731163, 2.535513989),
        (100, 1.659095730, 2.341911622),
    ] {
        let found = exact_factors(n, 1.96);
        close(found[0], near, 2e-8);
        close(found[1], far, 2e-8);
    }
    // Beyond a thousand the approximation takes over without a step.
    let (a, b) = (exact_factors(1000, 1.96), exact_factors(1001, 1.96));
    close(a[0], b[0], 5e-4);
    close(a[1], b[1], 5e-4);
    for (t, dof, delta, expected) in [
        (2.5, 9.0, 6.2, 0.000662059206),
        (-1.0, 4.0, 0.7, 0.059925595056),
        (30.0, 16.0, 25.0, 0.798338349522),
        (19.0, 99.0, 19.6, 0.347863920349),
        (1.0, 3.0, 0.0, 0.804498890522),
        (70.0, 999.0, 61.98, 0.999993128888),
    ] {
        close(noncentral_t_cdf(t, dof, delta).unwrap(), expected, 2e-10);
    }
}

/// Five pairs: the exact interval holds the true upper limit 95 % of the time,
/// the approximation of 1986 91 % (Carkeet 2015).
#[test]
fn five_pairs_need_the_exact_interval() {
    let mut rng = ChaCha8Rng::seed_from_u64(5);
    let runs = 4000;
    let (mut exact, mut approximate) = (0, 0);
    for _ in 0..runs {
        let first: Vec<f64> = (0..5).map(|_| StandardNormal.sample(&mut rng)).collect();
        let found = bland_altman(&first, &[0.0; 5], LimitConvention::Normal196).unwrap();
        let holds =
            |ci: lengthfilm::agreement::Interval| i32::from(ci.low <= 1.96 && 1.96 <= ci.high);
        exact += holds(found.upper_limit_exact_ci95);
        approximate += holds(found.upper_limit_ci95);
    }
    let share = |count: i32| f64::from(count) / f64::from(runs);
    // Three standard errors of a share of 0.95 in 4000 runs are 0.010.
    close(share(exact), 0.95, 0.0105);
    close(share(approximate), 0.91, 0.015);
}

/// statsmodels 0.15.0 `cohens_kappa` with linear and quadratic weights.
#[test]
fn weighted_kappa_counts_near_misses() {
    let counts = [[11, 3, 1, 0], [4, 17, 6, 2], [0, 5, 20, 4], [1, 1, 3, 12]];
    let counts: Vec<Vec<u64>> = counts.iter().map(|row| row.to_vec()).collect();
    let linear = weighted_kappa(&counts, Weighting::Linear).unwrap();
    close(linear.kappa, 0.6356275304, 1e-10);
    close(linear.se_asymptotic, 0.0626775655, 1e-9);
    let quadratic = weighted_kappa(&counts, Weighting::Quadratic).unwrap();
    close(quadratic.kappa, 0.7169811321, 1e-10);
    close(quadratic.se_asymptotic, 0.0695181273, 1e-9);
    assert!(weighted_kappa(&[vec![3, 0], vec![0, 0]], Weighting::Linear).is_err());
}

/// Ten subjects, 14 raters, five classes: statsmodels 0.15.0 `fleiss_kappa`
/// 0.2099307044 (0.210 in many textbooks).
#[test]
fn fleiss_kappa_of_many_raters() {
    let counts = [
        [0, 0, 0, 0, 14],
        [0, 2, 6, 4, 2],
        [0, 0, 3, 5, 6],
        [0, 3, 9, 2, 0],
        [2, 2, 8, 1, 1],
        [7, 7, 0, 0, 0],
        [3, 2, 6, 3, 0],
        [2, 5, 3, 2, 2],
        [6, 5, 2, 1, 0],
        [0, 2, 2, 3, 7],
    ];
    let rows: Vec<Vec<String>> = counts
        .iter()
        .map(|row| {
            let classes = row.iter().enumerate();
            classes
                .flat_map(|(class, &n)| std::iter::repeat_n(class.to_string(), n))
                .collect()
        })
        .collect();
    let found = fleiss_kappa(&rows).unwrap();
    assert_eq!((found.subjects, found.raters), (10, 14));
    close(found.kappa, 0.2099307044, 1e-10);
    assert!(fleiss_kappa(&[vec!["a", "a"], vec!["a", "a"]]).is_err());
}

/// The worked example with gaps of Krippendorff 2011: 0.743, 0.815, 0.849
/// (MEM-H); more digits by krippendorff 0.9.0.
#[test]
fn krippendorffs_alpha_takes_gaps() {
    const NO: f64 = f64::NAN;
    let observers = [
        [1., 2., 3., 3., 2., 1., 4., 1., 2., NO, NO, NO],
        [1., 2., 3., 3., 2., 2., 4., 1., 2., 5., NO, 3.],
        [NO, 3., 3., 3., 2., 3., 4., 2., 2., 5., 1., NO],
        [1., 2., 3., 3., 2., 4., 4., 1., 2., 5., 1., NO],
    ];
    let units: Vec<Vec<f64>> = (0..12)
        .map(|unit| {
            let ratings = observers.iter().map(|observer| observer[unit]);
            ratings.filter(|rating| rating.is_finite()).collect()
        })
        .collect();
    for (level, alpha) in [
        (Level::Nominal, 0.7434210526),
        (Level::Ordinal, 0.8153875038),
        (Level::Interval, 0.8491071429),
    ] {
        let found = krippendorff_alpha(&units, level).unwrap();
        assert_eq!((found.subjects, found.ratings), (11, 40));
        close(found.alpha, alpha, 1e-10);
    }
    assert!(krippendorff_alpha(&[vec![1.0, 1.0], vec![1.0, 1.0]], Level::Nominal).is_err());
}

/// Lu et al. 2016 as in a public package (SEEN): nearest to 80 and 90 % power
/// at 59 and 78, 82 and 108, 117 and 156; the first at 80 % or more is one
/// higher where the nearest falls short. Powers by SciPy 1.17.1. Bonett 2002: 20
/// (SEEN) and 68 (SEEN).
#[test]
fn sample_sizes_are_those_of_the_papers() {
    for (sd, nearest_80, power_80, least_80, nearest_90, power_90) in [
        (2.5, 59, 0.7985988745, 60, 78, 0.9014126714),
        (2.6, 82, 0.8018856249, 82, 108, 0.9003296420),
        (2.7, 117, 0.7989036202, 118, 156, 0.9001982384),
    ] {
        let power = |n: usize| limits_power(n, 0.5, sd, 7.0).unwrap();
        close(power(nearest_80), power_80, 1e-9);
        close(power(nearest_90), power_90, 1e-9);
        for (n, wanted) in [(nearest_80, 0.8), (nearest_90, 0.9)] {
            let off = |n: usize| (power(n) - wanted).abs();
            assert!(
                off(n) < off(n - 1) && off(n) < off(n + 1),
                "{n} is the nearest"
            );
        }
        assert_eq!(subjects_for_limits(0.5, sd, 7.0, 0.8), Some(least_80));
    }
    assert_eq!(subjects_for_limits(0.0, 3.3, 8.0, 0.8), Some(145));
    // ± 0.5 mm with a standard deviation of 0.26 mm can never be shown.
    assert_eq!(subjects_for_limits(0.0, 0.26, 0.5, 0.8), None);
    for (icc, raters, width, expected, subjects) in [
        (0.85, 4, 0.2, 19.154, 20.0),
        (0.70, 3, 0.2, 67.380, 68.0),
        (0.90, 3, 0.1, 41.156, 42.0),
        (0.80, 2, 0.2, 50.785 + 4.0, 55.0),
        (0.90, 2, 0.1, 56.471 + 4.5, 61.0),
    ] {
        let found = subjects_for_icc(icc, raters, width).unwrap();
        close(found, expected, 6e-4);
        assert_eq!(found.ceil(), subjects);
    }
    close(icc_width(0.5, 3, 50).unwrap(), 0.3233102, 5e-8);
    close(design_effect(3.0, 0.15), 1.3, 1e-12);
    // The width of as many subjects as a width asks for is that width.
    for (icc, raters, subjects) in [(0.85, 4, 20), (0.4, 3, 70), (0.3, 2, 31)] {
        let width = icc_width(icc, raters, subjects).unwrap();
        let found = subjects_for_icc(icc, raters, width).unwrap();
        close(found, subjects as f64, 1e-9);
    }
    // In other units the same differences need the same subjects.
    for unit in [0.1, 10.0] {
        let found = subjects_for_limits(0.5 * unit, 2.6 * unit, 7.0 * unit, 0.8);
        assert_eq!(found, Some(82));
    }
    // What is no question has no answer.
    let no_power = [
        limits_power(2, 0.0, 1.0, 5.0),
        limits_power(20, 0.0, 0.0, 5.0),
        limits_power(20, 0.0, 1.0, 0.0),
        limits_power(20, f64::NAN, 1.0, 5.0),
        subjects_for_icc(1.0, 3, 0.2),
        subjects_for_icc(0.8, 1, 0.2),
        subjects_for_icc(0.8, 3, 0.0),
        subjects_for_icc(0.8, 3, f64::NAN),
        icc_width(0.8, 3, 1),
        icc_width(0.8, 1, 9),
        icc_width(-0.1, 3, 9),
    ];
    assert_eq!(no_power, [None; 11]);
}

/// statsmodels 0.15.0 `proportion_confint(method="wilson")`, SciPy 1.17.1
/// `ttest_ind(equal_var=False)`.
#[test]
fn shares_and_differences_have_their_intervals() {
    for (passed, count, low, high) in [
        (3, 4, 0.300641843, 0.954412739),
        (0, 5, 0.0, 0.434482465),
        (12, 12, 0.757505993, 1.0),
        (17, 60, 0.185068284, 0.407672852),
    ] {
        let found = wilson(passed, count);
        close(found.low, low, 1e-9);
        close(found.high, high, 1e-9);
    }
    let (first, second) = (
        [0.62, 0.8, 0.71, 0.55, 0.9],
        [0.82, 0.95, 0.7, 0.88, 0.91, 0.99],
    );
    let found = independent(&first, &second).unwrap();
    close(found.difference, 0.159, 1e-12);
    close(found.ci95.low, -0.017712183712, 1e-9);
    close(found.ci95.high, 0.335712183712, 1e-9);
    close(found.p.unwrap(), 0.071166260169, 1e-9);
    assert!(found.is_equivalent(0.4) && !found.is_equivalent(0.2));
}

fn agreement(table: &[u8], arguments: &[&str]) -> std::process::Output {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("table.csv");
    std::fs::write(&path, table).unwrap();
    Command::cargo_bin("lengthfilm")
        .unwrap()
        .arg("agreement")
        .arg(&path)
        .args(arguments)
        .output()
        .unwrap()
}

fn json(table: &[u8], arguments: &[&str]) -> Value {
    let output = agreement(table, &[arguments, &["--json"]].concat());
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(output.status.success(), "{errors}");
    serde_json::from_slice(&output.stdout).unwrap()
}

fn remarks(found: &Value) -> String {
    let warnings = found["warnings"].as_array().unwrap().iter();
    let texts = warnings.map(|w| w["text"].as_str().unwrap().to_owned());
    texts.collect::<Vec<_>>().join("\n")
}

#[test]
fn the_subject_column_is_named_or_noticed() {
    let table = b"A,Zahn,B\n20.5,16,20.7\n21.5,26,21.4\n19.0,36,19.4\n";
    let named = json(table, &["--subject", "zahn"]);
    assert_eq!(named["raters"], serde_json::json!(["A", "B"]));
    assert_eq!(named["subject_column"], "Zahn");
    // Tooth numbers in front are no rater, whatever they are headed.
    let teeth = json(b"Zahn,A,B\n16,20.5,20.7\n26,21.5,21.4\n36,19.0,19.4\n", &[]);
    assert_eq!(teeth["raters"], serde_json::json!(["A", "B"]));
    assert!(remarks(&teeth).contains("holds tooth numbers"), "{teeth}");
    // Numbers of another kind stay a rater; so do codes beside codes.
    let rater = json(b"one,two\n16,17\n26,25\n36,36\n", &[]);
    assert_eq!(rater["raters"], serde_json::json!(["one", "two"]));
    // No quadrant has a ninth tooth.
    let no_teeth = json(b"one,two\n19,17.5\n29,25.5\n39,36.5\n", &[]);
    assert_eq!(no_teeth["raters"], serde_json::json!(["one", "two"]));
    // A heading of two words, of which the first says what it is.
    let two_words = json(b"film no,A,B\n1,20.5,20.7\n2,21.5,21.4\n3,19.0,19.4\n", &[]);
    assert_eq!(two_words["raters"], serde_json::json!(["A", "B"]));
    // Two classes in every column name nobody.
    let classes = json(b"one,two\nlow,high\nhigh,high\nlow,low\n", &[]);
    assert_eq!(classes["raters"], serde_json::json!(["one", "two"]));
    let none = json(table, &["--no-subject"]);
    assert_eq!(none["raters"].as_array().unwrap().len(), 3);
    let missing = agreement(table, &["--subject", "tooth"]);
    assert_eq!(missing.status.code(), Some(1));
    let errors = String::from_utf8_lossy(&missing.stderr).into_owned();
    assert!(
        errors.contains("no column headed \"tooth\"; its columns are A, Zahn, B"),
        "{errors}"
    );
}

#[test]
fn a_missing_heading_and_spellings_of_a_class_are_noticed() {
    let headless = json(b"20.5,20.7\n21.5,21.4\n19.0,19.4\n", &[]);
    assert_eq!(headless["subjects"], 3);
    assert_eq!(headless["raters"][0], "column 1");
    assert!(remarks(&headless).contains("the first line holds numbers"));
    let numbered = json(b"1,2\n20.5,20.7\n21.5,21.4\n", &[]);
    assert_eq!(
        numbered["raters"],
        serde_json::json!(["1", "2"]),
        "raters may be numbered"
    );
    let spelled = json(
        b"film,A,B\nf1,Not ,not\nf2,yes,yes\nf3,not,yes\nf4,not,NOT\n",
        &[],
    );
    assert_eq!(
        spelled["kappa"]["classes"],
        serde_json::json!(["not", "yes"])
    );
    assert!(
        remarks(&spelled).contains("\"NOT\" and \"Not\" and \"not\" were taken for one class"),
        "{spelled}"
    );
}

#[test]
fn tables_of_any_office_are_read_or_refused_with_advice() {
    let expected = json(
        b"film,A,B\nf1,20.5,20.7\nf2,21.5,21.4\nf3,19.25,19.5\n",
        &[],
    );
    let bias = expected["bland_altman"]["bias"].as_f64().unwrap();
    let commas = "Füße;A;B\nf1;20,5;20,7\nf2;21,5;21,4\nf3;19,25;19,5\n";
    let utf16: Vec<u8> = "\u{feff}"
        .encode_utf16()
        .chain(commas.encode_utf16())
        .flat_map(u16::to_le_bytes)
        .collect();
    let latin: Vec<u8> = commas.chars().map(|c| c as u8).collect();
    let quoted = "film,A,B\nf1,\"20,5\",\"20,7\"\nf2,\"21,5\",\"21,4\"\nf3,\"19,25\",\"19,5\"\n";
    for (bytes, has_remark) in [
        (commas.as_bytes(), false),
        (&utf16, false),
        (&latin, true),
        (quoted.as_bytes(), false),
    ] {
        let found = json(bytes, &[]);
        close(found["bland_altman"]["bias"].as_f64().unwrap(), bias, 1e-12);
        assert_eq!(remarks(&found).contains("Windows-1252"), has_remark);
    }
    // What may as well be thousands is no number.
    let thousands = json(
        b"film,A,B\nf1,\"1,234\",\"1,235\"\nf2,\"2,345\",\"2,344\"\n",
        &[],
    );
    assert_eq!(thousands["kind"], "classes");
    let workbook = agreement(b"PK\x03\x04....", &[]);
    assert_eq!(workbook.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&workbook.stderr).contains("save it as CSV"));
}

#[test]
fn gaps_repeats_and_order() {
    let gap = b"film,A,B\nf1,1.5,2.0\nf2,2.5,\nf3,3.5,3.0\nf4,4.5,4.0\n";
    assert_eq!(agreement(gap, &[]).status.code(), Some(1));
    let complete = json(gap, &["--complete"]);
    assert_eq!(complete["subjects"], 3);
    assert!(remarks(&complete).contains("3 of 4 subjects are complete"));

    let rows: String = CARDIAC
        .iter()
        .map(|(s, a, b)| format!("s{s},{a},{b}\n"))
        .collect();
    let repeats = json(format!("subject,RV,IC\n{rows}").as_bytes(), &[]);
    close(
        repeats["bland_altman_by_subject"]["sd"].as_f64().unwrap(),
        0.99062408,
        5e-8,
    );
    assert!(remarks(&repeats).contains("60 rows are of 12 subjects"));

    let classes = b"film,A,B\nf1,low,low\nf2,moderate,high\nf3,high,high\nf4,low,moderate\n";
    let ordered = json(classes, &["--order", "low,moderate,high"]);
    assert_eq!(ordered["krippendorff_alpha"]["level"], "ordinal");
    // By hand: two agree and two lie one of two steps apart, ¾ observed; chance
    // from the margins 2, 1, 1 and 1, 1, 2 of four.
    let kappa = ordered["weighted_kappa"]["linear"]["kappa"]
        .as_f64()
        .unwrap();
    let share = [[2., 1., 1.], [1., 1., 2.]];
    let by_chance: f64 = (0..3)
        .flat_map(|i| (0..3).map(move |j| (i, j)))
        .map(|(i, j): (usize, usize)| {
            share[0][i] * share[1][j] / 16.0 * (1.0 - i.abs_diff(j) as f64 / 2.0)
        })
        .sum();
    close(kappa, (0.75 - by_chance) / (1.0 - by_chance), 1e-12);
    let unordered = json(classes, &[]);
    assert!(unordered["weighted_kappa"].is_null());
    assert_eq!(unordered["krippendorff_alpha"]["level"], "nominal");
    assert!(unordered["fleiss_kappa"]["kappa"].is_f64());
}

#[test]
fn text_and_csv_say_what_the_json_says() {
    let table = b"film,A,B\nf1,20.5,20.7\nf2,21.5,21.4\nf3,19.0,19.4\n";
    let text = String::from_utf8(agreement(table, &[]).stdout).unwrap();
    assert!(
        text.starts_with("3 subjects, 2 raters (A, B): numbers\n"),
        "{text}"
    );
    assert!(text.contains("A − B: bias -0.1667 (95 % CI"), "{text}");
    let csv = agreement(table, &["--csv", "--semicolons"]).stdout;
    let mut rows = csv::ReaderBuilder::new()
        .delimiter(b';')
        .from_reader(csv.as_slice());
    let rows: Vec<csv::StringRecord> = rows.records().map(Result::unwrap).collect();
    let cell = |key: &str| {
        rows.iter()
            .find(|row| &row[0] == key)
            .map(|row| row[1].to_owned())
    };
    assert_eq!(cell("bland_altman.bias").as_deref(), Some("-0,166667"));
    assert_eq!(cell("raters.1").as_deref(), Some("A"));
}

#[test]
fn the_sample_size_command_prints_and_refuses() {
    let run = |arguments: &[&str]| {
        Command::cargo_bin("lengthfilm")
            .unwrap()
            .arg("sample-size")
            .args(arguments)
            .output()
            .unwrap()
    };
    let limits = [
        "limits", "--mean", "0.5", "--sd", "2.6", "--margin", "7", "--json",
    ];
    let found: Value = serde_json::from_slice(&run(&limits).stdout).unwrap();
    assert_eq!(
        (&found["pairs"], &found["measurements"]),
        (&82.into(), &82.into())
    );
    let icc = ["icc", "--icc", "0.85", "--raters", "4", "--width", "0.2"];
    let text = String::from_utf8(run(&icc).stdout).unwrap();
    assert!(
        text.starts_with("20 subjects rated by 4 raters each"),
        "{text}"
    );
    let never = run(&["limits", "--mean", "0", "--sd", "0.3", "--margin", "0.5"]);
    assert_eq!(never.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&never.stderr).contains("no number of subjects will do"));
}

/// Raters exchanged: everything signed is mirrored, both exact intervals too.
#[test]
fn exchanged_raters_mirror_the_limits() {
    let first = [10.2, 11.9, 9.4, 14.1, 12.6, 10.0];
    let second = [10.9, 11.2, 9.9, 13.0, 13.4, 10.3];
    let found = |a: &[f64], b: &[f64]| bland_altman(a, b, LimitConvention::Normal196).unwrap();
    let (one, other) = (found(&first, &second), found(&second, &first));
    close(one.bias, -other.bias, 1e-12);
    close(one.lower_limit, -other.upper_limit, 1e-12);
    for (low, high) in [
        (one.lower_limit_exact_ci95, other.upper_limit_exact_ci95),
        (other.lower_limit_exact_ci95, one.upper_limit_exact_ci95),
        (one.lower_limit_ci95, other.upper_limit_ci95),
    ] {
        close(low.low, -high.high, 1e-12);
        close(low.high, -high.low, 1e-12);
    }
    assert!(one.lower_limit_exact_ci95.low < one.lower_limit);
    assert!(one.lower_limit_exact_ci95.high > one.lower_limit);
}

/// Names of classes only tell them apart: any others give the same agreement.
#[test]
fn the_names_of_classes_do_not_matter() {
    let ratings = [
        ["a", "a", "b"],
        ["b", "b", "b"],
        ["c", "d", "c"],
        ["d", "d", "d"],
        ["a", "c", "a"],
        ["b", "c", "c"],
        ["d", "d", "a"],
    ];
    let alpha_of = |names: [&str; 4]| {
        let mut table = "subject,x,y,z\n".to_owned();
        for (index, row) in ratings.iter().enumerate() {
            let named = row.map(|class| names[usize::from(class.as_bytes()[0] - b'a')]);
            table += &format!("s{index},{}\n", named.join(","));
        }
        let found = lengthfilm::agreement::analysis::analyse_table(
            &table,
            Default::default(),
            LimitConvention::Normal196,
        )
        .unwrap();
        found.krippendorff_alpha.unwrap().alpha
    };
    let plain = alpha_of(["low", "middle", "high", "none"]);
    assert!(plain > 0.1 && plain < 0.9, "{plain}");
    close(alpha_of(["zebra", "ant", "mole", "newt"]), plain, 1e-12);
    close(alpha_of(["m", "n", "k", "p"]), plain, 1e-12);
}
