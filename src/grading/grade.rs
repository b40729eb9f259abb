//! One student's traces against the reference.

use std::collections::BTreeMap;

use serde::Serialize;

use super::distances::{Deviation, deviations, trace_distances};
use super::measures::{Measure, Values};
use super::reference::{DrawnCanal, Reference, ReferenceCanal};
use super::rubric::{Rubric, RubricLine};
use super::submission::Submission;
use super::words::{stray_sentences, stray_stretches};
use crate::uncertainty::rounding::{fixed, spaced};
use crate::units::FilmPoint;

/// Places along the reference at which deviations are given.
pub const DEVIATION_POINTS: usize = 101;

/// How one limit came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// Within the limit.
    Met,
    /// Outside it.
    NotMet,
    /// The student did not mark what the reference has: no points.
    Missing,
    /// The reference has nothing to compare with: left out of the total.
    NotAssessed,
}

impl Verdict {
    /// The key in JSON and CSV.
    pub fn key(self) -> &'static str {
        match self {
            Verdict::Met => "met",
            Verdict::NotMet => "not_met",
            Verdict::Missing => "missing",
            Verdict::NotAssessed => "not_assessed",
        }
    }
}

/// One rubric line of one canal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineGrade {
    pub measure: Measure,
    pub value: Option<f64>,
    pub verdict: Verdict,
    pub points: f64,
    /// One sentence for the student.
    pub sentence: String,
}

/// Deviations along the reference, orifice first.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct DeviationTable {
    pub from_apex_mm: Option<Vec<f64>>,
    /// Positive: the trace lies to the right of one who walks towards the
    /// apex, clockwise on the film.
    pub offset_mm: Option<Vec<f64>>,
    pub from_apex_px: Option<Vec<f64>>,
    pub offset_px: Option<Vec<f64>>,
}

impl DeviationTable {
    pub(super) fn new(deviations: &[Deviation], in_mm: bool) -> Self {
        let places = deviations.iter().map(|d| d.from_end_mm).collect();
        let offsets = deviations.iter().map(|d| d.offset_mm).collect();
        if in_mm {
            Self {
                from_apex_mm: Some(places),
                offset_mm: Some(offsets),
                ..Self::default()
            }
        } else {
            Self {
                from_apex_px: Some(places),
                offset_px: Some(offsets),
                ..Self::default()
            }
        }
    }
}

/// One canal of one student.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CanalGrade {
    /// The reference's name of it.
    pub name: String,
    /// Length of the drawn curve.
    pub curved_length_mm: Option<f64>,
    pub curved_length_px: Option<f64>,
    /// Every measure; `null` where it cannot be had.
    pub measures: BTreeMap<Measure, Option<f64>>,
    pub lines: Vec<LineGrade>,
    pub points: f64,
    pub points_possible: f64,
    /// `null` when no line could be assessed.
    pub passed: Option<bool>,
    /// Where along the canal the trace strays, in words.
    pub strays: Vec<String>,
    pub deviations: DeviationTable,
    pub warnings: Vec<String>,
    /// In the unit of the reference's path.
    #[serde(skip)]
    pub(super) offsets: Vec<Deviation>,
    /// What a picture shows of it.
    #[serde(skip)]
    pub picture: CanalPicture,
}

/// One drawn canal on the reference's film, px.
#[derive(Clone, Debug, PartialEq)]
pub struct CanalPicture {
    /// The drawn curve, orifice → apex.
    pub path_px: Vec<FilmPoint>,
    /// Apex mark, else end of trace.
    pub apex_px: FilmPoint,
    /// File tip mark.
    pub tip_px: Option<FilmPoint>,
    /// Where the trace strays: from the reference to the nearest place of
    /// the trace, at equal steps of the reference, one list per stretch.
    pub strays_px: Vec<Vec<[FilmPoint; 2]>>,
}

/// All canals of one student.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TraceGrade {
    pub student: String,
    pub file: String,
    /// SHA-256 of the case file; `null` for a case from memory.
    pub case_sha256: Option<String>,
    pub canals: Vec<CanalGrade>,
    /// Canals of the reference the student did not trace.
    pub missing_canals: Vec<String>,
    /// Canals the reference does not have.
    pub unmatched_canals: Vec<String>,
    pub points: f64,
    pub points_possible: f64,
    /// Every canal of the reference is there and passed.
    pub passed: Option<bool>,
    pub warnings: Vec<String>,
}

/// Grades one case whose points are px of the reference's film.
///
/// # Errors
/// One clear line: the case cannot be measured, or has no canal in common
/// with the reference.
pub fn grade(
    reference: &Reference,
    rubric: &Rubric,
    submission: &Submission,
) -> Result<TraceGrade, String> {
    let drawn = reference.drawn_canals(submission)?;
    let mut canals = Vec::with_capacity(drawn.len());
    let mut unmatched_canals = Vec::new();
    for canal in &drawn {
        match reference.matching(&canal.name, drawn.len()) {
            Some(matched) => canals.push(grade_canal(reference, matched, canal, rubric)),
            None => unmatched_canals.push(canal.name.clone()),
        }
    }
    if canals.is_empty() {
        let wanted: Vec<&str> = reference.canals.iter().map(|c| c.name.as_str()).collect();
        return Err(format!(
            "{}: no traced canal of the reference ({}) is in it",
            submission.file,
            wanted.join(", ")
        ));
    }
    let missing: Vec<&ReferenceCanal> = reference
        .canals
        .iter()
        .filter(|wanted| canals.iter().all(|c: &CanalGrade| c.name != wanted.name))
        .collect();
    let missing_canals: Vec<String> = missing.iter().map(|wanted| wanted.name.clone()).collect();
    // What an untraced canal could have earned counts as not earned.
    let missed: f64 = missing
        .iter()
        .map(|wanted| grade_canal(reference, wanted, &wanted.as_drawn(), rubric).points_possible)
        .sum();
    let verdicts: Vec<bool> = canals.iter().filter_map(|c| c.passed).collect();
    let passed = match verdicts.as_slice() {
        [] => None,
        known => Some(missing_canals.is_empty() && known.iter().all(|&p| p)),
    };
    Ok(TraceGrade {
        student: submission.student.clone(),
        file: submission.file.clone(),
        case_sha256: submission.case_sha256.clone(),
        points: canals.iter().map(|c| c.points).sum(),
        points_possible: missed + canals.iter().map(|c| c.points_possible).sum::<f64>(),
        canals,
        missing_canals,
        unmatched_canals,
        passed,
        warnings: submission.warnings.clone(),
    })
}

fn grade_canal(
    reference: &Reference,
    wanted: &ReferenceCanal,
    drawn: &DrawnCanal,
    rubric: &Rubric,
) -> CanalGrade {
    let values = measure_all(reference, wanted, drawn);
    let lines: Vec<LineGrade> = rubric
        .lines
        .iter()
        .map(|line| grade_line(line, &values, reference, wanted))
        .collect();
    let met = |l: &&LineGrade| l.verdict == Verdict::Met;
    let assessed = |l: &&LineGrade| l.verdict != Verdict::NotAssessed;
    let worth = |keep: &dyn Fn(&&LineGrade) -> bool| -> f64 {
        let pairs = lines.iter().zip(&rubric.lines);
        pairs.filter(|(l, _)| keep(l)).map(|(_, r)| r.points).sum()
    };
    let (points, points_possible) = (worth(&met), worth(&assessed));
    let offsets = deviations(&wanted.path, &drawn.path, DEVIATION_POINTS);
    let strays = if reference.has_scale() {
        stray_sentences(&wanted.path, &offsets, rubric.stray_mm, "mm")
    } else {
        Vec::new()
    };
    CanalGrade {
        name: wanted.name.clone(),
        curved_length_mm: drawn.values.get(&Measure::LengthErrorMm).copied(),
        curved_length_px: drawn.values.get(&Measure::LengthErrorPx).copied(),
        measures: Measure::all()
            .iter()
            .map(|&m| (m, values.get(&m).copied()))
            .collect(),
        lines,
        points,
        points_possible,
        // A hair of slack: shares of decimal points are not exact.
        passed: (points_possible > 0.0)
            .then_some(points >= rubric.pass_share * points_possible - 1e-9),
        strays,
        deviations: DeviationTable::new(&offsets, reference.has_scale()),
        warnings: drawn.warnings.clone(),
        picture: picture(reference, wanted, drawn, &offsets, rubric.stray_mm),
        offsets,
    }
}

fn picture(
    reference: &Reference,
    wanted: &ReferenceCanal,
    drawn: &DrawnCanal,
    offsets: &[Deviation],
    stray_mm: f64,
) -> CanalPicture {
    let film = |place| reference.film_from_tooth(place);
    let strays_px = if reference.has_scale() {
        let stretches = stray_stretches(offsets, stray_mm);
        let places = stretches.map(|stretch| {
            let rungs = stretch.iter().map(|deviation| {
                let station = wanted.path.length_mm() - deviation.from_end_mm;
                let place = wanted.path.point_at(station);
                let on_trace = drawn.path.nearest(place, 0).station_mm;
                [film(place), film(drawn.path.point_at(on_trace))]
            });
            rungs.collect()
        });
        places.collect()
    } else {
        Vec::new()
    };
    CanalPicture {
        path_px: drawn.path.points().iter().map(|&p| film(p)).collect(),
        apex_px: film(drawn.apex),
        tip_px: drawn.tip.map(film),
        strays_px,
    }
}

fn measure_all(reference: &Reference, wanted: &ReferenceCanal, drawn: &DrawnCanal) -> Values {
    use Measure::*;
    let distances = trace_distances(&wanted.path, &drawn.path);
    let in_mm = reference.has_scale();
    let pick = |mm, px| if in_mm { mm } else { px };
    let mut values = Values::from([
        (pick(MeanDistanceMm, MeanDistancePx), distances.mean_mm),
        (
            pick(Percentile95Mm, Percentile95Px),
            distances.percentile_95_mm,
        ),
        (pick(HausdorffMm, HausdorffPx), distances.hausdorff_mm),
        (pick(FrechetMm, FrechetPx), distances.frechet_mm),
        (
            pick(ApexErrorMm, ApexErrorPx),
            wanted.apex.distance(drawn.apex),
        ),
    ]);
    if let Some((wanted, drawn)) = wanted.tip.zip(drawn.tip) {
        values.insert(pick(TipErrorMm, TipErrorPx), wanted.distance(drawn));
    }
    if in_mm {
        let last = wanted.path.direction(wanted.path.segment_count() - 1);
        let beyond_mm = (drawn.apex - wanted.apex).dot(last);
        values.insert(WorkingEndToApexMm, drawn.allowance_mm - beyond_mm);
    }
    for (&measure, &value) in &drawn.values {
        if let Some(wanted) = wanted.values.get(&measure) {
            values.insert(measure, value - wanted);
        }
    }
    values
}

fn grade_line(
    line: &RubricLine,
    values: &Values,
    reference: &Reference,
    wanted: &ReferenceCanal,
) -> LineGrade {
    let value = values.get(&line.measure).copied();
    let expected = match line.measure {
        Measure::TipErrorMm => reference.has_scale() && wanted.tip.is_some(),
        Measure::TipErrorPx => !reference.has_scale() && wanted.tip.is_some(),
        measure => wanted.values.contains_key(&measure),
    };
    let verdict = match value {
        Some(value) if line.is_met_by(value) => Verdict::Met,
        Some(_) => Verdict::NotMet,
        None if expected => Verdict::Missing,
        None => Verdict::NotAssessed,
    };
    LineGrade {
        measure: line.measure,
        value,
        verdict,
        points: if verdict == Verdict::Met {
            line.points
        } else {
            0.0
        },
        sentence: line_sentence(line, value, verdict),
    }
}

fn line_sentence(line: &RubricLine, value: Option<f64>, verdict: Verdict) -> String {
    let (name, unit) = (line.measure.words(), spaced(line.measure.unit()));
    let limit = line.limit_words();
    match (verdict, value) {
        (Verdict::Missing, _) => format!("{name}: not marked in this trace (limit {limit})"),
        (_, None) | (Verdict::NotAssessed, _) => {
            format!("{name}: not assessed, the reference has none")
        }
        (Verdict::Met, Some(value)) => {
            format!(
                "{name}: {}{unit}, within the limit ({limit})",
                fixed(value, 2)
            )
        }
        (Verdict::NotMet, Some(value)) => {
            format!(
                "{name}: {}{unit}, outside the limit ({limit})",
                fixed(value, 2)
            )
        }
    }
}
