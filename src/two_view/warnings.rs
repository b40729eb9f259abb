//! What the user must hear about a pair of films.

use super::exposures::Exposures;
use super::findings::SpaceCurveFinding;
use super::fit::Fitted;
use super::geometry::angle_between;
use super::pair::{MISMATCH_LIMIT_MM, Pair};
use super::search::best_forms;
use super::shared_object::SAME_LENGTH_MM;
use crate::measure::findings::Warning;
use crate::uncertainty::rounding::fixed;

fn warning(code: &str, text: String) -> Warning {
    Warning {
        code: code.to_owned(),
        text,
        canal: None,
    }
}

/// The heights fit the other sign of the angle.
pub fn sign_of_angle(stated_rad: f64) -> Warning {
    let stated = fixed(stated_rad.to_degrees(), 1);
    let other = fixed(-stated_rad.to_degrees(), 1);
    warning(
        "angle_sign",
        format!(
            "The heights fit an angle of {other}°, not {stated}°: {other}° is used. Check to which \
             side the tube was moved."
        ),
    )
}

/// A canal whose mean direction leans more than this against the axis is
/// unusual, rad: 35° (own limit).
const STEEP_RAD: f64 = 35.0 * std::f64::consts::PI / 180.0;

/// Film B fits far better when seen from behind.
pub fn mirrored(
    pair: &Pair,
    exposures: &Exposures,
    fitted: &Fitted,
    mismatch_mm: f64,
) -> Option<Warning> {
    let lean = lean_rad(fitted);
    if mismatch_mm <= MISMATCH_LIMIT_MM && lean <= STEEP_RAD {
        return None;
    }
    let other = pair.with_b_mirrored(exposures);
    let found = best_forms(&other.films);
    let better = &found.first()?.fitted;
    let by_height =
        mismatch_mm > MISMATCH_LIMIT_MM && other.mismatch_mm(better) < 0.5 * mismatch_mm;
    let by_lean = lean > STEEP_RAD
        && lean_rad(better) < 0.6 * lean
        && other.mismatch_mm(better) <= mismatch_mm.max(MISMATCH_LIMIT_MM);
    let why = match (by_height, by_lean) {
        (true, _) => format!(
            "the mismatch in height falls from {} to {} mm",
            fixed(mismatch_mm, 2),
            fixed(other.mismatch_mm(better), 2)
        ),
        (false, true) => format!(
            "the canal's tilt in space falls from {}° to {}°",
            fixed(lean.to_degrees(), 0),
            fixed(lean_rad(better).to_degrees(), 0)
        ),
        (false, false) => return None,
    };
    Some(warning(
        "film_mirrored",
        format!(
            "Film B fits better with left and right changed: {why}. It is probably mirrored, or the \
             angle is wrong. Open the film as it was taken."
        ),
    ))
}

/// Angle of the canal's chord against the shared axis, rad.
fn lean_rad(fitted: &Fitted) -> f64 {
    let chord = fitted.path.end().place - fitted.path.start().place;
    angle_between(&chord, &nalgebra::Vector3::z())
}

/// Everything else.
pub fn of_pair(
    pair: &Pair,
    exposures: &Exposures,
    fitted: &Fitted,
    mismatch_mm: f64,
    curves: &[SpaceCurveFinding],
) -> Vec<Warning> {
    let mut all = Vec::new();
    let mut warn = |code: &str, text: String| all.push(warning(code, text));
    if mismatch_mm > MISMATCH_LIMIT_MM {
        let rays = if pair.observations.iter().any(|o| o.source_mm.is_none()) {
            " Parallel rays were assumed; the distances from the source to film and tooth of both \
             films may explain part of it."
        } else {
            ""
        };
        warn(
            "height_mismatch",
            format!(
                "The ends of the canal lie {} mm apart in height on the two films. Check that both \
                 traces run from the orifice to the apex of the same canal, both scales, and that \
                 the film was not turned otherwise.{rays}",
                fixed(mismatch_mm, 2)
            ),
        );
    }
    let degrees = exposures.angle_rad.to_degrees();
    if !(10.0..=90.0).contains(&degrees.abs()) {
        warn(
            "angle_unusual",
            format!(
                "An angle of {}° between the films is unusual; 10° to 90° is usual. Check it.",
                fixed(degrees, 1)
            ),
        );
    }
    for seen in &pair.observations {
        if seen.quarter_turns != 0 {
            let turn = match seen.quarter_turns {
                1 => "a quarter turn clockwise",
                2 => "half a turn",
                _ => "a quarter turn anticlockwise",
            };
            warn(
                "film_turned",
                format!(
                    "{}: the apex is not at the bottom; the film is used after {turn}.",
                    seen.name
                ),
            );
        }
    }
    if pair.shared.is_none() {
        let lengths: Vec<f64> = pair
            .observations
            .iter()
            .filter_map(|o| o.file.as_ref().map(|f| f.true_length_mm))
            .collect();
        if let [a, b] = lengths[..] {
            if (a - b).abs() > SAME_LENGTH_MM {
                warn(
                    "file_lengths_differ",
                    format!(
                        "The file in this canal is {} mm long on film A and {} mm on film B: it \
                         was set anew, so it cannot calibrate both films together. Each film \
                         keeps its own scale.",
                        fixed(a, 2),
                        fixed(b, 2)
                    ),
                );
            } else {
                warn(
                    "file_not_shared",
                    "The file in this canal gives no scale common to both films: no curve in \
                     space fits both its traces. Each film keeps its own scale. Check the traces \
                     of the file and the angle between the films."
                        .to_owned(),
                );
            }
        }
        let chord = fitted.path.end().place - fitted.path.start().place;
        for (f, seen) in pair.observations.iter().enumerate() {
            let shadow = pair.films[f]
                .view
                .shadow_step(&fitted.path.start().place, &chord);
            let hidden = 1.0 - shadow.norm() / chord.norm();
            if seen.scale_source == "file" && hidden.abs() > 0.005 {
                warn(
                    "file_foreshortened",
                    format!(
                        "{}: the file that sets the scale leans out of the film's plane and shows \
                         about {} % too short, so lengths by this film are about that much too \
                         long. Trace the same file on both films to calibrate both together.",
                        seen.name,
                        fixed(100.0 * hidden, 1)
                    ),
                );
            }
        }
    }
    for (i, curve) in curves.iter().enumerate() {
        if !curve.distinguishable {
            warn(
                "curve_below_noise",
                format!(
                    "Curve {} of {}° is not distinguishable from straight: at this angle a straight \
                     canal may seem to bend by {}°.",
                    i + 1,
                    fixed(curve.turn_deg.value, 1),
                    fixed(curve.noise_floor_deg, 1)
                ),
            );
        }
    }
    let [a, b] = &pair.observations;
    if a.reference.is_none() || b.reference.is_none() {
        let which = if a.reference.is_none() { a } else { b };
        warn(
            "no_reference_point",
            format!(
                "{}: has no reference point, so there is no working length in space. Place it on \
                 both films.",
                which.name
            ),
        );
    }
    all
}
