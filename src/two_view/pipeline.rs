//! The whole way from two cases to what both films say together.

use std::path::Path;

use nalgebra::Vector2;

use super::curves::curves_of;
use super::error::TwoViewError;
use super::findings::{
    CalibrationFinding, FilmAlone, OtherCanal, SpaceCurveFinding, TwoViewFindings,
};
use super::fit::{FilmPoints, Fitted, Form};
use super::geometry::{Receptor, View, place_of};
use super::observation::{Observation, Side, names};
use super::propagation::{self, Knowledge, noise_floor_rad};
use super::search::{Candidate, best_forms};
use super::shared_object::{SAME_LENGTH_MM, SharedCalibration, calibrate};
use super::warnings;
use super::words;
use crate::case::{Case, SecondFilm};
use crate::curvature::CurvatureQuantity;
use crate::measure::{FilmSummary, MeasureSettings, open_case};
use crate::statistics::Z95;
use crate::tooth::ToothNumber;
use crate::uncertainty::monte_carlo;
use crate::units::Quantity;

/// How the second film was taken, and what is asked of the pair.
#[derive(Clone, Debug, PartialEq)]
pub struct Exposures {
    /// Angle from film A to film B, rad, signed: film B shows x·cosΔ + y·sinΔ
    /// of a place x aside and y towards the source.
    pub angle_rad: f64,
    /// Half width of its uncertainty, rad (rectangular).
    pub angle_half_width_rad: f64,
    pub receptor: Receptor,
    /// The canal; the first one that both cases have where absent.
    pub canal: Option<String>,
    /// What lies to the right on film A and towards its source.
    pub sides: words::Sides,
}

/// Half width of the angle between the films where none is stated, rad: 3.5°,
/// u = 2° (assumed, no source).
pub const ANGLE_HALF_WIDTH_RAD: f64 = 3.5 * std::f64::consts::PI / 180.0;

/// Half width of the roll of one film against the other, rad: 1° (assumed, no
/// source).
pub const ROLL_HALF_WIDTH_RAD: f64 = std::f64::consts::PI / 180.0;

/// Mismatch in height that warns, mm.
pub const MISMATCH_LIMIT_MM: f64 = 0.5;

/// Angles between the films that are used, degrees: below 5° depth is ten
/// times as uncertain as the clicks (own limit).
const LEAST_ANGLE_DEG: f64 = 5.0;
const GREATEST_ANGLE_DEG: f64 = 175.0;
/// A receptor that stays is no longer lit from farther round (own limit).
const GREATEST_STAYED_DEG: f64 = 60.0;

/// Spacing of the places printed, mm.
const PATH_STEP_MM: f64 = 0.25;

impl Exposures {
    /// Films `angle_deg` apart, everything else as usual.
    pub fn new(angle_deg: f64, receptor: Receptor) -> Self {
        Self {
            angle_rad: angle_deg.to_radians(),
            angle_half_width_rad: ANGLE_HALF_WIDTH_RAD,
            receptor,
            canal: None,
            sides: words::Sides::default(),
        }
    }

    /// What a case remembers of its second film.
    pub fn remembered(second: &SecondFilm) -> Self {
        Self {
            angle_rad: second.angle_deg.to_radians(),
            angle_half_width_rad: second
                .angle_half_width_deg
                .map_or(ANGLE_HALF_WIDTH_RAD, f64::to_radians),
            receptor: second.receptor,
            canal: None,
            sides: words::Sides {
                right: second.right_is,
                source: second.source_is,
            },
        }
    }

    fn check(&self) -> Result<(), TwoViewError> {
        if !self.angle_rad.is_finite() {
            return Err(TwoViewError::AngleNotFinite);
        }
        let greatest = match self.receptor {
            Receptor::Turned => GREATEST_ANGLE_DEG,
            Receptor::Stayed => GREATEST_STAYED_DEG,
        };
        let degrees = self.angle_rad.to_degrees();
        // A hair for degrees that were radians in between.
        if !(LEAST_ANGLE_DEG - 1e-9..=greatest + 1e-9).contains(&degrees.abs()) {
            return Err(TwoViewError::Angle {
                degrees,
                least: LEAST_ANGLE_DEG,
                greatest,
                receptor: self.receptor,
            });
        }
        let half = self.angle_half_width_rad.to_degrees();
        if !(0.0..=30.0).contains(&half) {
            return Err(TwoViewError::AngleHalfWidth { degrees: half });
        }
        Ok(())
    }
}

/// Opens two case files with their films and finds what both say.
///
/// # Errors
/// [`TwoViewError`], one clear line; nothing is written.
pub fn two_view_files(
    paths: [&Path; 2],
    exposures: &Exposures,
    settings: &MeasureSettings,
) -> Result<TwoViewFindings, TwoViewError> {
    exposures.check()?;
    let [a, b] =
        paths.map(|path| Ok::<_, TwoViewError>((open_case(path)?, path.display().to_string())));
    let (((case_a, film_a), name_a), ((case_b, film_b), name_b)) = (a?, b?);
    let patient = |film: &crate::film::OpenedFilm| {
        let identity = &film.identity;
        identity.id.clone().or_else(|| identity.name.clone())
    };
    if let (Some(one), Some(other)) = (patient(&film_a), patient(&film_b))
        && one.trim() != other.trim()
    {
        return Err(TwoViewError::DifferentPatients {
            a: name_a,
            b: name_b,
        });
    }
    let summaries = [&film_a, &film_b].map(FilmSummary::from);
    let sides = [
        Side {
            case: &case_a,
            film: &summaries[0],
            name: &name_a,
        },
        Side {
            case: &case_b,
            film: &summaries[1],
            name: &name_b,
        },
    ];
    two_view(sides, exposures, settings)
}

/// What a case and the second film that it remembers say together; `None`
/// where it remembers none.
pub fn of_remembered(
    case: &Case,
    case_path: &Path,
    film: &crate::film::OpenedFilm,
    settings: &MeasureSettings,
) -> Option<Result<TwoViewFindings, TwoViewError>> {
    let second = case.second_film.as_ref()?;
    let path = second_case_path(case_path, second);
    let find = || {
        let exposures = Exposures::remembered(second);
        exposures.check()?;
        let (case_b, film_b) = open_case(&path)?;
        let (a, b) = (case_path.display().to_string(), path.display().to_string());
        let summaries = [film, &film_b].map(FilmSummary::from);
        let sides = [
            Side {
                case,
                film: &summaries[0],
                name: &a,
            },
            Side {
                case: &case_b,
                film: &summaries[1],
                name: &b,
            },
        ];
        two_view(sides, &exposures, settings)
    };
    Some(find())
}

/// Where the second case is: relative paths start at the first one's folder.
pub fn second_case_path(case_path: &Path, second: &SecondFilm) -> std::path::PathBuf {
    case_path
        .parent()
        .unwrap_or(Path::new("."))
        .join(&second.case)
}

/// What two films of one canal say together.
///
/// # Errors
/// [`TwoViewError`] for films that cannot be used together.
pub fn two_view(
    sides: [Side; 2],
    exposures: &Exposures,
    settings: &MeasureSettings,
) -> Result<TwoViewFindings, TwoViewError> {
    exposures.check()?;
    check_pair(&sides)?;
    let canal = common_canal(&sides, exposures.canal.as_deref())?;
    let [a, b] = sides.map(|side| Observation::new(&side, &canal, settings));
    let sides_seen = [a?, b?];
    refuse_different_stretches(&canal, &sides_seen)?;

    let (observations, shared) = calibrated(sides_seen, exposures);
    let pair = Pair::new(observations, exposures, shared);
    let candidates = best_forms(&pair.films);
    let best = candidates.first().ok_or(TwoViewError::NoFit {
        canal: canal.clone(),
    })?;
    let mismatch_mm = pair.mismatch_mm(&best.fitted);

    // The opposite sign, where it explains the heights and this one does not.
    let mut notes = Vec::new();
    if mismatch_mm > MISMATCH_LIMIT_MM {
        let turned = Exposures {
            angle_rad: -exposures.angle_rad,
            ..exposures.clone()
        };
        let other = Pair::new(pair.observations.clone(), &turned, pair.shared);
        let found = best_forms(&other.films);
        if let Some(better) = found.first()
            && other.mismatch_mm(&better.fitted) < 0.5 * mismatch_mm
        {
            notes.push(warnings::sign_of_angle(exposures.angle_rad));
            return finish(canal, other, found, &turned, notes, settings);
        }
    }
    notes.extend(warnings::mirrored(
        &pair,
        exposures,
        &best.fitted,
        mismatch_mm,
    ));
    finish(canal, pair, candidates, exposures, notes, settings)
}

fn check_pair(sides: &[Side; 2]) -> Result<(), TwoViewError> {
    let [a, b] = sides;
    let same_film = !a.film.sha256.is_empty() && a.film.sha256 == b.film.sha256;
    if same_film {
        return Err(TwoViewError::SameFilm {
            a: a.name.to_owned(),
            b: b.name.to_owned(),
        });
    }
    let fdi = |side: &Side| {
        let tooth = side.case.tooth.as_ref()?;
        ToothNumber::parse(tooth.notation, &tooth.number)
            .ok()
            .map(ToothNumber::fdi)
    };
    match (fdi(a), fdi(b)) {
        (Some(tooth_a), Some(tooth_b)) if tooth_a != tooth_b => Err(TwoViewError::DifferentTeeth {
            a: a.name.to_owned(),
            b: b.name.to_owned(),
            tooth_a,
            tooth_b,
        }),
        _ => Ok(()),
    }
}

/// The canal asked for, or the first one of case A that case B has too.
fn common_canal(sides: &[Side; 2], asked: Option<&str>) -> Result<String, TwoViewError> {
    let [a, b] = sides;
    let has = |side: &Side, name: &str| side.case.canals.iter().any(|c| c.name == name);
    if let Some(asked) = asked {
        for side in sides {
            if !has(side, asked) {
                return Err(TwoViewError::NoSuchCanal {
                    case: side.name.to_owned(),
                    canal: asked.to_owned(),
                    has: names(side.case),
                });
            }
        }
        return Ok(asked.to_owned());
    }
    let common = a.case.canals.iter().find(|c| has(b, &c.name));
    common
        .map(|c| c.name.clone())
        .ok_or_else(|| TwoViewError::NoCommonCanal {
            a: a.name.to_owned(),
            b: b.name.to_owned(),
            canals_a: names(a.case),
            canals_b: names(b.case),
        })
}

/// Heights that differ by more than 2 mm and by more than 15 % are no longer
/// explained by scales or rays (own limits).
fn refuse_different_stretches(
    canal: &str,
    observations: &[Observation; 2],
) -> Result<(), TwoViewError> {
    let [a, b] = [0, 1].map(|f| observations[f].height_mm());
    let apart = (a - b).abs();
    if apart > 2.0 && apart > 0.15 * a.max(b) {
        return Err(TwoViewError::DifferentStretches {
            canal: canal.to_owned(),
            a: observations[0].name.clone(),
            b: observations[1].name.clone(),
            height_a_mm: a,
            height_b_mm: b,
        });
    }
    Ok(())
}

/// Both sides in the scale of a file that both show, where there is one.
fn calibrated(
    sides: [Observation; 2],
    exposures: &Exposures,
) -> ([Observation; 2], Option<SharedCalibration>) {
    let shared = match (&sides[0].file, &sides[1].file) {
        (Some(a), Some(b)) if (a.true_length_mm - b.true_length_mm).abs() <= SAME_LENGTH_MM => {
            calibrate([a, b], views(&sides, exposures))
        }
        _ => None,
    };
    let Some(found) = shared else {
        return (sides, None);
    };
    let half = found.length_half_width / 3f64.sqrt();
    let u = [0, 1].map(|f| found.clicks.row(f).norm().hypot(half));
    let [a, b] = sides;
    let both = [
        a.rescaled(found.factors[0], u[0]),
        b.rescaled(found.factors[1], u[1]),
    ];
    (both, Some(found))
}

/// The views of both films; cone beam where both distances are known.
fn views(sides: &[Observation; 2], exposures: &Exposures) -> [View; 2] {
    let source = sides[0].source_mm.zip(sides[1].source_mm);
    let [a, b] = [source.map(|s| s.0), source.map(|s| s.1)];
    [
        View::new(0.0, exposures.receptor, a),
        View::new(exposures.angle_rad, exposures.receptor, b),
    ]
}

/// Two observations ready to be fitted.
pub struct Pair {
    pub observations: [Observation; 2],
    pub films: [FilmPoints; 2],
    pub shared: Option<SharedCalibration>,
    /// Middle of each trace: where the origin of space shows.
    middles: [Vector2<f64>; 2],
    apex_aside_mm: f64,
}

impl Pair {
    fn new(
        observations: [Observation; 2],
        exposures: &Exposures,
        shared: Option<SharedCalibration>,
    ) -> Self {
        let views = views(&observations, exposures);
        let ends_on_apex = observations.iter().all(|o| o.ends_on_apex);
        let apex_aside_mm = if ends_on_apex { APEX_ASIDE_MM } else { 0.0 };
        let middles = [0, 1].map(|f: usize| {
            let points = &observations[f].points;
            (points[0] + points[points.len() - 1]) * 0.5
        });
        let films = [0, 1].map(|f: usize| {
            let seen = &observations[f];
            let mut sd = seen.sd.clone();
            // The scale moves the ends along the canal; the root's end lies
            // beside the canal's.
            let stretch = 0.5 * seen.height_mm() * seen.u_scale;
            let end_sd_along = [sd[0], sd[sd.len() - 1]].map(|sd| sd.hypot(stretch));
            if let Some(last) = sd.last_mut() {
                *last = last.hypot(apex_aside_mm);
            }
            FilmPoints {
                view: views[f].with_centre(middles[f]),
                points: seen.points.iter().map(|p| p - middles[f]).collect(),
                sd,
                end_sd_along,
            }
        });
        Self {
            observations,
            films,
            shared,
            middles,
            apex_aside_mm,
        }
    }

    /// The pair with film B seen from behind.
    pub fn with_b_mirrored(&self, exposures: &Exposures) -> Self {
        let [a, b] = self.observations.clone();
        Self::new([a, b.mirrored()], exposures, self.shared)
    }

    /// Greatest difference in height of the same end on both films.
    pub fn mismatch_mm(&self, fitted: &Fitted) -> f64 {
        let whole = fitted.path.length_mm();
        [0, 1]
            .map(|end: usize| {
                let along = if end == 0 { 0.0 } else { whole };
                let off = [0, 1].map(|f: usize| {
                    let points = &self.films[f].points;
                    let clicked = points[end * (points.len() - 1)];
                    clicked.y - fitted.shadow(&self.films, f, along).y
                });
                (off[0] - off[1]).abs()
            })
            .into_iter()
            .fold(0.0, f64::max)
    }

    fn references(&self) -> Option<[(Vector2<f64>, f64); 2]> {
        let [a, b] = [0, 1].map(|f: usize| {
            let seen = &self.observations[f];
            Some((seen.reference? - self.middles[f], seen.reference_sd))
        });
        Some([a?, b?])
    }
}

/// Standard uncertainty per coordinate of the root's end about the canal's
/// end, mm, as on one film.
const APEX_ASIDE_MM: f64 = 0.08;

fn finish(
    canal: String,
    pair: Pair,
    candidates: Vec<Candidate>,
    exposures: &Exposures,
    mut notes: Vec<crate::measure::findings::Warning>,
    settings: &MeasureSettings,
) -> Result<TwoViewFindings, TwoViewError> {
    let best = &candidates[0];
    let fitted = &best.fitted;
    let references = pair.references();
    let knowledge = Knowledge {
        angle_rad: exposures.angle_rad,
        angle_half_width_rad: exposures.angle_half_width_rad,
        roll_half_width_rad: ROLL_HALF_WIDTH_RAD,
        u_scales: [0, 1].map(|f: usize| pair.observations[f].u_scale),
        shared: pair.shared,
        apex_aside_mm: pair.apex_aside_mm,
        references,
    };
    let draws = monte_carlo::Sampling {
        draws: settings.draws,
        seed: 1,
    };
    let intervals = propagation::intervals(&pair.films, &candidates, &knowledge, draws)?;
    let length = fitted.path.length_mm();
    let straight = candidates
        .iter()
        .find(|c| c.fitted.form == Form::Arcs(0))
        .unwrap_or(best);
    let floor =
        |span| noise_floor_rad(&pair.films, straight, span).map_or(f64::NAN, f64::to_degrees);
    let curves: Vec<SpaceCurveFinding> = curves_of(&fitted.path)
        .iter()
        .zip(&intervals.curves)
        .map(|(curve, (turn, radius, plane))| {
            let from = 1.0 - curve.start_from_apex_mm / length;
            let noise_floor_deg = floor((from, 1.0 - curve.end_from_apex_mm / length));
            let shown = [0, 1].map(|f: usize| {
                let shadow = |from_apex: f64| {
                    let pose = fitted.path.at(length - from_apex);
                    pair.films[f].view.shadow_step(&pose.place, &pose.direction)
                };
                let (before, after) = (
                    shadow(curve.start_from_apex_mm),
                    shadow(curve.end_from_apex_mm),
                );
                before
                    .perp(&after)
                    .atan2(before.dot(&after))
                    .abs()
                    .to_degrees()
            });
            SpaceCurveFinding {
                turn_deg: in_degrees(*turn),
                radius_mm: *radius,
                plane_deg: curve.plane_rad.to_degrees(),
                plane_u95_deg: plane.map(f64::to_degrees),
                towards: exposures
                    .sides
                    .towards(curve.plane_rad, pair.observations[0].quarter_turns),
                start_from_apex_mm: curve.start_from_apex_mm,
                end_from_apex_mm: curve.end_from_apex_mm,
                distinguishable: turn.value.to_degrees() > noise_floor_deg,
                noise_floor_deg,
                film_a_turn_deg: shown[0],
                film_b_turn_deg: shown[1],
            }
        })
        .collect();
    let noise_floor_deg = curves
        .iter()
        .map(|c| c.noise_floor_deg)
        .fold(f64::NAN, f64::max);
    let noise_floor_deg = if noise_floor_deg.is_nan() {
        floor((0.0, 1.0))
    } else {
        noise_floor_deg
    };

    let allowance_mm = pair.observations[0].allowance_mm;
    let working_length_mm = intervals.reference_to_apex_mm.map(|q| Quantity {
        value: q.value - allowance_mm,
        u95: q.u95,
    });
    let mismatch_mm = pair.mismatch_mm(fitted);
    let films = [0, 1].map(|f: usize| film_alone(&pair, fitted, f, working_length_mm));
    notes.extend(warnings::of_pair(
        &pair,
        exposures,
        fitted,
        mismatch_mm,
        &curves,
    ));
    let other_canals = other_canals(&pair, exposures, fitted);
    let [film_a, film_b] = films;
    let off = |f: usize| pair.shared.map(|s| 100.0 * (s.factors[f].recip() - 1.0));
    Ok(TwoViewFindings {
        case_a: pair.observations[0].name.clone(),
        case_b: pair.observations[1].name.clone(),
        canal,
        angle_deg: exposures.angle_rad.to_degrees(),
        angle_half_width_deg: exposures.angle_half_width_rad.to_degrees(),
        receptor: exposures.receptor,
        rays: if pair.observations.iter().all(|o| o.source_mm.is_some()) {
            "cone_beam"
        } else {
            "parallel"
        },
        calibration: CalibrationFinding {
            source: if pair.shared.is_some() {
                "shared_file"
            } else {
                "own_scales"
            },
            film_a_scale_off_percent: off(0),
            film_b_scale_off_percent: off(1),
        },
        length_mm: intervals.length_mm,
        net_turn_deg: in_degrees(intervals.net_turn_rad),
        total_turn_deg: in_degrees(intervals.total_turn_rad),
        curves,
        noise_floor_deg,
        mismatch_mm,
        form: match fitted.form {
            Form::Arcs(_) => "arcs",
            Form::Smooth(_) => "smooth",
        },
        reference_to_apex_mm: intervals.reference_to_apex_mm,
        working_length_mm,
        allowance_mm,
        path_mm: fitted
            .path
            .places(PATH_STEP_MM)
            .iter()
            .map(|p| [p.x, p.y, p.z])
            .collect(),
        film_a,
        film_b,
        other_canals,
        draws: intervals.draws,
        warnings: notes,
    })
}

fn in_degrees(rad: Quantity) -> Quantity {
    Quantity {
        value: rad.value.to_degrees(),
        u95: rad.u95.to_degrees(),
    }
}

fn film_alone(
    pair: &Pair,
    fitted: &Fitted,
    film: usize,
    working_length_mm: Option<Quantity>,
) -> FilmAlone {
    let seen = &pair.observations[film];
    let view = &pair.films[film].view;
    let shadows: Vec<Vector2<f64>> = fitted
        .path
        .places(0.02)
        .iter()
        .map(|place| view.shadow(place))
        .collect();
    let own = seen
        .alone
        .reference_to_apex_mm
        .map(|q| q.value - seen.allowance_mm);
    FilmAlone {
        case: seen.name.clone(),
        length_mm: seen.alone.curved_length_mm.map(|q| q.value),
        total_turn_deg: seen
            .alone
            .curvature
            .as_ref()
            .and_then(|c| c[CurvatureQuantity::TotalTurn])
            .map(|q| q.value),
        shadow_length_mm: shadows.windows(2).map(|w| (w[1] - w[0]).norm()).sum(),
        working_length_mm: own,
        working_length_difference_mm: own
            .zip(working_length_mm)
            .map(|(own, space)| own - space.value),
        quarter_turns: seen.quarter_turns,
    }
}

/// Depth of every other canal that both films show, at its apex.
fn other_canals(pair: &Pair, exposures: &Exposures, fitted: &Fitted) -> Vec<OtherCanal> {
    let [a, b] = &pair.observations;
    let here = fitted.path.end().place;
    let views = [&pair.films[0].view, &pair.films[1].view];
    let find = |name: &String, line: &[Vector2<f64>]| {
        let (_, other) = b.others.iter().find(|(n, _)| n == name)?;
        let ends = [
            line.last()? - pair.middles[0],
            other.last()? - pair.middles[1],
        ];
        let shifted = Vector2::new(ends[1].x, ends[1].y - fitted.shift_mm());
        let place = place_of(views, [ends[0], shifted])?;
        let depth = place.y - here.y;
        let (sine, cosine) = exposures.angle_rad.sin_cos();
        // Two clicks on each film, and what a wrong angle does (DERIVED).
        let sd = a.sd[0].hypot(b.sd[0]) / std::f64::consts::SQRT_2;
        let clicks = sd * (2.0 * (1.0 + cosine * cosine)).sqrt() / sine.abs();
        let aside = place.x - here.x;
        let angle = (aside - depth * cosine / sine) * exposures.angle_half_width_rad / 3f64.sqrt();
        let depth_mm = Quantity {
            value: depth,
            u95: Z95 * clicks.hypot(angle),
        };
        Some(OtherCanal {
            name: name.clone(),
            side: exposures.sides.depth_words(depth_mm),
            depth_mm,
        })
    };
    a.others
        .iter()
        .filter_map(|(name, line)| find(name, line))
        .collect()
}
