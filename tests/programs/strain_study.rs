//! Do the stated 95 % intervals of the bending strain hold the truth? Phantom
//! canals of known course, clicked with the stated noise, with files whose
//! diameters are off by up to the standard's tolerance; shared by the program
//! `strain` and the test.

use lengthfilm::instrumentation::{FileRequest, NominalFile, Options, assess};
use lengthfilm::measure::{FilmSummary, MeasureSettings};
use lengthfilm::phantom::{CanalKind, Truth, truth};
use lengthfilm::units::Quantity;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rayon::prelude::*;

#[path = "coverage_study.rs"]
#[allow(dead_code, clippy::duplicate_mod)]
pub mod coverage_study;

use coverage_study::{FIRST_SEED, Outcome, Scaling, case_of, specification};

/// The thin file the other is compared with, and the other.
const FILES: [&str; 2] = ["10/.02", "25/.06"];
/// Tips from the radiographic apex, mm.
const TIP_MM: f64 = 1.0;

/// One film's results beside the truth.
#[derive(Clone, Debug)]
pub struct FilmOutcome {
    pub kind: CanalKind,
    /// Peak strain of the second file, %; radii as projected.
    pub peak: Option<Outcome>,
    /// The same against the radii in space.
    pub peak_in_space: Option<Outcome>,
    /// Place of the peak, mm from the apex.
    pub place: Option<Outcome>,
    /// Second file over first.
    pub ratio: Option<Outcome>,
    /// The film gave no strain.
    pub withheld: bool,
}

/// The true peak of a file in a phantom's canal: strain, place from the apex.
/// The bends are arcs in space, so it lies at the coronal end of one.
fn true_peak(truth: &Truth, file: &NominalFile, offset_mm: f64, projected: bool) -> (f64, f64) {
    let mut greatest = (0.0, f64::NAN);
    for curve in &truth.curves {
        let at = curve
            .start_from_apex_mm
            .min(TIP_MM + file.working_part_mm());
        let radius = if projected {
            curve.projected_radius_mm
        } else {
            curve.radius_mm
        };
        let Some(diameter) = file.diameter_mm(at - TIP_MM) else {
            continue;
        };
        let strain = 0.5 * (diameter + offset_mm) / radius.abs();
        if strain > greatest.0 {
            greatest = (strain, at);
        }
    }
    greatest
}

/// Measures one phantom.
fn film_outcome(kind: CanalKind, number: u64, draws: usize) -> FilmOutcome {
    let spec = specification(kind, Scaling::File, number);
    let truth = truth(&spec).expect("a phantom that can be built");
    let seed = FIRST_SEED + 1_000_000 * (20 + kind as u64) + number;
    let settings = MeasureSettings {
        draws,
        ..MeasureSettings::default()
    };
    let (case, scale) = case_of(&truth, Scaling::File, &settings, seed);
    let film = FilmSummary {
        width_px: truth.film_size_px[0],
        height_px: truth.film_size_px[1],
        scale,
        ..FilmSummary::default()
    };
    let files = FILES.map(|text| FileRequest::parse(text).expect("a file"));
    let options = Options {
        files: files.to_vec(),
        tip_from_apex_mm: Some(TIP_MM),
        settings,
        ..Options::default()
    };
    let found = assess(&case, &film, "strain", &options)
        .expect("a usable case")
        .findings;
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(2);
    let offsets = files
        .each_ref()
        .map(|request| request.file.tolerance_mm() * rng.random_range(-1.0..1.0));
    let peak = |k: usize, projected| true_peak(&truth, &files[k].file, offsets[k], projected);
    let second = &found.canals[0].files[1];
    let beside = |quantity: Option<Quantity>, truth: f64| {
        quantity.map(|found| Outcome {
            error: found.value - truth,
            u95: found.u95,
        })
    };
    let place = second.peak_from_apex_mm.zip(second.peak_place_u95_mm);
    FilmOutcome {
        kind,
        peak: beside(second.peak_strain_percent, 100.0 * peak(1, true).0),
        peak_in_space: beside(second.peak_strain_percent, 100.0 * peak(1, false).0),
        place: beside(
            place.map(|(value, u95)| Quantity { value, u95 }),
            peak(1, true).1,
        ),
        ratio: beside(second.times_first, peak(1, true).0 / peak(0, true).0),
        withheld: second.peak_strain_percent.is_none(),
    }
}

/// Outcomes of films of every kind in turn, from film number `first` on.
pub fn study(first: u64, films: u64, draws: usize) -> Vec<FilmOutcome> {
    let kinds = CanalKind::ALL;
    (first..first + films)
        .into_par_iter()
        .map(|number| {
            let kind = kinds[number as usize % kinds.len()];
            film_outcome(kind, number / kinds.len() as u64, draws)
        })
        .collect()
}

/// How often the intervals of one result hold the truth.
#[derive(Clone, Copy, Debug)]
pub struct Coverage {
    pub count: usize,
    pub share: f64,
    pub median_error: f64,
    pub median_u95: f64,
}

/// The coverage of one result.
pub fn coverage<'a>(
    outcomes: impl IntoIterator<Item = &'a FilmOutcome>,
    of: impl Fn(&FilmOutcome) -> Option<Outcome>,
) -> Coverage {
    let found: Vec<Outcome> = outcomes.into_iter().filter_map(of).collect();
    let median = |of: fn(&Outcome) -> f64| {
        let mut values: Vec<f64> = found.iter().map(of).collect();
        values.sort_by(f64::total_cmp);
        values.get(values.len() / 2).copied().unwrap_or(f64::NAN)
    };
    let holding = found.iter().filter(|outcome| outcome.holds()).count();
    Coverage {
        count: found.len(),
        share: holding as f64 / found.len() as f64,
        median_error: median(|o| o.error),
        median_u95: median(|o| o.u95),
    }
}
