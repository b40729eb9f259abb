//! Do the intervals of two films hold the truth of canals that are no straight
//! pieces and arcs? Curvature of ten families along the canal, in one plane or
//! in a plane that turns along it; projected by a pinhole of this file, clicked
//! at uneven distances, with every error of the other pairs.

use std::fmt::Write as _;

use lengthfilm::case::{Canal, Case};
use lengthfilm::measure::MeasureSettings;
use lengthfilm::phantom::shapes::{Family, Shape};
use lengthfilm::phantom::{CanalKind, PhantomSpec, ViewSpec};
use lengthfilm::two_view::{
    ANGLE_HALF_WIDTH_RAD, Exposures, ROLL_HALF_WIDTH_RAD, Receptor, TwoViewFindings,
};
use lengthfilm::units::FilmPoint;
use nalgebra::{Rotation3, Unit, Vector3};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;

use super::study::{
    CLICK_MM, Outcome, ResultOf, SCALE_U, film_from_tooth, magnification_at, put_together, roll,
    scale_off, write_rows,
};

/// Seeds used by nothing else.
const FIRST_SEED: u64 = 61_000_000;
const PITCH_MM: f64 = 0.02;
const FILM_PX: [u32; 2] = [3000, 4000];
/// Reference point to orifice, mm.
const CORONAL_MM: f64 = 10.0;
const STEP_MM: f64 = 0.005;
const HEAD: &str = "| n | coverage, % | bias | SD of error | median U |";

/// The way a canal runs, tooth frame, mm: reference point at the origin, y
/// towards the apex, z towards the source of film A.
struct Course {
    step_mm: f64,
    places: Vec<Vector3<f64>>,
    first: Vector3<f64>,
    last: Vector3<f64>,
}

impl Course {
    /// `shape`, the plane of its curvature turned by `twist_rad` evenly from its
    /// start to its end.
    fn new(shape: &Shape, plane_rad: f64, twist_rad: f64) -> Self {
        let length = shape.length_mm();
        let count = (length / STEP_MM).ceil() as usize;
        let step_mm = length / count as f64;
        let heading = |k: usize| {
            let [from, to] = [k, k + 1].map(|k| shape.point_at_mm(k as f64 * step_mm));
            (to - from).atan2()
        };
        let first = Vector3::y();
        let (mut along, mut across) = (first, Vector3::new(1.0, 0.0, 0.0));
        let mut place = Vector3::new(0.0, CORONAL_MM, 0.0);
        let mut places = vec![place];
        for k in 0..count {
            place += along * step_mm;
            places.push(place);
            if k + 1 < count {
                // Parallel transport: the frame turns with the heading alone.
                let share = k as f64 / count as f64;
                let (sine, cosine) = (plane_rad + twist_rad * share).sin_cos();
                let towards = across * cosine + across.cross(&along) * sine;
                let turn = heading(k + 1) - heading(k);
                let axis = Unit::new_normalize(along.cross(&towards));
                let turned = Rotation3::from_axis_angle(&axis, turn);
                (along, across) = (turned * along, turned * across);
            }
        }
        Self {
            step_mm,
            places,
            first,
            last: along,
        }
    }

    fn at_mm(&self, length_mm: f64) -> Vector3<f64> {
        let last = self.places.len() - 1;
        self.places[((length_mm / self.step_mm).round() as usize).min(last)]
    }

    fn end(&self) -> Vector3<f64> {
        self.places[self.places.len() - 1]
    }

    fn length_mm(&self) -> f64 {
        self.step_mm * (self.places.len() - 1) as f64
    }
}

/// Where a place of the tooth shows on the film: from a point source onto a
/// plane tilted about the film's horizontal, px.
fn shown_px(view: &ViewSpec, centre: Vector3<f64>, place: Vector3<f64>) -> FilmPoint {
    let [x, y] = view.tooth_centre_mm;
    let world = film_from_tooth(view) * (place - centre);
    let world = world + Vector3::new(x, y, view.object_to_detector_mm);
    let source = Vector3::new(0.0, 0.0, view.source_to_detector_mm);
    let (sine, cosine) = view.detector_tilt_deg.to_radians().sin_cos();
    let ray = world - source;
    let normal = Vector3::new(0.0, -sine, cosine);
    let hit = source - ray * (source.dot(&normal) / ray.dot(&normal));
    let down = hit.dot(&Vector3::new(0.0, cosine, sine));
    let [width, height] = FILM_PX.map(f64::from);
    FilmPoint::new(
        0.5 * width + hit.x / PITCH_MM,
        0.5 * height + down / PITCH_MM,
    )
}

fn deviate(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// A click where a place of the tooth shows.
fn clicked(
    view: &ViewSpec,
    centre: Vector3<f64>,
    place: Vector3<f64>,
    rng: &mut ChaCha8Rng,
) -> FilmPoint {
    let at = shown_px(view, centre, place);
    let [x, y] = [0, 1].map(|_| CLICK_MM / PITCH_MM * deviate(rng));
    FilmPoint::new(at.x + x, at.y + y)
}

/// What one pair gave: length, net and total turn, of a canal in one plane the
/// turn of each curve and, bent to one side, the plane.
#[derive(Clone, Debug, Default)]
pub struct PairOutcome {
    pub length: Vec<Outcome>,
    pub net: Vec<Outcome>,
    pub total: Vec<Outcome>,
    pub turn: Vec<Outcome>,
    pub plane: Vec<Outcome>,
    /// Another number of curves is listed than the canal has.
    pub other_count: usize,
    pub refused: usize,
}

const RESULTS: [ResultOf<PairOutcome>; 5] = [
    ("length, mm", |o| &o.length),
    ("net turn, °", |o| &o.net),
    ("total turn, °", |o| &o.total),
    ("turn per curve, °", |o| &o.turn),
    ("plane, °", |o| &o.plane),
];

/// Both films of one canal.
struct Exposed {
    shape: Shape,
    course: Course,
    apex: Vector3<f64>,
    view: ViewSpec,
    is_twisted: bool,
    found: Option<TwoViewFindings>,
}

fn expose(family: Family, angle_deg: f64, number: u64, settings: &MeasureSettings) -> Exposed {
    let mut rng = ChaCha8Rng::seed_from_u64(FIRST_SEED + number);
    rng.set_stream(1 + family as u64 + 32 * angle_deg as u64);
    let shape = family.random(&mut rng);
    let is_twisted = number % 2 == 1;
    let twist = if is_twisted {
        let size: f64 = rng.random_range(30.0..90.0);
        size.to_radians() * [-1.0, 1.0][rng.random_range(0..2)]
    } else {
        0.0
    };
    let course = Course::new(&shape, rng.random_range(0.0..std::f64::consts::TAU), twist);
    let uncertainty = &settings.uncertainty;
    // The root's end lies beyond the canal's and aside of it.
    let aside = Vector3::from_fn(|_, _| uncertainty.apex_aside_mm * deviate(&mut rng));
    let aside = aside - course.last * aside.dot(&course.last);
    let apex = course.end() + course.last * uncertainty.foramen_to_apex_mm + aside;
    let view = PhantomSpec::random(CanalKind::Single, FIRST_SEED + number).view;
    let off = ANGLE_HALF_WIDTH_RAD.to_degrees() * rng.random_range(-1.0..1.0);
    let second = ViewSpec {
        turn_deg: angle_deg + off,
        ..view
    };
    let centre = 0.5 * apex;
    let place = centre + scale_off(&view, &mut rng);
    let [a, mut b] = [&view, &second].map(|view| {
        let count = rng.random_range(9..15);
        let reference = clicked(view, centre, Vector3::zeros(), &mut rng);
        let end = clicked(view, centre, apex, &mut rng);
        let z = deviate(&mut rng);
        let mut trace: Vec<FilmPoint> = (0..count)
            .map(|i| {
                let uneven = rng.random_range(-0.3..0.3) * f64::from(u8::from(i > 0));
                let share = (f64::from(i) + uneven) / f64::from(count);
                let place = course.at_mm(share * course.length_mm());
                clicked(view, centre, place, &mut rng)
            })
            .collect();
        trace.push(end);
        let mut case = Case::on_film("film.png");
        let (sid, ofd) = (view.source_to_detector_mm, view.object_to_detector_mm);
        case.film.pixel_pitch_mm = Some([PITCH_MM; 2]);
        case.film.source_to_detector_mm = Some(sid);
        case.film.source_to_tooth_mm = Some(sid - ofd);
        let magnification = magnification_at(view, centre, place);
        case.film.magnification = Some(magnification * (1.0 + SCALE_U * z));
        case.click_noise_mm = Some(CLICK_MM);
        case.canals.push(Canal {
            name: "MB".to_owned(),
            reference_px: Some(reference),
            trace_px: trace,
            apex_px: Some(end),
            ..Canal::default()
        });
        case
    });
    roll(
        &mut b,
        FILM_PX,
        ROLL_HALF_WIDTH_RAD * rng.random_range(-1.0..1.0),
    );
    let exposures = Exposures::new(angle_deg, Receptor::Turned);
    let found = put_together([&a, &b], [FILM_PX; 2], &exposures, settings);
    Exposed {
        shape,
        course,
        apex,
        view,
        is_twisted,
        found,
    }
}

/// One pair's results beside the truth; every second canal is twisted.
pub fn outcome(
    family: Family,
    angle_deg: f64,
    number: u64,
    settings: &MeasureSettings,
) -> PairOutcome {
    let exposed = expose(family, angle_deg, number, settings);
    let (shape, course) = (&exposed.shape, &exposed.course);
    let mut out = PairOutcome::default();
    let Some(found) = exposed.found else {
        out.refused = 1;
        return out;
    };
    let length = course.length_mm() + (exposed.apex - course.end()).norm();
    out.length.push(Outcome::new(found.length_mm, length));
    let net = course.first.angle(&course.last).to_degrees();
    out.net.push(Outcome::new(found.net_turn_deg, net));
    let curves = shape.curves();
    let total: f64 = curves.iter().map(|c| c.turn_rad.abs().to_degrees()).sum();
    out.total.push(Outcome::new(found.total_turn_deg, total));
    if exposed.is_twisted {
        return out;
    }
    if found.curves.len() != curves.len() {
        out.other_count = 1;
        return out;
    }
    for (found, truth) in found.curves.iter().zip(&curves) {
        let turn = truth.turn_rad.abs().to_degrees();
        out.turn.push(Outcome::new(found.turn_deg, turn));
    }
    if let ([curve], Some(u95)) = (found.curves.as_slice(), found.curves[0].plane_u95_deg) {
        let change = film_from_tooth(&exposed.view) * (course.last - course.first);
        let plane = change.z.atan2(change.x).to_degrees();
        let off = (curve.plane_deg - plane + 180.0).rem_euclid(360.0) - 180.0;
        out.plane.push(Outcome { error: off, u95 });
    }
    out
}

/// The tables in Markdown: by angle, in one plane and twisted; then by family.
pub fn tables(
    numbers: std::ops::Range<u64>,
    angles_deg: &[f64],
    settings: &MeasureSettings,
) -> String {
    let mut all = Vec::new();
    for &angle in angles_deg {
        for family in Family::ALL {
            let of = |number| (number % 2 == 1, outcome(family, angle, number, settings));
            let found: Vec<_> = numbers.clone().into_par_iter().map(of).collect();
            all.extend(
                found
                    .into_iter()
                    .map(|(twisted, o)| (angle, family, twisted, o)),
            );
        }
    }
    let mut out = format!(
        "| films apart | plane of the curvature | result {HEAD}\n|---|---|---|---|---|---|---|---|\n"
    );
    for &angle in angles_deg {
        for (twisted, words) in [(false, "one"), (true, "turns")] {
            let of = all.iter().filter(|o| o.0 == angle && o.2 == twisted);
            let name = format!("| {angle}° | {words} |");
            write_rows(&mut out, &name, of.map(|o| &o.3), &RESULTS);
        }
    }
    let _ = write!(
        out,
        "\n| shape | result {HEAD}\n|---|---|---|---|---|---|---|\n"
    );
    let mut notes = String::from(
        "\n| shape | pairs | in one plane: another number of curves | refused |\n|---|---|---|---|\n",
    );
    for family in Family::ALL {
        let of: Vec<&PairOutcome> = all.iter().filter(|o| o.1 == family).map(|o| &o.3).collect();
        let name = format!("| {} |", family.words());
        write_rows(&mut out, &name, of.iter().copied(), &RESULTS);
        let sum = |count: fn(&PairOutcome) -> usize| of.iter().map(|o| count(o)).sum::<usize>();
        let (other, refused) = (sum(|o| o.other_count), sum(|o| o.refused));
        let _ = writeln!(notes, "{name} {} | {other} | {refused} |", of.len());
    }
    out + &notes
}
