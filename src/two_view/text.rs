//! What two films say, as plain text.

use std::fmt::Write as _;

use super::findings::{FilmAlone, TwoViewFindings};
use crate::one_line::one_line;
use crate::uncertainty::rounding::{fixed, with_u95};

/// The findings as lines of text, with a final line feed.
pub fn findings_text(found: &TwoViewFindings) -> String {
    let mut out = String::new();
    let _ = writeln!(
        out,
        "Canal {} on two films {}° ± {}° apart, {}",
        one_line(&found.canal),
        fixed(found.angle_deg, 1),
        fixed(found.angle_half_width_deg, 1),
        found.receptor.words()
    );
    for (name, value) in rows(found) {
        let _ = writeln!(out, "  {}: {}", one_line(&name), one_line(&value));
    }
    for warning in &found.warnings {
        let _ = writeln!(out, "  Check: {}", one_line(&warning.text));
    }
    out
}

/// Name and value of every line, for text and records.
pub fn rows(found: &TwoViewFindings) -> Vec<(String, String)> {
    let mut rows = Vec::new();
    let mut row = |name: &str, value: String| rows.push((name.to_owned(), value));
    row("Length in space", with_u95(found.length_mm, "mm"));
    if let Some(length) = found.working_length_mm {
        row("Working length in space", with_u95(length, "mm"));
    }
    row("Net curvature", with_u95(found.net_turn_deg, "°"));
    row("Total curvature", with_u95(found.total_turn_deg, "°"));
    for (i, curve) in found.curves.iter().enumerate() {
        let plane = match curve.plane_u95_deg {
            Some(u95) => format!("{}° ± {}°", fixed(curve.plane_deg, 0), fixed(u95, 0)),
            None => "not known".to_owned(),
        };
        let straight = if curve.distinguishable {
            ""
        } else {
            "; not distinguishable from straight"
        };
        row(
            &format!("Curve {}", i + 1),
            format!(
                "{}, radius {}, plane {plane} ({}), {} to {} mm from the apex; film A shows {}°, \
                 film B {}°{straight}",
                with_u95(curve.turn_deg, "°"),
                with_u95(curve.radius_mm, "mm"),
                curve.towards,
                fixed(curve.start_from_apex_mm, 1),
                fixed(curve.end_from_apex_mm, 1),
                fixed(curve.film_a_turn_deg, 1),
                fixed(curve.film_b_turn_deg, 1),
            ),
        );
    }
    if let Some(further) = &found.possible_further_curve {
        row(
            "Further curve",
            format!(
                "cannot be excluded: up to {}° about {} mm from the apex, though the points do not \
                 show one ({} % of the draws have one)",
                fixed(further.turn_upto_deg, 0),
                fixed(further.from_apex_mm, 1),
                fixed(further.draws_percent, 0),
            ),
        );
    }
    row(
        "Noise floor",
        format!(
            "{}°: a straight canal seems to bend less in 95 % of such pairs",
            fixed(found.noise_floor_deg, 1)
        ),
    );
    row(
        "Mismatch in height",
        format!("{} mm", fixed(found.mismatch_mm, 2)),
    );
    if let (Some(a), Some(b)) = (
        found.calibration.film_a_scale_off_percent,
        found.calibration.film_b_scale_off_percent,
    ) {
        row(
            "Scale by the file on both films",
            format!(
                "film A's own scale was {} % too large, film B's {} %",
                fixed(a, 2),
                fixed(b, 2)
            ),
        );
    }
    row("Film A alone", alone(&found.film_a));
    row("Film B alone", alone(&found.film_b));
    for canal in &found.other_canals {
        row(
            &format!("Canal {} at its apex", canal.name),
            format!(
                "{} in depth: {}",
                with_u95(canal.depth_mm, "mm"),
                canal.side
            ),
        );
    }
    rows
}

fn alone(film: &FilmAlone) -> String {
    let or_none = |value: Option<f64>, unit: &str| {
        value.map_or("not available".to_owned(), |v| {
            format!("{}{unit}", fixed(v, 2))
        })
    };
    let mut text = format!(
        "length {}, total curvature {}",
        or_none(film.length_mm, " mm"),
        or_none(film.total_turn_deg, "°")
    );
    if let (Some(length), Some(apart)) = (film.working_length_mm, film.working_length_difference_mm)
    {
        let _ = write!(
            text,
            ", working length {} mm ({}{} mm against that in space)",
            fixed(length, 2),
            if apart > 0.0 { "+" } else { "" },
            fixed(apart, 2)
        );
    }
    text
}
