//! Do the stated 95 % intervals hold the truth? Phantom geometries whose truth
//! is known, clicked with the stated noise and measured; shared by the program
//! `coverage` and the test.

use std::fmt::Write as _;

use lengthfilm::case::Case;
use lengthfilm::curvature::CurvatureQuantity;
use lengthfilm::film::ScaleFacts;
use lengthfilm::measure::findings::{CanalFindings, CurveFinding, Quantity};
use lengthfilm::measure::{FilmSummary, MeasureSettings, measure};
use lengthfilm::phantom::{
    CanalKind, CurveTruth, FileSpec, PhantomSpec, Truth, case_from_truth, truth,
};
use lengthfilm::units::FilmPoint;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

#[allow(clippy::duplicate_mod, reason = "each program is a crate of its own")]
#[path = "../support/coverage.rs"]
pub mod coverage;

use coverage::row;
pub use coverage::{Outcome, kind_words};

/// Where a film's scale comes from, and whether a file stands in the canal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scaling {
    /// Imager Pixel Spacing and Estimated Radiographic Magnification Factor of
    /// a DICOM film; no file.
    FilmAlone,
    /// The same; a file of known length stands in the canal.
    FilmWithFile,
    /// The file in the canal sets the scale; the pitch is typed.
    File,
}

impl Scaling {
    pub const ALL: [Self; 3] = [Self::FilmAlone, Self::FilmWithFile, Self::File];

    pub fn words(self) -> &'static str {
        match self {
            Self::FilmAlone => "DICOM, no file",
            Self::FilmWithFile => "DICOM, file",
            Self::File => "file",
        }
    }
}

/// Outcomes of one film by result.
#[derive(Clone, Debug, Default)]
pub struct FilmOutcome {
    pub curved_length: Vec<Outcome>,
    pub tip_to_apex: Vec<Outcome>,
    pub additive: Vec<Outcome>,
    pub proportion: Vec<Outcome>,
    /// One for each true curve; against the turn of its shadow.
    pub turn: Vec<Outcome>,
    /// The same against the turn in space.
    pub turn_in_space: Vec<Outcome>,
    /// Reported curves that are none.
    pub spurious_curves: usize,
    /// Those of them whose interval leaves 0 out.
    pub certain_spurious_curves: usize,
    /// True curves that no reported one matches.
    pub missed_curves: usize,
}

/// Seeds used by nothing else.
pub const FIRST_SEED: u64 = 31_000_000;
const CLICK_MM: f64 = 0.05;
const FILE_POINTS: usize = 14;

/// The phantom of that number, with or without a file.
pub fn specification(kind: CanalKind, scaling: Scaling, number: u64) -> PhantomSpec {
    let mut spec = PhantomSpec::random(kind, FIRST_SEED + number);
    if scaling == Scaling::FilmAlone {
        spec.file = None;
    } else if spec.file.is_none() {
        let mut rng = ChaCha8Rng::seed_from_u64(FIRST_SEED + number);
        let short_mm = rng.random_range(-1.5..3.0);
        spec.file = Some(FileSpec {
            operative_length_mm: 31.0,
            ..FileSpec::default()
        });
        spec = spec.with_tip_short_of_apex(short_mm);
    }
    spec
}

/// The case of a phantom and what its film states, every input drawn as the
/// settings say it may be off: clicks Gaussian, the reading of the file
/// rectangular, pitch with magnification Gaussian. Lean, planes of the bends and
/// place of the foramen are the phantom's own: ± 8° and ± 25° even, 0.1–0.7 mm
/// before and up to 0.2 mm beside the apex. Its detector is tilted by up to
/// ± 4° besides, which no input speaks of.
pub fn case_of(
    truth: &Truth,
    scaling: Scaling,
    settings: &MeasureSettings,
    seed: u64,
) -> (Case, ScaleFacts) {
    let mut case = case_from_truth(truth, "film.png", None, CLICK_MM, seed);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(1);
    let uncertainty = &settings.uncertainty;
    let reading = uncertainty.reading_half_width_mm * rng.random_range(-1.0..1.0);
    let z: f64 = StandardNormal.sample(&mut rng);
    for object in &mut case.scale.objects {
        object.true_length_mm = object.true_length_mm.map(|l| l + reading);
    }
    if let Some(file) = &mut case.canals[0].file {
        file.set_length_mm = file.set_length_mm.map(|l| l + reading);
    }
    let view = &truth.spec.view;
    let magnification =
        view.source_to_detector_mm / (view.source_to_detector_mm - view.object_to_detector_mm);
    let stated = magnification * (1.0 + uncertainty.film_scale_relative * z);
    let mut facts = ScaleFacts::default();
    if scaling == Scaling::File {
        case.film.magnification = Some(stated);
    } else {
        facts.imager_pixel_spacing_mm = case.film.pixel_pitch_mm.take();
        facts.estimated_magnification = Some(stated);
        case.scale.objects.clear();
    }
    case.scale.objects.truncate(1);
    retrace_file(&mut case, truth, &mut rng);
    (case, facts)
}

/// The file's trace clicked anew with as many points as the canal's: eight on
/// 20 mm would cut the corner of a late bend.
fn retrace_file(case: &mut Case, truth: &Truth, rng: &mut ChaCha8Rng) {
    let (Some(object), Some(file)) = (case.scale.objects.first_mut(), &truth.file) else {
        return;
    };
    let line = &file.centre_line_px;
    let points = &object.points_px;
    let (stop, tip) = (points[0], points[points.len() - 1]);
    let [down, across] = truth.pixel_pitch_mm.map(|pitch| CLICK_MM / pitch);
    let inner = (1..FILE_POINTS - 1).map(|i| line[i * (line.len() - 1) / (FILE_POINTS - 1)]);
    let mut deviate = || -> f64 { StandardNormal.sample(rng) };
    let inner = inner.map(|p| FilmPoint::new(p.x + across * deviate(), p.y + down * deviate()));
    object.points_px = [stop].into_iter().chain(inner).chain([tip]).collect();
}

fn overlap_mm(found: &CurveFinding, truth: &CurveTruth) -> f64 {
    let same_side = found
        .turn_deg
        .is_some_and(|t| t.value * truth.turn_deg > 0.0);
    match (found.start_from_apex_mm, found.end_from_apex_mm) {
        (Some(start), Some(end)) if same_side => {
            start.min(truth.start_from_apex_mm) - end.max(truth.end_from_apex_mm)
        }
        _ => 0.0,
    }
}

/// Reported curves are the true ones in order where there are as many of both;
/// else each true curve takes the one to the same side that shares most of its
/// place.
fn compare_curves(found: &CanalFindings, truth: &Truth, out: &mut FilmOutcome) {
    let Some(curvature) = &found.curvature else {
        return;
    };
    let mut used = vec![false; curvature.curves.len()];
    for (place, curve) in truth.curves.iter().enumerate() {
        let in_order = curvature.curves.len() == truth.curves.len();
        let best = if in_order {
            Some((place, 1.0))
        } else {
            (0..curvature.curves.len())
                .map(|i| (i, overlap_mm(&curvature.curves[i], curve)))
                .filter(|(_, overlap)| *overlap > 0.0)
                .max_by(|a, b| a.1.total_cmp(&b.1))
        };
        let reported = match best {
            Some((i, _)) => {
                used[i] = true;
                curvature.curves[i].turn_deg
            }
            // "Straight" is a statement too: a turn of 0 within its U.
            None if curvature.curves.is_empty() && truth.curves.len() == 1 => {
                out.missed_curves += 1;
                curvature[CurvatureQuantity::NetTurn]
            }
            None => {
                out.missed_curves += 1;
                Some(Quantity {
                    value: 0.0,
                    u95: 0.0,
                })
            }
        };
        if let Some(turn) = reported {
            out.turn.push(Outcome::new(turn, curve.projected_turn_deg));
            out.turn_in_space.push(Outcome::new(turn, curve.turn_deg));
        }
    }
    let unused = curvature
        .curves
        .iter()
        .zip(&used)
        .filter(|(_, used)| !**used);
    for (curve, _) in unused {
        let leaves_zero_out = |turn: Quantity| turn.value.abs() > turn.u95;
        out.spurious_curves += 1;
        out.certain_spurious_curves += usize::from(curve.turn_deg.is_some_and(leaves_zero_out));
    }
}

/// Measures one phantom.
pub fn film_outcome(
    kind: CanalKind,
    scaling: Scaling,
    number: u64,
    settings: &MeasureSettings,
) -> FilmOutcome {
    let spec = specification(kind, scaling, number);
    let truth = truth(&spec).expect("a phantom that can be built");
    let seed = FIRST_SEED + 1_000_000 * (3 * kind as u64 + scaling as u64) + number;
    let (case, scale) = case_of(&truth, scaling, settings, seed);
    let film = FilmSummary {
        width_px: truth.film_size_px[0],
        height_px: truth.film_size_px[1],
        scale,
        ..FilmSummary::default()
    };
    let findings = measure(&case, &film, "coverage", settings).expect("a usable case");
    let found = &findings.canals[0];
    let mut out = FilmOutcome::default();
    let mut put =
        |list: fn(&mut FilmOutcome) -> &mut Vec<Outcome>, found: Option<Quantity>, truth| {
            let outcome = found.map(|found| Outcome::new(found, truth));
            list(&mut out).extend(outcome);
        };
    put(
        |o| &mut o.curved_length,
        found.curved_length_mm,
        truth.orifice_to_apex_mm,
    );
    if let Some(file) = &truth.file {
        put(
            |o| &mut o.tip_to_apex,
            found.tip_to_apex_mm,
            file.tip_to_apex_mm,
        );
    }
    let working_length = truth.reference_to_apex_mm - found.allowance_mm;
    put(
        |o| &mut o.additive,
        found.working_length_additive_mm,
        working_length,
    );
    put(
        |o| &mut o.proportion,
        found.working_length_proportion_mm,
        working_length,
    );
    compare_curves(found, &truth, &mut out);
    out
}

/// Outcomes of many films of one kind.
pub fn study(
    kind: CanalKind,
    scaling: Scaling,
    films: u64,
    settings: &MeasureSettings,
) -> Vec<FilmOutcome> {
    (0..films)
        .into_par_iter()
        .map(|number| film_outcome(kind, scaling, number, settings))
        .collect()
}

/// Where the outcomes of one result are in those of a film.
type ResultOf = fn(&FilmOutcome) -> &Vec<Outcome>;

/// The results of the table, with how to find them.
pub const RESULTS: [(&str, ResultOf); 6] = [
    ("curved length, mm", |o| &o.curved_length),
    ("tip to apex, mm", |o| &o.tip_to_apex),
    ("working length, additive, mm", |o| &o.additive),
    ("working length, proportion, mm", |o| &o.proportion),
    ("turn per curve as projected, °", |o| &o.turn),
    ("turn per curve in space, °", |o| &o.turn_in_space),
];

/// The tables in Markdown.
pub fn tables(films: u64, settings: &MeasureSettings) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "| canal | scale from | result | n | coverage, % | bias | SD of error | median U |\n|---|---|---|---|---|---|---|---|"
    );
    let mut notes = String::from(
        "\n| canal | scale from | curves reported that are none | of these, intervals without 0 | true curves reported as straight or not at all |\n|---|---|---|---|---|\n",
    );
    for kind in CanalKind::ALL {
        for scaling in Scaling::ALL {
            let found = study(kind, scaling, films, settings);
            for (name, of) in RESULTS {
                let outcomes: Vec<_> = found.iter().flat_map(of).copied().collect();
                let head = format!("| {} | {} | {name} |", kind_words(kind), scaling.words());
                out.push_str(&row(&head, name, &outcomes));
            }
            let sum = |of: fn(&FilmOutcome) -> usize| found.iter().map(of).sum::<usize>();
            let _ = writeln!(
                notes,
                "| {} | {} | {} | {} | {} |",
                kind_words(kind),
                scaling.words(),
                sum(|o| o.spurious_curves),
                sum(|o| o.certain_spurious_curves),
                sum(|o| o.missed_curves)
            );
        }
    }
    out + &notes
}
