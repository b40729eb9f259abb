//! The whole way from two cases to what shaping did.

use std::path::Path;

use super::bends::{BendChange, compare_bends};
use super::centre_line::CentreLine;
use super::error::ShapingError;
use super::findings::{CanalShaping, ShapingFindings, warning_of};
use super::follow::follow_walls_of;
use super::levels::levels_and_findings;
use super::match_marks::match_marks_of;
use super::model::{CanalModel, WallErrors, WallSet};
use super::pair::Pair;
use super::picture::{Picture, open_picture};
use super::registration_words::{pair_warnings, registration_finding};
use super::settings::ShapingSettings;
use crate::case::{Canal, WallSide, Walls};
use crate::film::OpenedFilm;
use crate::geometry::{DrawnCurve, GeometryError};
use crate::measure::findings::Warning;
use crate::progress::Progress;
use crate::units::FilmPoint;

/// What was found, with the pictures lying over each other for drawing.
#[derive(Clone, Debug)]
pub struct Comparison {
    pub findings: ShapingFindings,
    pub pair: Pair,
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
    let (first, film_a) = open_picture(before)?;
    let (second, film_b) = open_picture(after)?;
    let films = [film_a, film_b];
    let comparison = compare_opened([first, second], &films, settings, follow)?;
    Ok((comparison, films))
}

/// Compares two cases whose films are in memory.
///
/// # Errors
/// [`ShapingError`], one clear line.
pub fn compare_opened(
    [mut before, mut after]: [Picture; 2],
    films: &[OpenedFilm; 2],
    settings: &ShapingSettings,
    follow: bool,
) -> Result<Comparison, ShapingError> {
    let patients = films.each_ref().map(|film| film.identity.patient());
    if let [Some(one), Some(other)] = &patients
        && one.trim() != other.trim()
    {
        return Err(ShapingError::DifferentPatients {
            before: before.name,
            after: after.name,
        });
    }
    if follow {
        follow_walls_of(&mut before, &films[0].film)?;
        follow_walls_of(&mut after, &films[1].film)?;
    }
    if settings.match_marks {
        match_marks_of(&before, &mut after, films.each_ref().map(|film| &film.film))?;
    }
    compare(&before, &after, settings)
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
    compare_watched(before, after, settings, &Progress::unwatched())
}

/// The same, to be stopped through `progress`.
///
/// # Errors
/// [`ShapingError`], one clear line.
pub fn compare_watched(
    before: &Picture,
    after: &Picture,
    settings: &ShapingSettings,
    progress: &Progress<'_>,
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
            warnings.push(warning_of(
                "canal_not_in_both",
                "this canal is not in the second case; name it alike there".to_owned(),
                canal,
            ));
            continue;
        };
        if canal.trace_px.len() < 2 {
            warnings.push(warning_of(
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
            progress,
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

fn compare_canal(
    pair: &Pair,
    [index, other]: [usize; 2],
    settings: &ShapingSettings,
    warnings: &mut Vec<Warning>,
    progress: &Progress<'_>,
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
    let line_sd = pair.click_sd[0];
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
        compare_bends(pair, [index, other], settings, progress)?
    } else {
        warnings.push(warning_of(
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
            .map(|text| warning_of("curves_differ", text.clone(), canal)),
    );

    let (levels, findings) = match walls_of(pair, canal, later)? {
        Some(sets) if has_scale => {
            let model = CanalModel::new(pair, settings, (line, line_sd), sets, short_mm);
            levels_and_findings(pair, canal, &model, warnings, progress)?
        }
        Some(_) => (Vec::new(), Vec::new()),
        None => {
            warnings.push(warning_of(
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
        errors: WallSide::BOTH.map(|side| wall_errors(pair, walls, side, on_after)),
        unseen: WallSide::BOTH.map(|side| walls.unseen(side)),
        on_after,
    })
}

/// How well the points of a wall are known: as the film says where they were
/// read, else as clicks are.
fn wall_errors(pair: &Pair, walls: &Walls, side: WallSide, on_after: bool) -> WallErrors {
    let points = walls.side(side);
    let (click, px) = (pair.wall_click_sd(on_after), pair.one_px(on_after));
    let read = |index: usize| walls.read_point(side, index);
    let own = (0..points.len()).map(|i| read(i).map_or(click, |r| r.own_px * px));
    let mut errors = WallErrors {
        own: own.collect(),
        ..WallErrors::default()
    };
    if walls.followed.is_some() {
        let common = (0..points.len()).map(|i| read(i).map_or(0.0, |r| r.common_px * px));
        errors.common = common.collect();
        let apart = |i: usize| i.checked_sub(1).map(|k| points[k].distance_px(points[i]));
        let shared = |i: usize| apart(i).map_or(0.0, |px| walls.common_share(side, px));
        errors.shared = (0..points.len()).map(shared).collect();
    }
    errors
}
