//! Agreement measures against published tables and general statistics
//! packages (tests/scripts/agreement_reference.py).

use lengthfilm::agreement::{
    AgreementError, Interval,
    analysis::{AgreementAnalysis, analyse_table},
    bland_altman::{LimitConvention, bland_altman},
    icc::{IccSet, VarianceTable, intraclass_correlations},
    kappa::{CohenKappa, cohen_kappa, cohen_kappa_from_counts},
    repeatability::{dahlberg, repeatability},
    table::{CellKind, RatingTable, Ratings, SubjectColumn, TableSettings},
};

/// Shrout & Fleiss 1979, Psychol Bull 86:420–8, Table 2 (SEEN): six targets,
/// four judges.
pub const SHROUT_FLEISS: [[f64; 4]; 6] = [
    [9.0, 2.0, 5.0, 8.0],
    [6.0, 1.0, 3.0, 2.0],
    [8.0, 4.0, 6.0, 8.0],
    [7.0, 1.0, 2.0, 6.0],
    [10.0, 5.0, 6.0, 9.0],
    [6.0, 2.0, 4.0, 7.0],
];

/// Bland & Altman 1986, Lancet i:307–10, peak flow in l/min (SEEN): large
/// meter first and second reading, mini meter first and second reading.
const LARGE_1: [f64; 17] = [
    494., 395., 516., 434., 476., 557., 413., 442., 650., 433., 417., 656., 267., 478., 178., 423.,
    427.,
];
const LARGE_2: [f64; 17] = [
    490., 397., 512., 401., 470., 611., 415., 431., 638., 429., 420., 633., 275., 492., 165., 372.,
    421.,
];
const MINI_1: [f64; 17] = [
    512., 430., 520., 428., 500., 600., 364., 380., 658., 445., 432., 626., 260., 477., 259., 350.,
    451.,
];
const MINI_2: [f64; 17] = [
    525., 415., 508., 444., 500., 625., 460., 390., 642., 432., 420., 605., 227., 467., 268., 370.,
    443.,
];

fn rows<const N: usize>(table: &[[f64; N]]) -> Vec<Vec<f64>> {
    table.iter().map(|row| row.to_vec()).collect()
}

fn icc(ratings: &[Vec<f64>]) -> Result<IccSet, AgreementError> {
    intraclass_correlations(&VarianceTable::from_ratings(ratings)?)
}

/// Asserts that `value` rounds to `printed` at the digits `printed` shows.
#[track_caller]
fn prints(value: f64, printed: &str) {
    let digits = printed.split_once('.').map_or(0, |(_, d)| d.len());
    assert_eq!(format!("{value:.digits$}"), printed);
}

#[track_caller]
fn interval_prints(interval: Interval, low: &str, high: &str) {
    prints(interval.low, low);
    prints(interval.high, high);
}

/// Differences that grow with the size of what is rated: second = 0.8 first, so
/// that difference and mean are one line; and a difference that does not.
#[test]
fn differences_are_held_against_means() {
    let first = [10.0, 12.0, 15.0, 21.0];
    let of = |second: [f64; 4]| {
        let found = bland_altman(&first, &second, LimitConvention::Normal196).unwrap();
        found.difference_against_mean.unwrap()
    };
    assert!((of(first.map(|value| 0.8 * value)) - 1.0).abs() < 1e-12);
    // Differences 1, −1, −1, 1, whose mean is 0, of these means.
    let found = of([9.0, 13.0, 16.0, 20.0]);
    let means: [f64; 4] = [9.5, 12.5, 15.5, 20.5];
    let middle = means.iter().sum::<f64>() / 4.0;
    let squares: f64 = means.iter().map(|mean| (mean - middle).powi(2)).sum();
    let products = means[0] - means[1] - means[2] + means[3];
    assert!((found - products / (4.0 * squares).sqrt()).abs() < 1e-12);
}

#[test]
fn shrout_and_fleiss_mean_squares() {
    let table = VarianceTable::from_ratings(&rows(&SHROUT_FLEISS)).unwrap();
    // Table 3 of the paper (SEEN).
    prints(table.between_subjects.mean_square, "11.24");
    prints(table.within_subjects.mean_square, "6.26");
    prints(table.between_raters.mean_square, "32.49");
    prints(table.error.mean_square, "1.02");
    // Sums of squares (DERIVED).
    prints(table.between_subjects.sum_of_squares, "56.2083");
    prints(table.between_raters.sum_of_squares, "97.4583");
    prints(table.error.sum_of_squares, "15.2917");
    prints(table.within_subjects.sum_of_squares, "112.7500");
    prints(table.total.sum_of_squares, "168.9583");
    // 24 ratings.
    prints(table.total.mean_square, "7.3460");
    prints(table.sem(), "1.00968");
    prints(table.mdc95(), "2.79868");
}

#[test]
fn shrout_and_fleiss_correlations() {
    let set = icc(&rows(&SHROUT_FLEISS)).unwrap();
    let average = |icc: Option<lengthfilm::agreement::icc::Icc>| icc.unwrap();
    // Table 4 of the paper (SEEN), two digits; six digits and intervals
    // DERIVED.
    prints(set.icc_1_1.value, "0.17");
    prints(set.icc_2_1.value, "0.29");
    prints(set.icc_3_1.value, "0.71");
    prints(average(set.icc_1_k).value, "0.44");
    prints(average(set.icc_2_k).value, "0.62");
    prints(average(set.icc_3_k).value, "0.91");
    prints(set.icc_1_1.value, "0.165742");
    prints(set.icc_2_1.value, "0.289764");
    prints(set.icc_3_1.value, "0.714841");
    prints(average(set.icc_1_k).value, "0.442797");
    prints(average(set.icc_2_k).value, "0.620051");
    prints(average(set.icc_3_k).value, "0.909316");
    interval_prints(set.icc_1_1.ci95, "-0.1329", "0.7226");
    interval_prints(set.icc_2_1.ci95, "0.0188", "0.7611");
    interval_prints(set.icc_3_1.ci95, "0.3425", "0.9459");
    interval_prints(average(set.icc_1_k).ci95, "-0.8844", "0.9124");
    interval_prints(average(set.icc_2_k).ci95, "0.0711", "0.9272");
    interval_prints(average(set.icc_3_k).ci95, "0.6757", "0.9859");
}

/// Values of pingouin 0.7.0 (`intraclass_corr`).
#[test]
fn correlations_equal_a_statistics_package() {
    let angles = rows(&[
        [21.5, 23.0, 22.1],
        [35.2, 34.0, 37.9],
        [10.1, 14.2, 9.8],
        [28.0, 31.5, 27.2],
        [44.4, 41.9, 45.0],
    ]);
    let set = icc(&angles).unwrap();
    prints(set.icc_1_1.value, "0.9763914577");
    prints(set.icc_2_1.value, "0.9763632519");
    prints(set.icc_3_1.value, "0.9728762772");
    prints(set.icc_1_k.unwrap().value, "0.9920046468");
    prints(set.icc_2_k.unwrap().value, "0.9919949416");
    prints(set.icc_3_k.unwrap().value, "0.9907922603");

    interval_prints(set.icc_1_1.ci95, "0.8999694683", "0.9972927306");
    interval_prints(set.icc_2_1.ci95, "0.8950803922", "0.9973078547");
    interval_prints(set.icc_3_1.ci95, "0.8723110603", "0.9969300698");
    interval_prints(set.icc_1_k.unwrap().ci95, "0.9642740310", "0.9990959452");
    interval_prints(set.icc_2_k.unwrap().ci95, "0.9623965728", "0.9991010047");
    interval_prints(set.icc_3_k.unwrap().ci95, "0.9534766776", "0.9989745913");

    let poor = rows(&[[3.0, 1.0], [1.0, 3.5], [2.0, 2.2], [2.5, 1.1]]);
    let set = icc(&poor).unwrap();
    prints(set.icc_1_1.value, "-0.9110764431");
    prints(set.icc_2_1.value, "-1.7528089888");
    prints(set.icc_3_1.value, "-0.9318996416");
    prints(set.icc_1_k.unwrap().value, "-20.4912280702");
    prints(set.icc_3_k.unwrap().value, "-27.3684210526");
    interval_prints(set.icc_1_1.ci95, "-0.9907177600", "-0.1746341547");
    interval_prints(set.icc_2_1.ci95, "-1.9385826254", "-0.3851594469");
    interval_prints(set.icc_3_1.ci95, "-0.9954440380", "-0.2951368635");
    // The package divides by a negative variance and prints 4.66.
    assert_eq!(set.icc_2_k, None);
}

#[test]
fn bland_and_altman_peak_flow() {
    let b = bland_altman(&LARGE_1, &MINI_1, LimitConvention::Normal196).unwrap();
    // Mean and SD SEEN; the rest DERIVED from the paper's data.
    prints(b.bias, "-2.1176");
    prints(b.sd, "38.7651");
    prints(b.lower_limit, "-78.097");
    prints(b.upper_limit, "73.862");
    interval_prints(b.bias_ci95, "-22.05", "17.81");
    prints(b.correlation.unwrap(), "0.94"); // SEEN
    let two = bland_altman(&LARGE_1, &MINI_1, LimitConvention::TwoSd).unwrap();
    prints(two.lower_limit, "-79.6");
    prints(two.upper_limit, "75.4");
    interval_prints(two.lower_limit_ci95, "-114.17", "-45.13"); // paper: 114.3 to 45.1
    interval_prints(two.upper_limit_ci95, "40.89", "109.93");
}

/// Errors speak of repeats, not of the correlation that shares its table.
#[test]
fn repeatability_names_itself_when_it_cannot_be_had() {
    let once = repeatability(&[vec![1.0], vec![2.0]]).unwrap_err();
    assert_eq!(
        once.to_string(),
        "repeatability needs at least 2 repeats, the data have 1"
    );
    let alone = repeatability(&[vec![1.0, 2.0]]).unwrap_err();
    assert_eq!(
        alone.to_string(),
        "repeatability needs at least 2 subjects, the data have 1"
    );
}

#[test]
fn bland_and_altman_repeatability() {
    for (first, second, sw, twice, coefficient) in [
        (LARGE_1, LARGE_2, "15.307", "43.294", "42.43"),
        (MINI_1, MINI_2, "19.911", "56.316", "55.19"),
    ] {
        let pairs: Vec<Vec<f64>> = first.iter().zip(second).map(|(&a, b)| vec![a, b]).collect();
        let r = repeatability(&pairs).unwrap();
        // DERIVED from the paper's data; the paper's 43.2 and 56.4 are MEM-M.
        prints(r.within_subject_sd, sw);
        prints(r.two_sd_of_differences.unwrap(), twice);
        prints(r.repeatability_coefficient, coefficient);
        // ISO 5725 rounds 1.96 √2 = 2.772 to 2.8 (MEM-H).
        assert!((r.iso_5725_limit - 2.8 * r.within_subject_sd).abs() < 1e-12);
        // Dahlberg's √(Σd²/2n) (SEEN) is the same number for pairs.
        prints(dahlberg(&first, &second).unwrap().error, sw);
    }
}

/// By hand from mean and SD of the differences; p from SciPy's t.
#[test]
fn dahlberg_keeps_bias_apart() {
    // d = 1.1, 0.9, 1.0, 1.2, 0.8: mean 1, SD √0.025, t = 1/(√0.025/√5) = 14.1421,
    // p (scipy.stats.t.sf(14.1421, 4)·2) = 0.000145.
    let first = [11.1, 12.9, 16.0, 20.2, 30.8];
    let second = [10.0, 12.0, 15.0, 19.0, 30.0];
    let d = dahlberg(&first, &second).unwrap();
    prints(d.mean_difference, "1.0000");
    prints(d.error, "0.714143"); // √(5.1/10)
    prints(d.error_without_bias.unwrap(), "0.111803"); // √0.025/√2
    prints(d.t.unwrap(), "14.1421");
    prints(d.p.unwrap(), "0.000145");

    let offset = dahlberg(&[1.0, 2.0, 3.0], &[0.0, 1.0, 2.0]).unwrap();
    assert_eq!(
        (offset.mean_difference, offset.t, offset.p),
        (1.0, None, None)
    );
    let single = dahlberg(&[2.0], &[1.0]).unwrap();
    assert_eq!(single.error_without_bias, None);
    prints(single.error, "0.7071");
}

fn kappa_of(counts: &[&[u64]]) -> CohenKappa {
    let classes = (0..counts.len()).map(|c| c.to_string()).collect();
    cohen_kappa_from_counts(classes, counts.iter().map(|r| r.to_vec()).collect()).unwrap()
}

#[test]
fn cohen_kappa_tables() {
    let k = kappa_of(&[&[20, 5], &[10, 15]]);
    // Worked table of Cohen's κ (SEEN-2); simple standard error DERIVED.
    prints(k.observed_agreement, "0.70");
    prints(k.expected_agreement, "0.50");
    prints(k.kappa, "0.40");
    prints(k.se_simple, "0.1296");
    // DERIVED (tables MEM-H): same agreement 0.60, different κ.
    // Two raters who agree on everything: a standard error of 0 is no certainty.
    let agreed = kappa_of(&[&[7, 0], &[0, 5]]);
    prints(agreed.kappa, "1.0");
    assert_eq!(agreed.ci95, None);
    assert!(agreed.ci95_missing.unwrap().contains("standard error is 0"));
    assert!(k.ci95.is_some());
    prints(kappa_of(&[&[45, 15], &[25, 15]]).kappa, "0.1304");
    prints(kappa_of(&[&[25, 35], &[5, 35]]).kappa, "0.2593");
    prints(kappa_of(&[&[45, 15], &[25, 15]]).observed_agreement, "0.60");
}

/// statsmodels `cohens_kappa`: κ and its large-sample standard error.
#[test]
fn kappa_standard_errors_equal_a_statistics_package() {
    let cases: [(&[&[u64]], &str, &str); 3] = [
        (&[&[20, 5], &[10, 15]], "0.4000000000", "0.1269960629"),
        (
            &[&[75, 1, 4], &[5, 4, 1], &[0, 0, 10]],
            "0.6764705882",
            "0.0877029535",
        ),
        (
            &[&[106, 10, 4], &[22, 28, 10], &[2, 12, 6]],
            "0.4285714286",
            "0.0537110049",
        ),
    ];
    for (counts, kappa, se) in cases {
        let k = kappa_of(counts);
        prints(k.kappa, kappa);
        prints(k.se_asymptotic, se);
        let ci95 = k.ci95.unwrap();
        let half_width = (ci95.high - ci95.low) / 2.0;
        assert!((half_width - 1.96 * k.se_asymptotic).abs() < 1e-6);
    }
}

#[test]
fn kappa_limits() {
    let perfect = cohen_kappa(&["a", "b", "a"], &["a", "b", "a"]).unwrap();
    assert_eq!((perfect.kappa, perfect.se_asymptotic), (1.0, 0.0));
    let opposite = cohen_kappa(&["a", "b"], &["b", "a"]).unwrap();
    assert_eq!(opposite.kappa, -1.0);
    let one_class = cohen_kappa(&["a", "a"], &["a", "a"]).unwrap_err();
    assert!(one_class.to_string().contains("one and the same class"));
    assert!(cohen_kappa::<&str>(&[], &[]).is_err());
    assert!(cohen_kappa(&["a"], &["a", "b"]).is_err());
    // One rater constant, the other not: agreement no better than chance.
    assert_eq!(cohen_kappa(&["a", "a"], &["a", "b"]).unwrap().kappa, 0.0);
}

#[test]
fn degenerate_ratings_are_refused_with_reasons() {
    let message = |ratings: &[Vec<f64>]| icc(ratings).unwrap_err().to_string();
    let v = |cells: &[f64]| cells.to_vec();
    assert!(message(&[]).contains("at least 2 subjects, the data have 0"));
    assert!(message(&[v(&[1.0, 2.0])]).contains("at least 2 subjects, the data have 1"));
    assert!(message(&[v(&[1.0]), v(&[2.0])]).contains("at least 2 raters, the data have 1"));
    assert!(message(&[v(&[1.0, 2.0]), v(&[3.0])]).contains("subject 2 has 1 ratings"));
    assert!(
        message(&[v(&[1.0, f64::NAN]), v(&[3.0, 4.0])])
            .contains("rating 2 of subject 1 is missing")
    );
    assert!(message(&[v(&[0.1, 0.1, 0.1]), v(&[0.1, 0.1, 0.1])]).contains("all ratings are equal"));
    assert!(message(&[v(&[1.0, 2.0]), v(&[1.0, 2.0])]).contains("no subject differs"));
    assert!(message(&[v(&[1.0, 2.0]), v(&[2.0, 1.0])]).contains("divides by zero"));
    assert!(message(&[v(&[1e200, -1e200]), v(&[0.0, 1.0])]).contains("beyond 1e100"));
}

#[test]
fn perfect_agreement_and_pure_offset() {
    let same = rows(&[[1.0, 1.0], [2.0, 2.0], [5.0, 5.0]]);
    let set = icc(&same).unwrap();
    for one in [set.icc_1_1, set.icc_2_1, set.icc_3_1, set.icc_2_k.unwrap()] {
        assert_eq!(one.value, 1.0);
        interval_prints(one.ci95, "1.000000000000", "1.000000000000");
    }
    // Rater B reads 1 more. MSB 26/3, MSJ 1.5, MSE 0 by hand:
    // ICC(3,1) 1, ICC(2,1) = B/(B + kJ/n) = 0.896552.
    let offset = rows(&[[1.0, 2.0], [2.0, 3.0], [5.0, 6.0]]);
    let set = icc(&offset).unwrap();
    assert_eq!(set.icc_3_1.value, 1.0);
    prints(set.icc_2_1.value, "0.896552");
    assert!(set.icc_2_1.ci95.low < set.icc_2_1.value && set.icc_2_1.value < set.icc_2_1.ci95.high);
}

fn analyse(text: &str) -> AgreementAnalysis {
    analyse_table(text, TableSettings::default(), LimitConvention::default()).unwrap()
}

fn refusal(text: &str) -> String {
    analyse_table(text, TableSettings::default(), LimitConvention::default())
        .unwrap_err()
        .to_string()
}

#[test]
fn numeric_table_with_and_without_subject_column() {
    let mut bare = "A,B,C,D\n".to_owned();
    let mut named = "\u{feff}Target;Judge 1;Judge 2;Judge 3;Judge 4\r\n".to_owned();
    for (i, row) in SHROUT_FLEISS.iter().enumerate() {
        let cells: Vec<String> = row.iter().map(f64::to_string).collect();
        bare += &format!("{}\n", cells.join(","));
        let cells: Vec<String> = row
            .iter()
            .map(|v| format!("{v:.1}").replace('.', ","))
            .collect();
        named += &format!("{};{}\r\n", i + 1, cells.join(";"));
    }
    let (bare, named) = (analyse(&bare), analyse(&named));
    assert_eq!(bare.subject_column, None);
    assert_eq!(named.subject_column.as_deref(), Some("Target"));
    assert_eq!(bare.icc, named.icc);
    prints(bare.icc.unwrap().icc_2_1.value, "0.289764");
    assert_eq!(named.raters, ["Judge 1", "Judge 2", "Judge 3", "Judge 4"]);
    let pairs: Vec<_> = bare.pairs.iter().map(|p| p.raters.join("")).collect();
    assert_eq!(pairs, ["AB", "AC", "AD", "BC", "BD", "CD"]);
    assert!(bare.bland_altman.is_none() && bare.pairs[0].bland_altman.is_some());
    assert_eq!((bare.kind, bare.subjects), ("numbers", 6));
}

#[test]
fn two_raters_get_pair_measures_and_json_keys() {
    let mut text = "subject,large,mini\n".to_owned();
    for (i, (a, b)) in LARGE_1.iter().zip(MINI_1).enumerate() {
        text += &format!("P{i},{a},{b}\n");
    }
    let json = serde_json::to_value(analyse(&text)).unwrap();
    prints(json["bland_altman"]["bias"].as_f64().unwrap(), "-2.1176");
    prints(
        json["bland_altman"]["bias_ci95"][0].as_f64().unwrap(),
        "-22.05",
    );
    assert!(json["icc"]["icc_2_1"]["ci95"][1].as_f64().unwrap() > 0.9);
    assert!(json["dahlberg"]["error"].is_f64());
    assert!(json["kappa"].is_null());
    assert_eq!(json["warnings"], serde_json::json!([]));
}

#[test]
fn class_tables_give_kappa() {
    let mut text = "film,first,second\n".to_owned();
    for (count, cells) in [
        (20, "yes,yes"),
        (5, "yes,no"),
        (10, "no,yes"),
        (15, "no,no"),
    ] {
        for i in 0..count {
            text +=
                &format!("{cells}{i},{cells}\n").replace(&format!("{cells}{i}"), &format!("f{i}"));
        }
    }
    let analysis = analyse(&text);
    assert_eq!((analysis.kind, analysis.subjects), ("classes", 50));
    prints(analysis.kappa.unwrap().kappa, "0.40");
    assert_eq!(analysis.icc, None);

    // Codes 0/1 are numbers, and κ is given beside the ICC.
    let coded = text.replace("yes", "1").replace("no", "0");
    let analysis = analyse(&coded);
    assert_eq!(analysis.kind, "numbers");
    prints(analysis.kappa.as_ref().unwrap().kappa, "0.40");
    assert!(analysis.icc.is_some());

    // Without a heading that says so, a first column of distinct names no
    // rater uses is still read as names; three raters give pairwise κ.
    let three = "x,a,b,c\nu,good,good,bad\nv,bad,bad,bad\nw,good,good,good\n";
    let analysis = analyse(three);
    assert_eq!(analysis.raters, ["a", "b", "c"]);
    // κ(a,b) = 1; κ(a,c) = κ(b,c) = 0.4 by hand.
    prints(analysis.mean_kappa.unwrap(), "0.6000");
    assert_eq!(analysis.kappa, None);
}

#[test]
fn unusable_tables_are_refused_by_line_and_column() {
    assert!(refusal("").contains("empty"));
    assert!(refusal("a,b\n").contains("no subjects"));
    assert!(refusal("a,b\n1,2\n3\n").contains("line 3: 1 cells, the heading has 2"));
    let missing = refusal("subject,a,b\nS1,1,2\n\nS2,3,\n");
    assert!(
        missing.contains("line 4 (subject S2), column \"b\": no rating"),
        "{missing}"
    );
    assert!(refusal("a,b\n1,NA\n2,3\n").contains("line 2 (subject 1), column \"b\""));
    let odd = refusal("a,b\n1,2\n3,4x\n");
    assert!(
        odd.contains("line 3 (subject 2), column \"b\": \"4x\" is not a finite number"),
        "{odd}"
    );
    assert!(refusal("a,b\n1,inf\n2,3\n").contains("\"inf\" is not a finite number"));
    assert!(refusal("a,a\n1,2\n").contains("two columns are headed \"a\""));
    assert!(refusal("a,\n1,2\n").contains("rater column 2 has no heading"));
    assert!(refusal("subject\nS1\n").contains("no rater column"));
}

#[test]
fn one_rater_or_one_subject_gives_nulls_with_reasons() {
    let one = analyse("a\n1\n2\n");
    assert!(one.icc.is_none() && one.pairs.is_empty());
    assert!(one.warnings.iter().any(|w| w.text.contains("one rater")));
    let single = analyse("a,b\n1.5,2.5\n");
    assert!(single.anova.is_none() && single.bland_altman.is_none());
    assert!(single.dahlberg.is_some());
    assert!(
        single
            .warnings
            .iter()
            .any(|w| w.code == "icc" || w.code == "anova")
    );
    let constant = analyse("a,b\n2.5,2.5\n2.5,2.5\n2.5,2.5\n");
    assert!(constant.icc.is_none());
    assert_eq!(constant.bland_altman.unwrap().sd, 0.0);
    assert!(
        constant
            .warnings
            .iter()
            .any(|w| w.text.contains("all ratings are equal"))
    );
    // Nothing in any of these may be a number that JSON cannot hold.
    for analysis in [one, single, constant] {
        serde_json::to_string(&analysis).unwrap();
    }
}

#[test]
fn settings_override_detection() {
    let text = "one,two\n1,2\n2,2\n3,1\n";
    let remarked = RatingTable::parse(text, TableSettings::default()).unwrap();
    assert!(remarked.remarks[0].contains("counts 1 to 3"));
    let settings = TableSettings {
        subject_column: SubjectColumn::First,
        cell_kind: CellKind::Classes,
        ..TableSettings::default()
    };
    let forced = RatingTable::parse(text, settings).unwrap();
    assert_eq!(forced.raters, ["two"]);
    assert!(matches!(forced.ratings, Ratings::Classes(_)));
    let settings = TableSettings {
        subject_column: SubjectColumn::None,
        cell_kind: CellKind::Numbers,
        ..TableSettings::default()
    };
    let text = "subject,other\n4,2\n2,2\n";
    assert_eq!(RatingTable::parse(text, settings).unwrap().raters.len(), 2);
}

proptest::proptest! {
    /// No text makes the reader panic, and whatever it accepts is JSON.
    #[test]
    fn any_table_is_read_or_refused(text in "[a-c1-3.,;\"\\n\\t é-]{0,80}") {
        if let Ok(analysis) = analyse_table(&text, TableSettings::default(), LimitConvention::TwoSd) {
            serde_json::to_string(&analysis).unwrap();
        }
    }

    /// Shifting or scaling all ratings changes no correlation.
    #[test]
    fn correlations_do_not_depend_on_origin_or_unit(
        ratings in proptest::collection::vec(proptest::collection::vec(0.0..50.0, 3), 3..12),
        shift in -100.0..100.0, scale in 0.01..100.0,
    ) {
        let moved: Vec<Vec<f64>> = ratings
            .iter()
            .map(|row| row.iter().map(|v| v * scale + shift).collect())
            .collect();
        let (a, b) = (icc(&ratings).unwrap(), icc(&moved).unwrap());
        for (a, b) in [(a.icc_1_1, b.icc_1_1), (a.icc_2_1, b.icc_2_1), (a.icc_3_1, b.icc_3_1)] {
            proptest::prop_assert!((a.value - b.value).abs() < 1e-6, "{} {}", a.value, b.value);
            proptest::prop_assert!(a.ci95.low <= a.value && a.value <= a.ci95.high, "{a:?}");
        }
    }
}
