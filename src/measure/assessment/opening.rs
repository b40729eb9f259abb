//! Opening of the apex from the canal's walls: their mean distance over the
//! last half millimetre, mesiodistal as the film shows it.

use kurbo::Point;

use super::evidence::{Evidence, Measured, Spread, deviates, worst, worst_shares};
use crate::assessment::{apex_opening_class, apex_opening_shares};
use crate::case::WallSide;
use crate::geometry::{StraightArcPath, WallLine, mean_width_at_end};
use crate::measure::assessment_findings::MeasuredRow;
use crate::measure::findings::Warning;
use crate::measure::model::Scratch;
use crate::statistics::Z95;
use crate::units::{FilmPoint, Quantity};

/// The width is read over this length before the apex, mm.
const LENGTH_MM: f64 = 0.5;
/// Step of a wall point's coordinate for its slope, mm.
const SLOPE_STEP_MM: f64 = 1e-3;

/// An opening, mm.
struct Opening {
    canal: usize,
    width_mm: f64,
    /// What the walls' points leave open.
    u_walls_mm: f64,
    /// The same with the scale's uncertainty.
    u_mm: f64,
}

/// The row: the widest apex of the tooth's canals.
pub fn row(evidence: &Evidence) -> Option<Measured> {
    let own = evidence.own_canals();
    let found: Vec<Opening> = own
        .into_iter()
        .filter_map(|canal| opening(evidence, canal))
        .collect();
    let widest = found
        .iter()
        .max_by(|a, b| a.width_mm.total_cmp(&b.width_mm))?;
    let class = apex_opening_class(widest.width_mm)?;
    let spread = match evidence.drawn {
        Some(drawn) => {
            let scales = drawn.output(0)?;
            let best = evidence.intervals.values[0];
            worst(found.iter().map(|opening| {
                let deviates = deviates(drawn, evidence.case.seed, opening.canal as u64);
                let widths = deviates.iter().zip(&scales).map(|(deviate, scale)| {
                    (opening.width_mm + opening.u_walls_mm * deviate) * scale / best
                });
                widths.map(apex_opening_class).collect()
            }))
        }
        None if evidence.has_law() => worst_shares(
            found
                .iter()
                .map(|opening| apex_opening_shares(opening.width_mm, opening.u_mm)),
        ),
        None => Spread::Shares(None),
    };
    let name = &evidence.case.canals[widest.canal].name;
    let finding = MeasuredRow {
        class,
        probabilities: None,
        value: Some(Quantity {
            value: widest.width_mm,
            u95: Z95 * widest.u_mm,
        }),
        unit: "mm",
        canal: Some(name.clone()),
        from: format!("walls of canal {name}, mesiodistally"),
    };
    Some(Measured::new(evidence, finding, spread))
}

/// The opening of a canal; `None` without walls at its end or without a scale.
fn opening(evidence: &Evidence, canal: usize) -> Option<Opening> {
    let (model, intervals) = (evidence.model, evidence.intervals);
    let walls = evidence.case.canals[canal].walls.as_ref()?;
    let shape = model.best_shape(canal, &mut Scratch::default())?;
    let (path, apex_at_mm) = shape.in_mm()?;
    let mm_per_detector = shape.tooth_per_detector?;
    let in_mm = |points: &[FilmPoint]| -> Vec<Point> {
        let place = |&point| model.frame.detector_from_film(point).to_vec2();
        points
            .iter()
            .map(|point| (place(point) * mm_per_detector).to_point())
            .collect()
    };
    let sides = WallSide::BOTH.map(|side| Side {
        points: in_mm(walls.side(side)),
        unseen: walls.unseen(side),
        sd_mm: model
            .wall_points(walls, side)
            .into_iter()
            .map(|sd| sd * mm_per_detector)
            .collect(),
    });
    let width_mm = width(&path, apex_at_mm, &sides)?;
    let u_walls_mm = u_of_walls(&path, apex_at_mm, &sides, width_mm)?;
    let u_scale = intervals.standard_uncertainties[0] / intervals.values[0];
    let u_mm = u_walls_mm.hypot(width_mm * u_scale);
    (evidence.has_law() || evidence.drawn.is_some() || u_mm.is_finite()).then_some(Opening {
        canal,
        width_mm,
        u_walls_mm,
        u_mm: if u_mm.is_finite() { u_mm } else { 0.0 },
    })
}

/// A wall, mm.
#[derive(Clone)]
struct Side {
    points: Vec<Point>,
    unseen: Vec<bool>,
    /// Standard deviation of each point.
    sd_mm: Vec<f64>,
}

fn width(path: &StraightArcPath, apex_at_mm: f64, sides: &[Side; 2]) -> Option<f64> {
    let [left, right] = sides.each_ref().map(|side| WallLine {
        points: &side.points,
        unseen: &side.unseen,
    });
    mean_width_at_end(path, apex_at_mm, LENGTH_MM, left, right)
}

/// What the walls' points leave open of the width: root of the sum of squares of
/// its slopes by every coordinate, each times the point's own deviation.
fn u_of_walls(
    path: &StraightArcPath,
    apex_at_mm: f64,
    sides: &[Side; 2],
    width_mm: f64,
) -> Option<f64> {
    let mut squares = 0.0;
    let mut moved = sides.clone();
    for side in 0..2 {
        for point in 0..sides[side].points.len() {
            let placed = sides[side].points[point];
            for step in [(SLOPE_STEP_MM, 0.0), (0.0, SLOPE_STEP_MM)] {
                moved[side].points[point] = placed + kurbo::Vec2::from(step);
                let slope = (width(path, apex_at_mm, &moved)? - width_mm) / SLOPE_STEP_MM;
                squares += (slope * sides[side].sd_mm[point]).powi(2);
            }
            moved[side].points[point] = placed;
        }
    }
    Some(squares.sqrt())
}

/// A canal whose walls were followed but do not show at the apex has no opening:
/// said, so that nobody wonders.
pub fn unseen_warnings(evidence: &Evidence) -> Vec<Warning> {
    let of_canal = |canal: usize| {
        let content = &evidence.case.canals[canal];
        let walls = content.walls.as_ref()?;
        let is_hidden = |side: WallSide| {
            let points = walls.side(side);
            let last = walls.unseen(side).into_iter().rposition(|unseen| unseen)?;
            points.get(last + 1).copied()
        };
        let apex = content.apex_px.or(content.trace_px.last().copied())?;
        let mm_per_px = evidence.model.detector_mm_per_px()?;
        let near = |at: FilmPoint| at.distance_px(apex) * mm_per_px < 2.0 * LENGTH_MM;
        let hidden = WallSide::BOTH.into_iter().filter_map(is_hidden).any(near);
        (hidden && opening(evidence, canal).is_none()).then(|| Warning {
            code: "apex_opening_not_seen".to_owned(),
            text: "Case difficulty, apex opening: not available from the walls, which were \
                   followed and do not show on the film close to the apex. Place points there by \
                   hand, or enter the row."
                .to_owned(),
            canal: Some(content.name.clone()),
        })
    };
    let own = evidence.own_canals().into_iter();
    own.filter_map(of_canal).collect()
}
