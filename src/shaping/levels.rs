//! What the walls of a canal say, level by level, and what stands out.

use super::aberrations::{Aberration, AberrationKind};
use super::error::ShapingError;
use super::findings::{AberrationFinding, LevelFinding, warning_of};
use super::measures::{NoRatio, Side, centring_ratio, movement_ratio};
use super::model::{CanalModel, LevelOutput, Nominal, level_values};
use super::pair::Pair;
use super::sections::Section;
use crate::case::Canal;
use crate::measure::findings::Warning;
use crate::progress::Progress;
use crate::statistics::quantile;
use crate::uncertainty::monte_carlo::{Draws, distances};
use crate::units::Quantity;

/// The levels and findings of a canal whose walls are known.
///
/// # Errors
/// Walls that cross, or that do not overlap; too few draws.
pub fn levels_and_findings(
    pair: &Pair,
    canal: &Canal,
    model: &CanalModel,
    warnings: &mut Vec<Warning>,
    progress: &Progress<'_>,
) -> Result<(Vec<LevelFinding>, Vec<AberrationFinding>), ShapingError> {
    let nominal = model
        .nominal()
        .map_err(|(set, from_end_mm)| ShapingError::WallsCross {
            canal: canal.name.clone(),
            film: match set {
                1 => pair.after.findings.case.clone(),
                0 => pair.before.findings.case.clone(),
                _ => "outline of the root".to_owned(),
            },
            from_end_mm,
        })?;
    let is_there = |s: &Section| s.width_before.is_finite() && s.width_after.is_finite();
    if !nominal.sections.iter().any(is_there) {
        return Err(ShapingError::NoOverlap {
            canal: canal.name.clone(),
        });
    }
    let draws = model.draws(pair.before.case.seed, progress)?;
    let levels: Vec<_> = (0..model.levels.len())
        .map(|level| level_finding(model, &nominal, &draws, level))
        .collect();
    let odd = levels
        .iter()
        .filter(|l| l.note.contains("negative removal"))
        .count();
    if odd > 0 {
        warnings.push(warning_of(
            "negative_removal",
            format!(
                "at {odd} level(s) a wall came inwards by more than its uncertainty: the \
                 registration is off there, or material was added; check the marks and the walls"
            ),
            canal,
        ));
    }
    let findings = nominal.aberrations.iter().map(|found| {
        let flags = draws
            .output(model.aberration_output(found.kind))
            .unwrap_or_default();
        let share = flags.iter().filter(|f| **f == 1.0).count() as f64 / flags.len().max(1) as f64;
        AberrationFinding {
            kind: found.kind,
            from_end_mm: found.from_end_mm,
            size_mm: found.size_mm,
            side: found.side,
            share_of_draws: share,
            text: aberration_words(found, share),
        }
    });
    Ok((levels, findings.collect()))
}

fn aberration_words(found: &Aberration, share: f64) -> String {
    let Aberration {
        from_end_mm: at,
        size_mm: size,
        ..
    } = *found;
    let side = match found.side {
        Some(Side::Left) => " on the left",
        Some(Side::Right) => " on the right",
        None => "",
    };
    let what = match found.kind {
        AberrationKind::Zip => {
            format!("zip{side}: the end is {size:.2} mm wider than the narrowest place above it")
        }
        AberrationKind::Elbow => format!("elbow {at:.1} mm from the end, {size:.2} mm wide"),
        AberrationKind::Ledge => {
            format!("ledge{side} {at:.1} mm from the end, a step of {size:.2} mm")
        }
        AberrationKind::ThinWall if found.strong => {
            format!("very thin wall{side} {at:.1} mm from the end: {size:.2} mm left")
        }
        AberrationKind::ThinWall => {
            format!("thin wall{side} {at:.1} mm from the end: {size:.2} mm left")
        }
        AberrationKind::Perforation => {
            format!("perforation{side} {at:.1} mm from the end: the canal crosses the outline")
        }
        AberrationKind::LossOfLength => {
            format!("the canal ends {size:.2} mm short of the canal before")
        }
    };
    format!("{what} (rule holds in {:.0} % of the draws)", 100.0 * share)
}

fn level_finding(
    model: &CanalModel,
    nominal: &Nominal,
    draws: &Draws,
    level: usize,
) -> LevelFinding {
    let section = &nominal.sections[level];
    let values = level_values(section, 1.0);
    let u95 = |output: LevelOutput, value: f64| {
        let deviations = draws.deviations_from(CanalModel::level_output(level, output), value)?;
        // A number that is missing in many draws has no interval.
        (2 * deviations.len() >= draws.draw_count()).then_some(())?;
        quantile(&mut distances(deviations), 0.95)
    };
    let quantity = |output: LevelOutput| {
        let value = values[output as usize];
        Some(Quantity {
            value,
            u95: u95(output, value)?,
        })
    };
    let from_end_mm = model.levels[level];
    let removal = section.removal();
    let transport = quantity(LevelOutput::Transport);
    let ratio = centring_ratio(removal);
    let removed = [
        quantity(LevelOutput::RemovedLeft),
        quantity(LevelOutput::RemovedRight),
    ];
    LevelFinding {
        from_end_mm,
        width_before_mm: quantity(LevelOutput::WidthBefore),
        width_after_mm: quantity(LevelOutput::WidthAfter),
        removed_left_mm: removed[0],
        removed_right_mm: removed[1],
        transport_mm: transport,
        centre_shift_mm: transport.map(|t| Quantity {
            value: 0.5 * t.value,
            u95: 0.5 * t.u95,
        }),
        centring_ratio: ratio.ok(),
        centring_ratio_u95: ratio.ok().and_then(|r| u95(LevelOutput::CentringRatio, r)),
        movement_ratio: ratio
            .ok()
            .and_then(|_| movement_ratio(removal, section.width_after)),
        remaining_left_mm: quantity(LevelOutput::RemainingLeft),
        remaining_right_mm: quantity(LevelOutput::RemainingRight),
        outer_side: model.outer_at(from_end_mm),
        note: note(ratio, removed, transport, section),
    }
}

/// What is missing or odd at a level.
fn note(
    ratio: Result<f64, NoRatio>,
    removed: [Option<Quantity>; 2],
    transport: Option<Quantity>,
    section: &Section,
) -> String {
    let absent = |width: f64, when: &str| {
        (!width.is_finite())
            .then(|| format!("the walls {when} do not reach this level or do not show there"))
    };
    if let Some(words) =
        absent(section.width_before, "before").or(absent(section.width_after, "after"))
    {
        return words;
    }
    if transport.is_none() {
        return "in more than half of the draws a wall does not reach this level or does not show \
                there: no interval, so no numbers"
            .to_owned();
    }
    let beyond = |q: &Quantity| q.value.abs() > q.u95;
    match ratio {
        Err(NoRatio::NothingRemoved) => "no removal: there is no centring ratio".to_owned(),
        Err(NoRatio::Negative(side)) => {
            let (side, of_side) = match side {
                Side::Left => ("left", removed[0]),
                Side::Right => ("right", removed[1]),
            };
            if of_side.as_ref().is_some_and(beyond) {
                format!(
                    "negative removal on the {side}: registration error or new material; no \
                     centring ratio"
                )
            } else {
                format!(
                    "the {side} wall seems to have come inwards, within its uncertainty; no \
                     centring ratio"
                )
            }
        }
        Ok(_) if !removed.iter().flatten().any(beyond) => {
            "the removal is within its uncertainty: the centring ratio says little".to_owned()
        }
        _ => String::new(),
    }
}
