//! Do the stated 95 % intervals of the bending strain, and of where a file
//! binds, hold the truth? Phantom canals of known course and width, clicked with
//! the stated noise, with files whose diameters are off by up to the standard's
//! tolerance; shared by the program `strain` and the test.

use lengthfilm::case::Walls;
use lengthfilm::instrumentation::{
    FileRequest, NominalFile, Options, WidthProfile, assess, passive_depth,
};
use lengthfilm::measure::{FilmSummary, MeasureSettings};
use lengthfilm::phantom::{CanalKind, Truth, truth};
use lengthfilm::units::{FilmPoint, Quantity};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

#[path = "coverage_study.rs"]
#[allow(dead_code, clippy::duplicate_mod)]
pub mod coverage_study;

use coverage_study::{FIRST_SEED, Outcome, Scaling, case_of, specification};

/// The thin file the other is compared with, and the other.
const FILES: [&str; 2] = ["10/.02", "25/.06"];
/// Tips from the radiographic apex, mm.
const TIP_MM: f64 = 1.0;

/// How the walls of a canal were had.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WallsSpec {
    /// Points of each wall.
    pub points: usize,
    /// Standard deviation of a point per coordinate, mm at the detector.
    pub sd_mm: f64,
    /// The walls state it, as those do that were followed; else they are taken
    /// as clicked.
    pub is_stated: bool,
}

impl WallsSpec {
    /// A dozen clicks on each.
    pub const CLICKED: Self = Self {
        points: 12,
        sd_mm: 0.05,
        is_stated: false,
    };
    /// Edges read from the film every 0.2 mm or so.
    pub const FOLLOWED: Self = Self {
        points: 60,
        sd_mm: 0.008,
        is_stated: true,
    };
}

/// The walls of a phantom's canal as the film shows them, from orifice to
/// foramen: half the width to both sides of its centre line.
fn walls_of(truth: &Truth, walls: WallsSpec, rng: &mut ChaCha8Rng) -> Walls {
    let line = &truth.canal_px;
    let last = line.len() - 1;
    let canal = &truth.spec.canal;
    let [down, across] = truth.pixel_pitch_mm;
    let mut side = |sign: f64| -> Vec<FilmPoint> {
        (0..walls.points)
            .map(|i| {
                let at = i as f64 / (walls.points - 1) as f64 * last as f64;
                let k = (at.round() as usize).min(last);
                let (before, after) = (line[k.saturating_sub(1)], line[(k + 1).min(last)]);
                let (x, y) = (after.x - before.x, after.y - before.y);
                let share = k as f64 / last as f64;
                let width_mm = canal.orifice_width_mm
                    + (canal.foramen_width_mm - canal.orifice_width_mm) * share;
                let reach_px = sign * 0.5 * width_mm / truth.mm_per_px[1] / x.hypot(y);
                let mut deviate = || -> f64 { StandardNormal.sample(rng) };
                FilmPoint::new(
                    line[k].x - y * reach_px + walls.sd_mm / across * deviate(),
                    line[k].y + x * reach_px + walls.sd_mm / down * deviate(),
                )
            })
            .collect()
    };
    // Right as seen from the orifice is clockwise of the course.
    let right_px = side(1.0);
    let left_px = side(-1.0);
    Walls {
        left_px,
        right_px,
        u_px: walls.is_stated.then_some(walls.sd_mm / across),
        ..Walls::default()
    }
}

/// Tip from the apex where a file binds in a phantom's canal, mm, and the place
/// of contact; nothing is said apical to the foramen.
fn true_binding(truth: &Truth, file: &NominalFile, offset_mm: f64) -> (f64, Option<f64>) {
    let canal = &truth.spec.canal;
    let ends = vec![
        [truth.foramen_to_apex_mm, canal.foramen_width_mm],
        [truth.orifice_to_apex_mm, canal.orifice_width_mm],
    ];
    let widths = WidthProfile::new(ends).expect("a canal that narrows to its end");
    let found = passive_depth(file, offset_mm, &widths);
    (found.tip_mm.max(truth.foramen_to_apex_mm), found.contact_mm)
}

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
    /// Tip of the second file from the apex where it binds, mm, where it does.
    pub binding_tip: Option<Outcome>,
    /// Place of contact, mm from the apex, where the walls show one and there
    /// is one.
    pub contact: Option<Outcome>,
    /// The walls gave widths.
    pub has_widths: bool,
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
fn film_outcome(kind: CanalKind, number: u64, draws: usize, walls: WallsSpec) -> FilmOutcome {
    let spec = specification(kind, Scaling::File, number);
    let truth = truth(&spec).expect("a phantom that can be built");
    let seed = FIRST_SEED + 1_000_000 * (20 + kind as u64) + number;
    let settings = MeasureSettings {
        draws,
        ..MeasureSettings::default()
    };
    let (mut case, scale) = case_of(&truth, Scaling::File, &settings, seed);
    let mut of_walls = ChaCha8Rng::seed_from_u64(seed);
    of_walls.set_stream(3);
    case.canals[0].walls = Some(walls_of(&truth, walls, &mut of_walls));
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
    let (true_tip, true_contact) = true_binding(&truth, &files[1].file, offsets[1]);
    let with_u95 = |value: f64, u95: Option<f64>| Some(Quantity { value, u95: u95? });
    let binds = second.binds;
    let tip = binds.and_then(|b| with_u95(b.passive_tip_from_apex_mm, b.passive_tip_u95_mm));
    let contact = binds.and_then(|b| with_u95(b.contact_from_apex_mm?, b.contact_u95_mm));
    FilmOutcome {
        binding_tip: beside(tip, true_tip),
        contact: true_contact.and_then(|truth| beside(contact, truth)),
        has_widths: binds.is_some(),
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
pub fn study(first: u64, films: u64, draws: usize, walls: WallsSpec) -> Vec<FilmOutcome> {
    let kinds = CanalKind::ALL;
    (first..first + films)
        .into_par_iter()
        .map(|number| {
            let kind = kinds[number as usize % kinds.len()];
            film_outcome(kind, number / kinds.len() as u64, draws, walls)
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
