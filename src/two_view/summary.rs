//! What a fitted pair of films says, in numbers and words.

use nalgebra::Vector2;

use super::course::{SpaceCourse, course_of};
use super::curves::{curves_of, laid_flat};
use super::error::TwoViewError;
use super::exposures::{Exposures, ROLL_HALF_WIDTH_RAD, TILT_HALF_WIDTH_RAD};
use super::findings::{
    CalibrationFinding, FilmAlone, FurtherCurveFinding, OtherCanal, SpaceCurveFinding,
    TwoViewFindings,
};
use super::fit::Fitted;
use super::form::Form;
use super::geometry::place_of;
use super::on_films::PairOnFilms;
use super::pair::Pair;
use super::propagation::{self, Knowledge, noise_floor_rad};
use super::search::Candidate;
use super::warnings;
use crate::curvature::CurvatureQuantity;
use crate::measure::MeasureSettings;
use crate::measure::findings::Warning;
use crate::statistics::Z95;
use crate::uncertainty::monte_carlo;
use crate::units::Quantity;

/// Spacing of the places printed, mm.
const PATH_STEP_MM: f64 = 0.25;

/// What two films say together.
#[derive(Clone, Debug)]
pub struct PairInSpace {
    pub findings: TwoViewFindings,
    /// Where places in space show.
    pub on_films: PairOnFilms,
    /// `None` where no flat path has so many pieces.
    pub course: Option<SpaceCourse>,
}

/// All about a pair that `candidates` were fitted to, the best first.
pub fn finish(
    canal: String,
    pair: Pair,
    candidates: Vec<Candidate>,
    exposures: &Exposures,
    mut notes: Vec<Warning>,
    settings: &MeasureSettings,
) -> Result<PairInSpace, TwoViewError> {
    let best = &candidates[0];
    let fitted = &best.fitted;
    let references = pair.references();
    let knowledge = Knowledge {
        angle_half_width_rad: exposures.angle_half_width_rad,
        roll_half_width_rad: ROLL_HALF_WIDTH_RAD,
        u_scales: [0, 1].map(|f: usize| pair.observations[f].u_scale),
        scale_place_half_widths_mm: [0, 1]
            .map(|f: usize| pair.observations[f].scale_place_half_width_mm()),
        // A file in the canal is seen by the same rays on the same detector.
        tilt_half_width_rad: pair.shared.map_or(TILT_HALF_WIDTH_RAD, |_| 0.0),
        shared: pair.shared,
        apex_aside_mm: pair.apex_aside_mm,
        foramen_to_apex_mm: settings.uncertainty.foramen_to_apex_mm,
        references,
    };
    let draws = monte_carlo::Sampling {
        draws: settings.draws,
        seed: 1,
    };
    let intervals = propagation::intervals(&pair.films, &candidates, &knowledge, draws)?;
    // Clicks that do not hold the path together leave nothing to be told.
    if 2 * intervals.draws_found < intervals.draws {
        return Err(TwoViewError::NoFit { canal });
    }
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
    let on_films = PairOnFilms::new(&pair, fitted);
    let findings = TwoViewFindings {
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
        possible_further_curve: intervals.further.map(|further| FurtherCurveFinding {
            turn_upto_deg: further.turn_upto_rad.to_degrees(),
            from_apex_mm: further.from_apex_mm,
            draws_percent: 100.0 * further.share,
        }),
        noise_floor_deg,
        mismatch_mm,
        form: match fitted.form {
            Form::Arcs(_) => "arcs",
            Form::Tightening(_) => "tightening",
            Form::Even => "even",
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
    };
    let path = course_of(&laid_flat(&fitted.path));
    let course = path.map(|path| SpaceCourse {
        findings: findings.clone(),
        path,
        possible: intervals.courses,
    });
    Ok(PairInSpace {
        findings,
        on_films,
        course,
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
