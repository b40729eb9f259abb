//! The whole way from two cases to what shaping did.

use std::path::Path;

use super::aberrations::{Aberration, AberrationKind};
use super::bends::{BendChange, compare_bends};
use super::centre_line::CentreLine;
use super::error::ShapingError;
use super::findings::{
    AberrationFinding, CanalShaping, LevelFinding, RegistrationFinding, ShapingFindings,
};
use super::follow::follow_walls_of;
use super::measures::{NoRatio, Side, centring_ratio, movement_ratio};
use super::model::{CanalModel, LevelOutput, Nominal, WallSet, level_values};
use super::pair::Pair;
use super::sections::Section;
use super::settings::ShapingSettings;
use crate::case::{Canal, Case, Walls};
use crate::film::OpenedFilm;
use crate::geometry::{DrawnCurve, GeometryError};
use crate::measure::findings::Warning;
use crate::measure::{FilmSummary, open_case};
use crate::registration::Scale;
use crate::statistics::quantile;
use crate::uncertainty::monte_carlo::{Draws, distances};
use crate::units::{FilmPoint, Quantity};

/// A case with its film.
#[derive(Clone, Debug)]
pub struct Picture {
    pub case: Case,
    pub film: FilmSummary,
    /// As messages name it.
    pub name: String,
}

/// What was found, with the pictures lying over each other for drawing.
#[derive(Clone, Debug)]
pub struct Comparison {
    pub findings: ShapingFindings,
    pub pair: Pair,
}

/// Reads a case with its film.
///
/// # Errors
/// [`ShapingError::Measure`].
pub fn open_picture(path: &Path) -> Result<(Picture, OpenedFilm), ShapingError> {
    let (case, film) = open_case(path)?;
    let picture = Picture {
        case,
        film: FilmSummary::from(&film),
        name: path.display().to_string(),
    };
    Ok((picture, film))
}

/// Reads and compares two cases. `follow` looks for walls on the pictures
/// where a case has none.
///
/// # Errors
/// [`ShapingError`], one clear line.
pub fn compare_files(
    before: &Path,
    after: &Path,
    settings: &ShapingSettings,
    follow: bool,
) -> Result<(Comparison, [OpenedFilm; 2]), ShapingError> {
    let (mut first, film_a) = open_picture(before)?;
    let (mut second, film_b) = open_picture(after)?;
    if follow {
        follow_walls_of(&mut first, &film_a)?;
        follow_walls_of(&mut second, &film_b)?;
    }
    let comparison = compare(&first, &second, settings)?;
    Ok((comparison, [film_a, film_b]))
}

/// Compares two films.
///
/// # Errors
/// [`ShapingError`], one clear line.
pub fn compare(
    before: &Picture,
    after: &Picture,
    settings: &ShapingSettings,
) -> Result<Comparison, ShapingError> {
    check_settings(settings)?;
    let pair = Pair::new(before, after, settings)?;
    let mut warnings = pair_warnings(&pair, settings);
    let mut canals = Vec::new();
    for (index, canal) in pair.before.case.canals.iter().enumerate() {
        let other = pair
            .after
            .case
            .canals
            .iter()
            .position(|c| c.name == canal.name);
        let Some(other) = other else {
            warnings.push(warning(
                "canal_not_in_both",
                "this canal is not in the second case; name it alike there".to_owned(),
                canal,
            ));
            continue;
        };
        if canal.trace_px.len() < 2 {
            warnings.push(warning(
                "no_trace",
                "the canal is not traced on the first film; trace it".to_owned(),
                canal,
            ));
            continue;
        }
        canals.push(compare_canal(
            &pair,
            [index, other],
            settings,
            &mut warnings,
        )?);
    }
    let Some(first) = canals.first() else {
        return Err(ShapingError::NoCommonCanal);
    };
    let findings = ShapingFindings {
        before: before.name.clone(),
        after: after.name.clone(),
        draws: settings.draws,
        registration: registration_finding(&pair, first),
        canals,
        warnings,
    };
    Ok(Comparison { findings, pair })
}

fn check_settings(settings: &ShapingSettings) -> Result<(), ShapingError> {
    let step = settings.step_mm;
    if !(0.1..=5.0).contains(&step) {
        return Err(ShapingError::OutOfRange {
            what: "distance of the levels (--step-mm)",
            found: step,
            least: 0.1,
            greatest: 5.0,
        });
    }
    Ok(())
}

fn warning(code: &str, text: String, canal: &Canal) -> Warning {
    Warning {
        code: code.to_owned(),
        text,
        canal: Some(canal.name.clone()),
    }
}

fn pair_warnings(pair: &Pair, settings: &ShapingSettings) -> Vec<Warning> {
    let mut warnings = Vec::new();
    let mut warn = |code: &str, text: String| {
        warnings.push(Warning {
            code: code.to_owned(),
            text,
            canal: None,
        });
    };
    if pair.mm_before.is_none() {
        warn(
            "no_scale",
            "neither film has a scale: widths, removal and transport are not available; trace an \
             object of known length, or make the photograph flat (flatten) and enter its mm per px"
                .to_owned(),
        );
    }
    if pair.names.len() == 3 {
        warn(
            "three_marks",
            "three marks leave little to check; place a fourth, so that they surround the canal"
                .to_owned(),
        );
    }
    let disagreement = pair.px_scale / pair.px_scale_from_marks - 1.0;
    let limit = settings.scale_disagreement.max(2.0 * pair.u_scale_ratio);
    if matches!(pair.scale, Scale::Fixed(_)) && disagreement.abs() > limit {
        warn(
            "scale_disagreement",
            format!(
                "the two calibrations and the marks disagree on the scale by {:.1} %; check both \
                 calibrations",
                100.0 * disagreement.abs()
            ),
        );
    }
    if pair.mark_excess > 1.0 {
        let worst = &pair.names[pair.registration.worst()];
        warn(
            "marks_fit_badly",
            format!(
                "the marks lie farther apart than careful clicks leave them ({:.1} times); mark \
                 \"{worst}\" fits worst: place it anew on both pictures",
                pair.mark_excess
            ),
        );
    }
    warnings
}

fn registration_finding(pair: &Pair, first: &CanalShaping) -> RegistrationFinding {
    let registration = &pair.registration;
    let scale = registration.transform.scale;
    let worst = registration.worst();
    let has_scale = pair.mm_before.is_some();
    let mm = |length: f64| (has_scale && length.is_finite()).then_some(length);
    let px_per_mm = pair.px_per_mm();
    RegistrationFinding {
        marks: pair.names.clone(),
        rotation_deg: registration.transform.rotation_rad.to_degrees(),
        scale: pair.px_scale,
        scale_source: match pair.scale {
            Scale::Fixed(_) => "calibrations",
            Scale::Free => "marks",
        },
        scale_from_marks: pair.px_scale_from_marks,
        residual_mm: mm(registration.residual_rms / scale),
        residual_px: registration.residual_rms / scale * px_per_mm,
        expected_residual_mm: mm(pair.expected_residual()),
        error_at_apex_mm: first.error_at_end_mm,
        worst_mark: pair.names[worst].clone(),
        worst_mark_off_mm: mm(registration.residuals[worst] / scale),
        worst_mark_off_px: registration.residuals[worst] / scale * px_per_mm,
    }
}

fn compare_canal(
    pair: &Pair,
    [index, other]: [usize; 2],
    settings: &ShapingSettings,
    warnings: &mut Vec<Warning>,
) -> Result<CanalShaping, ShapingError> {
    let (canal, later) = (
        &pair.before.case.canals[index],
        &pair.after.case.canals[other],
    );
    let trace: Vec<_> = canal.trace_px.iter().map(|&p| pair.before_mm(p)).collect();
    let unusable = |error: GeometryError| ShapingError::Wall {
        canal: canal.name.clone(),
        film: pair.before.findings.case.clone(),
        side: "centre line or a",
        reason: error.to_string(),
    };
    let line_sd = pair.mark_sd[0];
    let line = CentreLine::new(&trace, line_sd).map_err(unusable)?;
    let end = line.station(0.0).point;
    let has_scale = pair.mm_before.is_some();

    let transform = pair.registration.transform;
    let later_end = later.trace_px.last().map(|&p| pair.after_mm(p, &transform));
    if let Some(place) = later_end
        && later.trace_px.len() >= 2
    {
        let points = later.trace_px.iter().map(|&p| pair.after_mm(p, &transform));
        check_overlap(canal, &line, points.collect::<Vec<_>>().as_slice(), place)?;
    }
    let short_mm = later_end
        .filter(|_| has_scale && later.trace_px.len() >= 2)
        .map(|place| line.from_end(place));

    let bends = if later.trace_px.len() >= 2 {
        compare_bends(pair, [index, other], settings)?
    } else {
        warnings.push(warning(
            "no_trace_after",
            "the canal is not traced on the second film: straightening and change of length are \
             not available; trace it there too"
                .to_owned(),
            canal,
        ));
        BendChange::default()
    };
    warnings.extend(
        bends
            .warnings
            .iter()
            .map(|text| warning("curves_differ", text.clone(), canal)),
    );

    let (levels, findings) = match walls_of(pair, canal, later)? {
        Some(sets) if has_scale => {
            let model = CanalModel::new(pair, settings, (line, line_sd), sets, short_mm);
            levels_and_findings(pair, canal, &model, warnings)?
        }
        Some(_) => (Vec::new(), Vec::new()),
        None => {
            warnings.push(warning(
                "no_walls",
                "the canal's walls are not traced on both films: widths, removal and transport \
                 are not available; trace them, or have them followed (--follow-walls)"
                    .to_owned(),
                canal,
            ));
            (Vec::new(), Vec::new())
        }
    };
    Ok(CanalShaping {
        name: canal.name.clone(),
        error_at_end_mm: has_scale.then(|| pair.error_at(end)),
        levels,
        straightening_deg: bends.straightening_deg,
        curves: bends.curves,
        length_change_mm: bends.length_change_mm,
        length_change_explained_mm: bends.length_change_explained_mm,
        ends_short_mm: short_mm,
        findings,
    })
}

/// The two traces must run beside each other somewhere.
fn check_overlap(
    canal: &Canal,
    line: &CentreLine,
    points: &[kurbo::Point],
    end: kurbo::Point,
) -> Result<(), ShapingError> {
    let near = |p: &kurbo::Point| {
        let at = line.from_end(*p);
        let foot = line.station(at.clamp(0.0, line.length())).point;
        foot.distance(*p) < 0.2 * line.length()
    };
    if points.iter().any(near) || near(&end) {
        Ok(())
    } else {
        Err(ShapingError::NoOverlap {
            canal: canal.name.clone(),
        })
    }
}

/// Walls before and after, then the root's outline; `None` where a wall is
/// missing.
fn walls_of(
    pair: &Pair,
    canal: &Canal,
    later: &Canal,
) -> Result<Option<Vec<WallSet>>, ShapingError> {
    let (Some(before), Some(after)) = (&canal.walls, &later.walls) else {
        return Ok(None);
    };
    let mut sets = vec![
        wall_set(pair, canal, before, false)?,
        wall_set(pair, canal, after, true)?,
    ];
    // Measured beside the wall after, the remaining wall knows nothing of the
    // registration.
    if let Some(outline) = &later.root_outline {
        sets.push(wall_set(pair, canal, outline, true)?);
    } else if let Some(outline) = &canal.root_outline {
        sets.push(wall_set(pair, canal, outline, false)?);
    }
    Ok(Some(sets))
}

fn wall_set(
    pair: &Pair,
    canal: &Canal,
    walls: &Walls,
    on_after: bool,
) -> Result<WallSet, ShapingError> {
    let place = |p: &FilmPoint| {
        if on_after {
            pair.after_detector(*p)
        } else {
            pair.before_mm(*p)
        }
    };
    let film = if on_after { &pair.after } else { &pair.before };
    for (side, points) in [("left", &walls.left_px), ("right", &walls.right_px)] {
        let points: Vec<_> = points.iter().map(place).collect();
        if let Err(error) = DrawnCurve::through(&points) {
            return Err(ShapingError::Wall {
                canal: canal.name.clone(),
                film: film.findings.case.clone(),
                side,
                reason: error.to_string(),
            });
        }
    }
    Ok(WallSet {
        points: [
            walls.left_px.iter().map(place).collect(),
            walls.right_px.iter().map(place).collect(),
        ],
        sd: pair.wall_sd(walls.u_px, on_after),
        on_after,
    })
}

fn levels_and_findings(
    pair: &Pair,
    canal: &Canal,
    model: &CanalModel,
    warnings: &mut Vec<Warning>,
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
    let draws = model.draws(pair.before.case.seed)?;
    let levels: Vec<_> = (0..model.levels.len())
        .map(|level| level_finding(model, &nominal, &draws, level))
        .collect();
    let odd = levels
        .iter()
        .filter(|l| l.note.contains("negative removal"))
        .count();
    if odd > 0 {
        warnings.push(warning(
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
        note: note(ratio, removed, section),
    }
}

/// What is missing or odd at a level.
fn note(ratio: Result<f64, NoRatio>, removed: [Option<Quantity>; 2], section: &Section) -> String {
    let absent = |width: f64, when: &str| {
        (!width.is_finite()).then(|| format!("the walls {when} do not reach this level"))
    };
    if let Some(words) =
        absent(section.width_before, "before").or(absent(section.width_after, "after"))
    {
        return words;
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
