//! Everything the agreement measures can say about one table. Field names
//! are the JSON keys of `agreement --json`; docs/agreement.md explains them.

use serde::Serialize;

use super::{
    AgreementError,
    bland_altman::{BlandAltman, LimitConvention, bland_altman},
    clustered::{ClusteredBlandAltman, clustered_bland_altman},
    icc::{IccSet, VarianceTable, intraclass_correlations},
    kappa::{CohenKappa, cohen_kappa},
    many_raters::{FleissKappa, KrippendorffAlpha, Level, fleiss_kappa, krippendorff_alpha},
    repeatability::{Dahlberg, Repeatability, dahlberg, repeatability},
    table::{RatingTable, Ratings, TableError, TableSettings},
    weighted_kappa::{WeightedKappa, Weighting, weighted_kappa},
};

/// Numeric tables whose cells are whole numbers with at most this many
/// different values are read as class codes too, so that κ is given beside
/// the measures for numbers.
const MOST_CLASS_CODES: usize = 10;

/// All measures of one table; those that cannot be had are `null`, with a
/// reason among the warnings.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AgreementAnalysis {
    /// `numbers` or `classes`.
    pub kind: &'static str,
    pub subjects: usize,
    /// Rater names in column order.
    pub raters: Vec<String>,
    /// Heading of the column that was read as subject names.
    pub subject_column: Option<String>,
    pub anova: Option<VarianceTable>,
    pub icc: Option<IccSet>,
    /// Standard error of measurement, √ of the error mean square.
    pub sem: Option<f64>,
    /// Smallest detectable change, 1.96 √2 SEM.
    pub mdc95: Option<f64>,
    /// The raters taken as repeats of one measurement.
    pub repeatability: Option<Repeatability>,
    /// Two raters only; see `pairs` for more.
    pub bland_altman: Option<BlandAltman>,
    /// Two raters only.
    pub dahlberg: Option<Dahlberg>,
    /// Two raters only; classes, or numbers that can be class codes.
    pub kappa: Option<CohenKappa>,
    /// Mean of the pairwise κ (Light 1971) for three and more raters.
    pub mean_kappa: Option<f64>,
    /// Two raters whose subjects stand in the table more than once: limits that
    /// take a subject's pairs together.
    pub bland_altman_by_subject: Option<ClusteredBlandAltman>,
    /// Two raters only; classes in the order asked for, or codes.
    pub weighted_kappa: Option<WeightedKappas>,
    /// Classes of any number of raters.
    pub fleiss_kappa: Option<FleissKappa>,
    /// Classes, codes in order, or numbers.
    pub krippendorff_alpha: Option<KrippendorffAlpha>,
    /// Every pair of raters, in column order.
    pub pairs: Vec<PairAnalysis>,
    pub warnings: Vec<AgreementWarning>,
}

/// Weighted κ by both weightings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct WeightedKappas {
    pub linear: WeightedKappa,
    pub quadratic: WeightedKappa,
}

/// The measures of one pair of raters.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PairAnalysis {
    /// Names; differences are first − second.
    pub raters: [String; 2],
    pub bland_altman: Option<BlandAltman>,
    pub dahlberg: Option<Dahlberg>,
    pub kappa: Option<CohenKappa>,
}

/// Why a measure is missing, or what to beware of.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct AgreementWarning {
    /// Stable code, the key of the measure it speaks of or `table`.
    pub code: &'static str,
    pub text: String,
}

/// Reads a subjects × raters table from CSV text and works out everything it
/// allows.
///
/// # Errors
/// The table cannot be read or has a missing cell: [`TableError`] names line
/// and column.
pub fn analyse_table(
    text: &str,
    settings: TableSettings,
    convention: LimitConvention,
) -> Result<AgreementAnalysis, TableError> {
    let table = RatingTable::parse(text, settings)?;
    Ok(analyse_ratings(&table, convention, &[]))
}

/// Works out everything a table allows. `order`: the classes from least to
/// most, where they have an order; numbers that are codes have their own.
pub fn analyse_ratings(
    table: &RatingTable,
    convention: LimitConvention,
    order: &[String],
) -> AgreementAnalysis {
    let mut warnings = Warnings(Vec::new());
    for remark in &table.remarks {
        warnings.add("table", remark.clone());
    }
    let mut analysis = AgreementAnalysis {
        kind: match table.ratings {
            Ratings::Numbers(_) => "numbers",
            Ratings::Classes(_) => "classes",
        },
        subjects: table.subjects.len(),
        raters: table.raters.clone(),
        subject_column: table.subject_heading.clone(),
        anova: None,
        icc: None,
        sem: None,
        mdc95: None,
        repeatability: None,
        bland_altman: None,
        dahlberg: None,
        kappa: None,
        mean_kappa: None,
        bland_altman_by_subject: None,
        weighted_kappa: None,
        fleiss_kappa: None,
        krippendorff_alpha: None,
        pairs: Vec::new(),
        warnings: Vec::new(),
    };
    if let Ratings::Numbers(ratings) = &table.ratings {
        analysis.anova = warnings.keep("anova", VarianceTable::from_ratings(ratings));
        if let Some(anova) = &analysis.anova {
            analysis.icc = warnings.keep("icc", intraclass_correlations(anova));
            analysis.sem = Some(anova.sem());
            analysis.mdc95 = Some(anova.mdc95());
            analysis.repeatability = warnings.keep("repeatability", repeatability(ratings));
        }
        if let Some(icc) = &analysis.icc
            && (icc.icc_1_k.is_none() || icc.icc_2_k.is_none())
        {
            let text = "the subjects' means vary too little for a correlation of averages: its divisor is not positive";
            warnings.add("icc", text.into());
        }
    }
    analysis.pairs = pair_analyses(table, convention, &mut warnings);
    match analysis.pairs.as_slice() {
        [only] => {
            analysis.bland_altman = only.bland_altman;
            analysis.dahlberg = only.dahlberg;
            analysis.kappa = only.kappa.clone();
        }
        [] => {}
        several => {
            let kappas: Vec<f64> = several
                .iter()
                .filter_map(|pair| pair.kappa.as_ref().map(|k| k.kappa))
                .collect();
            analysis.mean_kappa =
                (kappas.len() == several.len()).then(|| crate::statistics::mean(&kappas));
        }
    }
    of_subjects(table, convention, &mut analysis, &mut warnings);
    of_classes(table, order, &mut analysis, &mut warnings);
    if table.raters.len() < 2 {
        warnings.add(
            "table",
            "the table has one rater: agreement needs at least two".into(),
        );
    }
    analysis.warnings = warnings.0;
    analysis
}

/// Limits of agreement where subjects stand in the table more than once.
fn of_subjects(
    table: &RatingTable,
    convention: LimitConvention,
    analysis: &mut AgreementAnalysis,
    warnings: &mut Warnings,
) {
    let mut names = table.subjects.clone();
    names.sort();
    names.dedup();
    if names.len() == table.subjects.len() {
        return;
    }
    warnings.add(
        "table",
        format!(
            "{} rows are of {} subjects: rows of one subject are not independent, and intervals that take them for it are too narrow",
            table.subjects.len(),
            names.len()
        ),
    );
    if let (Ratings::Numbers(rows), [_, _]) = (&table.ratings, table.raters.as_slice()) {
        let series = columns(rows);
        let found = clustered_bland_altman(&series[0], &series[1], &table.subjects, convention);
        analysis.bland_altman_by_subject = warnings.keep("bland_altman_by_subject", found);
    }
}

/// Measures for classes and codes, and Krippendorff's α of numbers.
fn of_classes(
    table: &RatingTable,
    order: &[String],
    analysis: &mut AgreementAnalysis,
    warnings: &mut Warnings,
) {
    if table.raters.len() < 2 {
        return;
    }
    let codes = ordered_codes(&table.ratings, order, warnings);
    let (ratings, level) = match (&table.ratings, &codes) {
        (_, Some(codes)) => (codes.clone(), Level::Ordinal),
        (Ratings::Numbers(rows), None) => (rows.clone(), Level::Interval),
        (Ratings::Classes(rows), None) => (named_codes(rows), Level::Nominal),
    };
    analysis.krippendorff_alpha =
        warnings.keep("krippendorff_alpha", krippendorff_alpha(&ratings, level));
    if let Some(classes) = class_columns(&table.ratings) {
        let rows = columns(&classes);
        analysis.fleiss_kappa = warnings.keep("fleiss_kappa", fleiss_kappa(&rows));
    }
    if let (Some(codes), [_, _]) = (codes, table.raters.as_slice()) {
        let most = codes
            .iter()
            .flatten()
            .fold(0.0_f64, |most, &code| most.max(code)) as usize;
        let least = order.len().max(most + 1);
        let mut counts = vec![vec![0; least]; least];
        for row in &codes {
            counts[row[0] as usize][row[1] as usize] += 1;
        }
        let linear = weighted_kappa(&counts, Weighting::Linear);
        let quadratic = weighted_kappa(&counts, Weighting::Quadratic);
        analysis.weighted_kappa = warnings
            .keep("weighted_kappa", linear)
            .zip(warnings.keep("weighted_kappa", quadratic))
            .map(|(linear, quadratic)| WeightedKappas { linear, quadratic });
    }
}

/// Places 0, 1, 2 … of the ratings in their order: that asked for, or by size
/// of whole-number codes.
fn ordered_codes(
    ratings: &Ratings,
    order: &[String],
    warnings: &mut Warnings,
) -> Option<Vec<Vec<f64>>> {
    match ratings {
        Ratings::Numbers(rows) => {
            class_columns(ratings)?;
            let mut codes: Vec<f64> = rows.iter().flatten().copied().collect();
            codes.sort_by(f64::total_cmp);
            codes.dedup();
            let place = |value: f64| codes.partition_point(|&code| code < value) as f64;
            Some(
                rows.iter()
                    .map(|row| row.iter().map(|&v| place(v)).collect())
                    .collect(),
            )
        }
        Ratings::Classes(_) if order.is_empty() => None,
        Ratings::Classes(rows) => {
            let place = |class: &String| {
                let lower = class.to_lowercase();
                let at = order
                    .iter()
                    .position(|name| name.trim().to_lowercase() == lower);
                at.map(|at| at as f64)
            };
            let codes: Option<Vec<Vec<f64>>> = rows
                .iter()
                .map(|row| row.iter().map(place).collect())
                .collect();
            if codes.is_none() {
                let text = "the order asked for does not name every class of the table";
                warnings.add("weighted_kappa", text.to_owned());
            }
            codes
        }
    }
}

/// Classes as numbers that only tell them apart.
fn named_codes(rows: &[Vec<String>]) -> Vec<Vec<f64>> {
    let mut names: Vec<&String> = rows.iter().flatten().collect();
    names.sort();
    names.dedup();
    let place = |class: &String| names.partition_point(|name| *name < class) as f64;
    rows.iter()
        .map(|row| row.iter().map(place).collect())
        .collect()
}

/// The measures of every pair of raters.
fn pair_analyses(
    table: &RatingTable,
    convention: LimitConvention,
    warnings: &mut Warnings,
) -> Vec<PairAnalysis> {
    let class_columns = class_columns(&table.ratings);
    let number_columns = match &table.ratings {
        Ratings::Numbers(rows) => Some(columns(rows)),
        Ratings::Classes(_) => None,
    };
    let mut pairs = Vec::new();
    for first in 0..table.raters.len() {
        for second in first + 1..table.raters.len() {
            let mut pair = PairAnalysis {
                raters: [table.raters[first].clone(), table.raters[second].clone()],
                bland_altman: None,
                dahlberg: None,
                kappa: None,
            };
            if let Some(series) = &number_columns {
                let (a, b) = (&series[first], &series[second]);
                let limits = bland_altman(a, b, convention);
                pair.bland_altman = warnings.keep("bland_altman", limits);
                pair.dahlberg = warnings.keep("dahlberg", dahlberg(a, b));
            }
            if let Some(classes) = &class_columns {
                let kappa = cohen_kappa(&classes[first], &classes[second]);
                pair.kappa = warnings.keep("kappa", kappa);
            }
            pairs.push(pair);
        }
    }
    pairs
}

/// The raters' classes by column; `None` for numbers that are measurements.
fn class_columns(ratings: &Ratings) -> Option<Vec<Vec<String>>> {
    match ratings {
        Ratings::Classes(rows) => Some(columns(rows)),
        Ratings::Numbers(rows) => {
            let mut codes: Vec<f64> = rows.iter().flatten().copied().collect();
            codes.sort_by(f64::total_cmp);
            codes.dedup();
            let are_codes =
                codes.len() <= MOST_CLASS_CODES && codes.iter().all(|code| code.fract() == 0.0);
            let named: Vec<Vec<String>> = rows
                .iter()
                .map(|row| row.iter().map(f64::to_string).collect())
                .collect();
            are_codes.then(|| columns(&named))
        }
    }
}

/// Rows to columns.
fn columns<T: Clone>(rows: &[Vec<T>]) -> Vec<Vec<T>> {
    let width = rows.first().map_or(0, Vec::len);
    (0..width)
        .map(|column| rows.iter().map(|row| row[column].clone()).collect())
        .collect()
}

/// Warnings in the making; the same text is kept once.
struct Warnings(Vec<AgreementWarning>);

impl Warnings {
    fn add(&mut self, code: &'static str, text: String) {
        let warning = AgreementWarning { code, text };
        if !self.0.contains(&warning) {
            self.0.push(warning);
        }
    }

    /// The value, or `None` and its reason among the warnings.
    fn keep<T>(&mut self, code: &'static str, result: Result<T, AgreementError>) -> Option<T> {
        result
            .map_err(|reason| self.add(code, reason.to_string()))
            .ok()
    }
}
