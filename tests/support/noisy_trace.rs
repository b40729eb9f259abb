//! Cases of a canal of known course, clicked with noise.

use kurbo::Point;
use lengthfilm::case::{Canal, Case};
use lengthfilm::geometry::DrawnCurve;
use lengthfilm::measure::FilmSummary;
use lengthfilm::units::FilmPoint;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

const PITCH_MM: f64 = 0.02;

/// A case whose one canal is traced through `places_mm` (mm at the detector),
/// each coordinate off by noise of standard deviation `noise_mm`; `stated_mm`
/// is entered as the click noise. With it the film, which holds all points.
pub fn noisy_trace(
    places_mm: impl IntoIterator<Item = Point>,
    [noise_mm, stated_mm]: [f64; 2],
    seed: u64,
) -> (Case, FilmSummary) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut deviate = || -> f64 { StandardNormal.sample(&mut rng) };
    let trace = places_mm.into_iter().map(|place| {
        let mut on_film = |mm: f64| (mm + noise_mm * deviate()) / PITCH_MM;
        FilmPoint::new(on_film(place.x), on_film(place.y))
    });
    let mut case = Case::on_film("film.png");
    case.film.pixel_pitch_mm = Some([PITCH_MM; 2]);
    case.film.magnification = Some(1.0);
    case.click_noise_mm = Some(stated_mm);
    case.canals.push(Canal {
        name: "MB".to_owned(),
        trace_px: trace.collect(),
        ..Canal::default()
    });
    let film = FilmSummary {
        width_px: 4000,
        height_px: 4000,
        ..FilmSummary::default()
    };
    (case, film)
}

/// The curve drawn through the trace of a [`noisy_trace`], mm.
#[allow(dead_code, reason = "not every program draws")]
pub fn drawn_mm(case: &Case) -> DrawnCurve {
    let in_mm = |p: &FilmPoint| Point::new(PITCH_MM * p.x, PITCH_MM * p.y);
    let points: Vec<Point> = case.canals[0].trace_px.iter().map(in_mm).collect();
    DrawnCurve::through(&points).expect("a trace")
}
