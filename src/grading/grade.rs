//! One student's traces against the reference.

use std::collections::BTreeMap;

use serde::Serialize;

use super::distances::{Deviation, deviations, trace_distances};
use super::length_unit::LengthUnit;
use super::lines::grade_line;
use super::measures::{Measure, Values};
use super::own::OwnCanal;
use super::reference::Reference;
use super::reference_canal::{DrawnCanal, ReferenceCanal};
use super::rubric::Rubric;
use super::submission::{HandedIn, Submission};
use super::words::{Wording, end_offsets, stray_sentences, stray_stretches};
use crate::uncertainty::rounding::fixed;
use crate::units::FilmPoint;

pub use super::lines::{LineGrade, Verdict};

/// Places along the reference at which deviations are given.
pub const DEVIATION_POINTS: usize = 101;

/// Deviations along the reference, orifice first.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct DeviationTable {
    pub from_apex_mm: Option<Vec<f64>>,
    /// Positive: the trace lies to the right of one who walks towards the
    /// apex, clockwise on the film. `null` past an end of the trace.
    pub offset_mm: Option<Vec<Option<f64>>>,
    pub from_apex_px: Option<Vec<f64>>,
    pub offset_px: Option<Vec<Option<f64>>>,
}

impl DeviationTable {
    pub(super) fn new(deviations: &[Deviation], unit: LengthUnit) -> Self {
        let places = deviations.iter().map(|d| d.from_end).collect();
        let offsets = deviations
            .iter()
            .map(|d| (!d.past_end && d.offset.is_finite()).then_some(d.offset))
            .collect();
        if unit.is_mm() {
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
    /// Length set on the file, by the student's own entries.
    pub set_length_mm: Option<f64>,
    /// Working length for the chart, by the student's own entries.
    pub chart_mm: Option<f64>,
    /// The trace was suggested, and not moved since.
    pub assisted: bool,
    /// Students whose hand-in has the same points.
    pub same_points_as: Vec<String>,
    /// A reference case has the same points.
    pub same_points_as_reference: bool,
    pub lines: Vec<LineGrade>,
    pub points: f64,
    pub points_possible: f64,
    /// `null` when no line could be assessed.
    pub passed: Option<bool>,
    /// How far the trace ends beyond the apex along the canal, negative short
    /// of it; `null` without a scale.
    pub end_beyond_apex_mm: Option<f64>,
    /// Where along the canal the trace strays, in words.
    pub strays: Vec<String>,
    pub deviations: DeviationTable,
    pub warnings: Vec<String>,
    /// In the unit of the reference's path.
    #[serde(skip)]
    pub(super) offsets: Vec<Deviation>,
    /// The trace's points, px of the reference's film.
    #[serde(skip)]
    pub(super) trace_px: Vec<FilmPoint>,
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
    /// Which attempt of the student it is, from 1 by attempt number, else by
    /// date.
    pub attempt: usize,
    /// Date of the hand-in, where one is stated.
    pub date: Option<String>,
    /// The attempt that the student is judged by.
    pub counts: bool,
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
    /// What the attempts are put in order by.
    #[serde(skip)]
    pub(super) handed_in: HandedIn,
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
    let own = reference.own(submission)?;
    let scale_error_percent = own
        .mm_per_px
        .zip(reference.scale.mm_per_px)
        .map(|(own, wanted)| 100.0 * (own / wanted - 1.0));
    let mut canals = Vec::with_capacity(drawn.len());
    let mut unmatched_canals = Vec::new();
    for canal in &drawn {
        match reference.matching(&canal.name, drawn.len()) {
            Some(matched) => canals.push(grade_canal(
                reference,
                matched,
                canal,
                rubric,
                scale_error_percent,
            )),
            None => unmatched_canals.push(canal.name.clone()),
        }
    }
    if canals.is_empty() {
        let wanted: Vec<&str> = reference.canals.iter().map(|c| c.name.as_str()).collect();
        return Err(format!(
            "no traced canal of the reference ({}) is in it",
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
        .map(|wanted| full_points(reference, wanted, rubric))
        .sum();
    let mut warnings = submission.warnings.clone();
    warnings.extend(scale_error_percent.and_then(scale_warning));
    if let Some((own, wanted)) = own.tooth.zip(reference.tooth)
        && own != wanted
    {
        warnings.push(format!(
            "the tooth is given as {}, in the reference as {} (FDI)",
            own.fdi(),
            wanted.fdi()
        ));
    }
    let verdicts: Vec<bool> = canals.iter().filter_map(|c| c.passed).collect();
    let passed = match verdicts.as_slice() {
        [] => None,
        known => Some(missing_canals.is_empty() && known.iter().all(|&p| p)),
    };
    Ok(TraceGrade {
        student: submission.student.clone(),
        file: submission.file.clone(),
        attempt: 1,
        date: submission.handed_in.date.clone(),
        counts: true,
        case_sha256: submission.case_sha256.clone(),
        points: canals.iter().map(|c| c.points).sum(),
        points_possible: missed + canals.iter().map(|c| c.points_possible).sum::<f64>(),
        canals,
        missing_canals,
        unmatched_canals,
        passed,
        warnings,
        handed_in: submission.handed_in.clone(),
    })
}

/// What a canal is worth to one who traces it exactly.
pub(super) fn full_points(reference: &Reference, wanted: &ReferenceCanal, rubric: &Rubric) -> f64 {
    let same_scale = reference.scale.mm_per_px.map(|_| 0.0);
    grade_canal(reference, wanted, &wanted.as_drawn(), rubric, same_scale).points_possible
}

/// Scales that differ by more than this are told, per cent (our own limit).
const SCALE_DIFFERS_PERCENT: f64 = 3.0;
/// Set lengths that differ by more than this are told, mm: a division of a
/// ruler read to 0.5 mm (common practice, no source).
const SET_LENGTH_DIFFERS_MM: f64 = 0.5;

fn scale_warning(error_percent: f64) -> Option<String> {
    (error_percent.abs() > SCALE_DIFFERS_PERCENT).then(|| {
        let than = if error_percent > 0.0 {
            "larger"
        } else {
            "smaller"
        };
        format!(
            "the scale of this case makes everything {:.1} % {than} than that of the reference",
            error_percent.abs()
        )
    })
}

/// What a canal's own entries should make the student look again.
fn own_warnings(wanted: &ReferenceCanal, own: &OwnCanal) -> Vec<String> {
    let mut warnings = Vec::new();
    let mut compare = |name: &str, own: Option<f64>, measure: Measure, most: f64| {
        if let Some((own, wanted)) = own.zip(wanted.values.get(&measure).copied())
            && (own - wanted).abs() > most
        {
            warnings.push(format!(
                "{name} {} mm, in the reference {} mm",
                fixed(own, 1),
                fixed(wanted, 1)
            ));
        }
    };
    compare(
        "the length set on the file is given as",
        own.set_length_mm,
        Measure::SetLengthErrorMm,
        SET_LENGTH_DIFFERS_MM - 1e-9,
    );
    compare(
        "the working length for the chart is",
        own.chart_mm,
        Measure::ChartErrorMm,
        1e-9,
    );
    if own.by_reference_scale {
        warnings.push(
            "this case has no scale: its working length is counted with the reference's scale"
                .to_owned(),
        );
    }
    warnings
}

/// The uncertainty of each error: that of the trace and of the reference.
fn error_u95(drawn: &Values, wanted: &Values) -> Values {
    let both = drawn.iter().map(|(&measure, &u95)| {
        let of_reference = wanted.get(&measure).copied().unwrap_or(0.0);
        (measure, u95.hypot(of_reference))
    });
    both.collect()
}

fn grade_canal(
    reference: &Reference,
    wanted: &ReferenceCanal,
    drawn: &DrawnCanal,
    rubric: &Rubric,
    scale_error_percent: Option<f64>,
) -> CanalGrade {
    let mut values = measure_all(reference, wanted, drawn);
    values.extend(scale_error_percent.map(|error| (Measure::ScaleErrorPercent, error)));
    let u95 = error_u95(&drawn.u95, &wanted.u95);
    let lines: Vec<LineGrade> = (0..rubric.lines.len())
        .map(|index| grade_line(rubric, index, &values, &u95, reference, wanted))
        .collect();
    let counted = || {
        let pairs = lines.iter().zip(&rubric.lines);
        pairs.filter(|(line, _)| line.verdict.counts())
    };
    let mut points: f64 = counted().map(|(line, _)| line.points).sum();
    let points_possible: f64 = counted().map(|(_, line)| line.points).sum();
    let lacks_required = counted().any(|(line, r)| r.required && line.verdict != Verdict::Met);
    let offsets = deviations(&wanted.path, &drawn.path, DEVIATION_POINTS);
    let [beyond, _] = end_offsets(&wanted.path, wanted.apex, &drawn.path);
    let strays = if reference.has_scale() {
        let wording = Wording {
            limit: rubric.stray_mm,
            unit: "mm",
            right_is: reference.right_is,
        };
        stray_sentences(&wanted.path, wanted.apex, &drawn.path, &offsets, wording)
    } else {
        Vec::new()
    };
    let mut warnings = drawn.warnings.clone();
    warnings.extend(own_warnings(wanted, &drawn.own));
    if drawn.assisted {
        warnings.push("the trace was suggested by the program and not moved since".to_owned());
    }
    let is_forbidden = drawn.assisted && rubric.forbid_assisted;
    if is_forbidden {
        points = 0.0;
    }
    CanalGrade {
        name: wanted.name.clone(),
        curved_length_mm: drawn.values.get(&Measure::LengthErrorMm).copied(),
        curved_length_px: drawn.values.get(&Measure::LengthErrorPx).copied(),
        measures: Measure::all()
            .iter()
            .map(|&m| (m, values.get(&m).copied()))
            .collect(),
        set_length_mm: drawn.own.set_length_mm,
        chart_mm: drawn.own.chart_mm,
        assisted: drawn.assisted,
        same_points_as: Vec::new(),
        same_points_as_reference: false,
        lines,
        points,
        points_possible,
        // A hair of slack: shares of decimal points are not exact.
        passed: (points_possible > 0.0).then_some(
            points >= rubric.pass_share * points_possible - 1e-9
                && !lacks_required
                && !is_forbidden,
        ),
        end_beyond_apex_mm: reference.has_scale().then_some(beyond),
        strays,
        deviations: DeviationTable::new(&offsets, reference.length_unit()),
        warnings,
        trace_px: drawn.trace_px.clone(),
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
                let station = wanted.path.length() - deviation.from_end;
                let place = wanted.path.point_at(station);
                let on_trace = drawn.path.nearest(place, 0).station;
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
    let unit = reference.length_unit();
    let pick = |mm, px| unit.pick(mm, px);
    let mut values = Values::from([
        (pick(MeanDistanceMm, MeanDistancePx), distances.mean),
        (
            pick(Percentile95Mm, Percentile95Px),
            distances.percentile_95,
        ),
        (pick(HausdorffMm, HausdorffPx), distances.hausdorff),
        (pick(FrechetMm, FrechetPx), distances.frechet),
        (
            pick(ApexErrorMm, ApexErrorPx),
            wanted.apex.distance(drawn.apex),
        ),
    ]);
    if let Some((wanted, drawn)) = wanted.tip.zip(drawn.tip) {
        values.insert(pick(TipErrorMm, TipErrorPx), wanted.distance(drawn));
    }
    let end_to_apex_mm = match (wanted.tooth_length_mm, drawn.own.chart_mm) {
        // A file set to the length on the chart, in the tooth as it is.
        (Some(tooth_mm), Some(chart_mm)) => Some(tooth_mm - chart_mm),
        (Some(_), None) => None,
        (None, _) => unit.is_mm().then(|| {
            let last = wanted.path.direction(wanted.path.segment_count() - 1);
            drawn.allowance_mm - (drawn.apex - wanted.apex).dot(last)
        }),
    };
    values.extend(end_to_apex_mm.map(|value| (WorkingEndToApexMm, value)));
    for (&measure, &value) in &drawn.values {
        if let Some(wanted) = wanted.values.get(&measure) {
            values.insert(measure, value - wanted);
        }
    }
    values
}
