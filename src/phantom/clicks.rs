//! Cases on a phantom's film: as a careful person would enter it, with the
//! noise of clicks; as the truth has it; and with nothing marked.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde_json::Map;

use super::truth::Truth;
use crate::case::{
    Canal, CanalFile, Case, FilmReference, ScaleInputs, ScaleObject, ScaleObjectKind, Tooth,
    ToothNotation,
};
use crate::units::FilmPoint;

/// Points of a canal's trace, and of a file's.
const TRACE_POINTS: usize = 12;
const FILE_POINTS: usize = 8;
/// Points of the true trace before its apex.
const TRUE_TRACE_POINTS: usize = 30;
/// The last trace point before the apex keeps this far from the foramen, so
/// that the step aside to the apex is one smooth piece.
const BEFORE_FORAMEN_SHARE: f64 = 0.93;

/// Draws clicks around true places.
struct Hand<'a> {
    rng: ChaCha8Rng,
    /// Standard deviation `[row, column]`, px.
    noise_px: [f64; 2],
    truth: &'a Truth,
}

impl Hand<'_> {
    fn click(&mut self, place: FilmPoint) -> FilmPoint {
        let [down, across] = self.noise_px;
        let mut deviate = || -> f64 { StandardNormal.sample(&mut self.rng) };
        let [width, height] = self.truth.film_size_px.map(f64::from);
        FilmPoint::new(
            (place.x + across * deviate()).clamp(0.0, width),
            (place.y + down * deviate()).clamp(0.0, height),
        )
    }

    /// Clicks at even shares, from the first point to `end_share` of `line`.
    fn follow(&mut self, line: &[FilmPoint], count: usize, end_share: f64) -> Vec<FilmPoint> {
        stations(line, count, end_share)
            .map(|place| self.click(place))
            .collect()
    }

    /// Ruler and ball, where the film shows them.
    fn scale_objects(&mut self) -> Vec<ScaleObject> {
        let truth = self.truth;
        let mut objects = Vec::new();
        if let (Some(ends), Some(ruler)) = (truth.ruler_px, truth.spec.ruler) {
            let points_px = ends.map(|end| self.click(end)).to_vec();
            objects.push(ScaleObject {
                true_length_mm: Some(f64::from(ruler.divisions)),
                ..object(ScaleObjectKind::Ruler, points_px)
            });
        }
        if let (Some(centre), Some(ball)) = (truth.ball_px, truth.spec.ball) {
            let reach_px = ball.diameter_mm / 2.0 / truth.mm_per_px[1];
            let rim = [-reach_px, reach_px].map(|dx| FilmPoint::new(centre.x + dx, centre.y));
            let points_px = rim.map(|place| self.click(place)).to_vec();
            objects.push(ScaleObject {
                true_diameter_mm: Some(ball.diameter_mm),
                ..object(ScaleObjectKind::Ball, points_px)
            });
        }
        objects
    }
}

/// Places at even shares, from the first point to `end_share` of `line`.
fn stations(
    line: &[FilmPoint],
    count: usize,
    end_share: f64,
) -> impl Iterator<Item = FilmPoint> + '_ {
    let last = line.len().saturating_sub(1) as f64;
    (0..count).filter_map(move |i| {
        let share = end_share * i as f64 / (count - 1).max(1) as f64;
        line.get((share * last).round() as usize).copied()
    })
}

/// The tooth of a phantom as a case names it.
fn tooth_of(truth: &Truth) -> Tooth {
    Tooth {
        notation: ToothNotation::Fdi,
        number: truth.spec.tooth.fdi.clone(),
        extra: Map::new(),
    }
}

/// A scale object through `points_px` of which nothing else is known yet.
fn object(kind: ScaleObjectKind, points_px: Vec<FilmPoint>) -> ScaleObject {
    ScaleObject {
        points_px,
        ..ScaleObject::new(kind, None)
    }
}

/// The case of one canal on the film named `film_path`: landmarks clicked
/// with a standard deviation of `click_noise_mm` per coordinate at the
/// detector, scale by the file if there is one, else by pitch and distances.
/// Equal seeds give equal cases.
pub fn case_from_truth(
    truth: &Truth,
    film_path: &str,
    sha256: Option<String>,
    click_noise_mm: f64,
    seed: u64,
) -> Case {
    let mut hand = Hand {
        rng: ChaCha8Rng::seed_from_u64(seed),
        noise_px: truth.pixel_pitch_mm.map(|pitch| click_noise_mm / pitch),
        truth,
    };
    let apex = hand.click(truth.apex_px);
    let mut trace_px = hand.follow(&truth.canal_px, TRACE_POINTS - 1, BEFORE_FORAMEN_SHARE);
    trace_px.push(apex);
    let tooth = &truth.spec.tooth;
    let view = &truth.spec.view;
    let (mut objects, file, reference) = match &truth.file {
        // Without its stop a file gives no scale, and no reference point.
        Some(file) if file.stop_visible_share == 0.0 => {
            let in_canal = CanalFile {
                set_length_mm: Some(file.stop_to_tip_mm),
                tip_px: Some(hand.click(file.tip_px)),
                ..CanalFile::default()
            };
            (Vec::new(), Some(in_canal), None)
        }
        Some(file) => {
            let points_px = hand.follow(&file.centre_line_px, FILE_POINTS, 1.0);
            // Stop face and tip are clicked once each.
            let (stop, tip) = (points_px.first().copied(), points_px.last().copied());
            let scale = ScaleObject {
                canal: Some(tooth.canal_name.clone()),
                true_length_mm: Some(file.stop_to_tip_mm),
                ..object(ScaleObjectKind::File, points_px)
            };
            let in_canal = CanalFile {
                set_length_mm: Some(file.stop_to_tip_mm),
                tip_px: tip,
                ..CanalFile::default()
            };
            (vec![scale], Some(in_canal), stop)
        }
        None => (Vec::new(), None, Some(hand.click(truth.reference_px))),
    };
    objects.extend(hand.scale_objects());
    let unknown = Case::on_film(film_path);
    Case {
        film: FilmReference {
            sha256,
            pixel_pitch_mm: Some(truth.pixel_pitch_mm),
            source_to_detector_mm: Some(view.source_to_detector_mm),
            source_to_tooth_mm: Some(view.source_to_detector_mm - view.object_to_detector_mm),
            ..unknown.film
        },
        scale: ScaleInputs {
            objects,
            ..ScaleInputs::default()
        },
        tooth: Some(tooth_of(truth)),
        canals: vec![Canal {
            name: tooth.canal_name.clone(),
            reference_px: reference,
            reference_name: Some(tooth.reference_name.clone()),
            trace_px,
            file,
            apex_px: Some(apex),
            ..Canal::default()
        }],
        click_noise_mm: Some(click_noise_mm),
        seed,
        ..unknown
    }
}

/// The truth as a case on the film at `film_path`: an errorless trace, orifice to
/// radiographic apex, with the exact scale.
pub fn true_case(truth: &Truth, film_path: &str, sha256: String) -> Case {
    let untouched = starting_case(truth, film_path, sha256);
    let mut trace_px: Vec<_> =
        stations(&truth.canal_px, TRUE_TRACE_POINTS, BEFORE_FORAMEN_SHARE).collect();
    trace_px.push(truth.apex_px);
    Case {
        film: FilmReference {
            pixel_pitch_mm: Some(truth.pixel_pitch_mm),
            magnification: Some(truth.magnification),
            ..untouched.film
        },
        canals: untouched
            .canals
            .into_iter()
            .map(|canal| Canal {
                reference_px: Some(truth.reference_px),
                trace_px: trace_px.clone(),
                file: truth.file.as_ref().map(|file| CanalFile {
                    set_length_mm: Some(file.stop_to_tip_mm),
                    tip_px: Some(file.tip_px),
                    ..CanalFile::default()
                }),
                apex_px: Some(truth.apex_px),
                ..canal
            })
            .collect(),
        ..untouched
    }
}

/// What a student starts from: the film, the tooth and the length set on the
/// file; nothing is marked.
pub fn starting_case(truth: &Truth, film_path: &str, sha256: String) -> Case {
    let tooth = &truth.spec.tooth;
    let unknown = Case::on_film(film_path);
    Case {
        film: FilmReference {
            sha256: Some(sha256),
            ..unknown.film
        },
        tooth: Some(tooth_of(truth)),
        canals: vec![Canal {
            name: tooth.canal_name.clone(),
            reference_name: Some(tooth.reference_name.clone()),
            file: truth.file.as_ref().map(|file| CanalFile {
                set_length_mm: Some(file.stop_to_tip_mm),
                ..CanalFile::default()
            }),
            ..Canal::default()
        }],
        ..unknown
    }
}
