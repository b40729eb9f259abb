//! What the points of a trace say against what is assumed of them.

use super::bends::{BendModel, CLEARLY};
use super::findings::Warning;
use super::inputs::PlaceKind;
use super::model::Model;
use super::warnings::warning;
use crate::calibration::DetectorUnit;

/// Residuals that two curves or more need beyond their parameters for anything
/// to be tested.
const LEAST_DOF: usize = 3;

/// Readings of the film that scatter by less than this share of a click have not
/// left the line: the intervals are widened, and nobody need look.
const WORTH_A_LOOK: f64 = 0.5;

/// Warnings of a canal's fit: scatter beyond the stated click noise, a shape
/// that straight pieces and arcs do not describe, too few points for its
/// curves.
pub fn fit_warnings(model: &Model, index: usize) -> Vec<Warning> {
    let Ok(bends) = model.bends(index) else {
        return Vec::new();
    };
    let name = &model.canals[index].name;
    let found = [
        scatter(model, index, bends),
        curve_model(bends),
        few_points(bends),
    ];
    let warn = |(code, text)| warning(code, Some(name), text);
    found.into_iter().flatten().map(warn).collect()
}

fn scatter(model: &Model, index: usize, bends: &BendModel) -> Option<(&'static str, String)> {
    let check = bends.path_fit().check();
    if check.scatter_p >= CLEARLY {
        return None;
    }
    let stated = bends.point_sd();
    let found = stated * bends.scatter_excess();
    let is_read = model.canals[index].angles_from() != "trace";
    if is_read && found < WORTH_A_LOOK * model.click(PlaceKind::Canal, false) {
        return None;
    }
    let in_words = match model.frame.unit() {
        DetectorUnit::Mm => format!("{found:.2} mm about the fitted line, {stated:.2}"),
        DetectorUnit::Px => format!("{found:.1} px about the fitted line, {stated:.1}"),
    };
    if is_read {
        let text = format!(
            "What the film shows of the canal scatters by {in_words} expected; the intervals are \
             widened accordingly. See whether the line stays on the canal, or trace it by hand."
        );
        return Some(("readings_scatter", text));
    }
    let text = format!(
        "The points scatter by {in_words} stated; the intervals are widened accordingly. Trace \
         again at a higher zoom, or state your own click noise."
    );
    Some(("click_noise_exceeded", text))
}

fn curve_model(bends: &BendModel) -> Option<(&'static str, String)> {
    let fit = bends.path_fit();
    let p = fit.check().straight_arc_p;
    if p >= CLEARLY {
        return None;
    }
    let level = if p < 0.001 { "0.1 %" } else { "1 %" };
    let instead = if fit.is_smooth() {
        "angles, radii and profile come from a smooth curve"
    } else {
        "radii and profile are those of the nearest such line"
    };
    let text = format!(
        "The points contradict a canal of straight pieces and arcs (level {level}): {instead}."
    );
    Some(("curve_model", text))
}

fn few_points(bends: &BendModel) -> Option<(&'static str, String)> {
    let fit = bends.path_fit();
    if fit.structure().arc_count() < 2 || fit.check().dof >= LEAST_DOF {
        return None;
    }
    let text = "Too few points to tell two curves from another shape: turns and radii may be off \
                by more than stated. Place 12 or more."
        .to_owned();
    Some(("few_points_for_curves", text))
}
