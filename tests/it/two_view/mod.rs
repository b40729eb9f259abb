//! Two films, one canal.

mod command;
mod coverage;
mod further;
mod geometry;
mod reconstruction;
mod shared;
mod tooth036;

use lengthfilm::case::{Canal, Case, StatedUncertainty, Tooth, ToothNotation};
use lengthfilm::measure::{FilmSummary, MeasureSettings};
use lengthfilm::two_view::{Exposures, Side, TwoViewError, TwoViewFindings, two_view};
use lengthfilm::units::FilmPoint;
use nalgebra::Vector3;

/// Size of the films made here, px, and their pitch, mm: parallel rays, no
/// magnification.
const SIZE_PX: f64 = 2000.0;
const PITCH_MM: f64 = 0.02;

/// Where a place shows on a film: mm, parallel rays, x to the right, down.
pub fn shadow(place: Vector3<f64>, angle_deg: f64, stayed: bool) -> [f64; 2] {
    let angle = angle_deg.to_radians();
    let across = if stayed {
        place.x + place.y * angle.tan()
    } else {
        place.x * angle.cos() + place.y * angle.sin()
    };
    [across, place.z]
}

/// A case whose canal "C" shows at these places, mm from the film's middle.
pub fn case_of(places_mm: &[[f64; 2]], click_noise_mm: f64) -> Case {
    let mut case = Case::on_film("film.png");
    case.film.pixel_pitch_mm = Some([PITCH_MM; 2]);
    case.film.magnification = Some(1.0);
    case.click_noise_mm = Some(click_noise_mm);
    case.tooth = Some(Tooth {
        notation: ToothNotation::Fdi,
        number: "36".to_owned(),
        extra: Default::default(),
    });
    case.canals = vec![Canal {
        name: "C".to_owned(),
        trace_px: places_mm.iter().map(|&place| px(place)).collect(),
        ..Canal::default()
    }];
    case
}

pub fn px([x, y]: [f64; 2]) -> FilmPoint {
    FilmPoint::new(0.5 * SIZE_PX + x / PITCH_MM, 0.5 * SIZE_PX + y / PITCH_MM)
}

/// A film of this name; films of one name are one film.
pub fn film(name: &str) -> FilmSummary {
    FilmSummary {
        width_px: SIZE_PX as u32,
        height_px: SIZE_PX as u32,

        sha256: name.to_owned(),
        ..FilmSummary::default()
    }
}

/// Few draws: the tests of values do not look at intervals.
pub fn quick() -> MeasureSettings {
    MeasureSettings {
        draws: 200,
        ..MeasureSettings::default()
    }
}

pub fn find(a: &Case, b: &Case, exposures: &Exposures) -> Result<TwoViewFindings, TwoViewError> {
    find_with(a, b, exposures, &quick())
}

pub fn find_with(
    a: &Case,
    b: &Case,
    exposures: &Exposures,
    settings: &MeasureSettings,
) -> Result<TwoViewFindings, TwoViewError> {
    let (film_a, film_b) = (film("a"), film("b"));
    let sides = [
        Side {
            case: a,
            film: &film_a,
            name: "a.case.json",
        },
        Side {
            case: b,
            film: &film_b,
            name: "b.case.json",
        },
    ];
    two_view(sides, exposures, settings)
}

/// Both films of a canal through `places`, noiseless.
pub fn find_places(places: &[Vector3<f64>], exposures: &Exposures, sd_mm: f64) -> TwoViewFindings {
    let stayed = exposures.receptor == lengthfilm::two_view::Receptor::Stayed;
    let angle = exposures.angle_rad.to_degrees();
    let on_film = |angle: f64| -> Vec<[f64; 2]> {
        places.iter().map(|&p| shadow(p, angle, stayed)).collect()
    };
    // The scale is exact, so that the ends hold the curve along the canal too.
    let exact = StatedUncertainty {
        film_scale_percent: Some(0.0),
        ..StatedUncertainty::default()
    };
    let [a, b] = [0.0, angle].map(|angle| Case {
        input_uncertainty: Some(exact),
        ..case_of(&on_film(angle), sd_mm)
    });
    find(&a, &b, exposures).expect("a usable pair")
}
