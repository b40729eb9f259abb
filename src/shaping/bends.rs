//! Straightening and change of length.

use std::collections::BTreeMap;

use super::findings::CurveShaping;
use super::pair::Pair;
use super::settings::ShapingSettings;
use crate::curvature::{CurvatureNumber, CurvatureQuantity as Q, CurveQuantity};
use crate::geometry::DrawnCurve;
use crate::measure::{self, LengthQuantity, Model};
use crate::progress::Progress;
use crate::statistics::Z95;
use crate::statistics::quantile;
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::monte_carlo::{self, Draws};
use crate::units::Quantity;

/// The methods whose angle before less that after is the straightening.
const COMPARED_METHODS: [(&str, Q); 8] = [
    ("schneider", Q::Schneider),
    ("weine", Q::Weine),
    ("axis_axis", Q::AxisAxis),
    ("pruett", Q::Pruett),
    ("luiten", Q::Luiten),
    ("canal_access", Q::CanalAccess),
    ("net_turn", Q::NetTurn),
    ("total_turn", Q::TotalTurn),
];

/// Curves of one canal that are compared.
const CURVES: usize = 3;

/// A seed of its own for the second film: two cases with the same seed would
/// draw the same clicks.
const OTHER_FILM: u64 = 0x05EE_D0F2;

/// What became of a canal's bends and of its length.
#[derive(Clone, Debug, Default)]
pub struct BendChange {
    pub straightening_deg: BTreeMap<&'static str, Option<Quantity>>,
    pub curves: Vec<CurveShaping>,
    pub length_change_mm: Option<Quantity>,
    pub length_change_explained_mm: Option<f64>,
    pub warnings: Vec<String>,
}

/// Length that a canal loses although both its straight parts stay where they
/// are, when an arc of `angle_rad` between the same tangents gets the radius
/// `after_mm` in place of `before_mm`: (R1 − R0)(2 tan(θ/2) − θ) (DERIVED).
pub fn length_explained_mm(angle_rad: f64, before_mm: f64, after_mm: f64) -> f64 {
    (after_mm - before_mm) * (2.0 * (0.5 * angle_rad).tan() - angle_rad)
}

/// All numbers of one canal of one film: best estimates and draws.
struct Side {
    values: Vec<f64>,
    draws: Draws,
    offset: usize,
}

impl Side {
    fn new(
        model: &Model,
        canal: usize,
        seed: u64,
        settings: &ShapingSettings,
        progress: &Progress<'_>,
    ) -> Result<Self, UncertaintyError> {
        let mut values = vec![f64::NAN; model.output_count()];
        model.evaluate_best(&mut measure::Scratch::default(), &mut values);
        let amount = monte_carlo::Sampling {
            draws: settings.measure.draws,
            seed,
        };
        Ok(Self {
            values,
            draws: measure::draws(model, amount, progress)?,
            offset: Model::canal_offset(canal),
        })
    }

    fn value(&self, output: usize) -> f64 {
        self.values[self.offset + output]
    }
}

fn curvature_output(number: CurvatureNumber) -> Option<usize> {
    Some(LengthQuantity::COUNT + number.index()?)
}

/// First less second by best estimates and draws, times `factor`.
fn difference(first: &Side, second: &Side, output: usize, factor: f64) -> Option<Quantity> {
    let value = first.value(output) - second.value(output);
    let drawn = |side: &Side| side.draws.output(side.offset + output);
    let pairs = drawn(first)?.into_iter().zip(drawn(second)?);
    let away = pairs.map(|(a, b)| (a - b - value).abs());
    let mut away: Vec<f64> = away.filter(|d| d.is_finite()).collect();
    // An angle that is missing in many draws has no interval.
    if !value.is_finite() || 2 * away.len() < first.draws.draw_count() {
        return None;
    }
    let u95 = quantile(&mut away, 0.95)?;
    Some(Quantity {
        value: value * factor,
        u95: u95 * factor.abs(),
    })
}

fn interval(side: &Side, output: usize, factor: f64) -> Option<Quantity> {
    let value = side.value(output);
    let deviations = side.draws.deviations_from(side.offset + output, value)?;
    let u95 = quantile(&mut monte_carlo::distances(deviations), 0.95)?;
    Some(Quantity {
        value: value * factor,
        u95: u95 * factor.abs(),
    })
}

/// Compares the bends of a canal, given by its index on either film.
///
/// # Errors
/// Inputs of which no intervals can be drawn.
pub fn compare_bends(
    pair: &Pair,
    [before, after]: [usize; 2],
    settings: &ShapingSettings,
    progress: &Progress<'_>,
) -> Result<BendChange, UncertaintyError> {
    let first = Side::new(
        &pair.before.model,
        before,
        pair.before.case.seed,
        settings,
        progress,
    )?;
    let other_seed = pair.after.case.seed ^ OTHER_FILM;
    let second = Side::new(&pair.after.model, after, other_seed, settings, progress)?;
    let degrees = 1f64.to_degrees();
    let mut change = BendChange::default();
    for (name, quantity) in COMPARED_METHODS {
        let found = curvature_output(CurvatureNumber::Whole(quantity))
            .and_then(|output| difference(&first, &second, output, degrees));
        change.straightening_deg.insert(name, found);
    }
    compare_curves(pair, [&first, &second], &mut change);
    if pair.mm_before.is_some() {
        compare_lengths(pair, [before, after], [&first, &second], &mut change);
    }
    Ok(change)
}

/// Curve by curve, counted from the end.
fn compare_curves(pair: &Pair, [first, second]: [&Side; 2], change: &mut BendChange) {
    let output =
        |of: CurveQuantity, curve: usize| curvature_output(CurvatureNumber::Curve(curve, of));
    let count = |side: &Side| {
        let turns = (0..CURVES).filter_map(|curve| output(CurveQuantity::Turn, curve));
        turns.filter(|&turn| side.value(turn).is_finite()).count()
    };
    let counts = [count(first), count(second)];
    if counts[0] != counts[1] {
        change.warnings.push(format!(
            "before has {} curve(s), after {}: straightening curve by curve is not available; \
             compare the methods",
            counts[0], counts[1]
        ));
        return;
    }
    let has_scale = pair.mm_before.is_some();
    let mut explained = 0.0;
    for curve in 0..counts[0] {
        let (Some(turn), Some(radius)) = (
            output(CurveQuantity::Turn, curve),
            output(CurveQuantity::Radius, curve),
        ) else {
            continue;
        };
        let sense = first.value(turn).signum();
        let degrees = 1f64.to_degrees();
        let mm = |side: &Side| interval(side, radius, 1.0).filter(|_| has_scale);
        let start = output(CurveQuantity::StartFromApex, curve).map(|o| first.value(o));
        let end = output(CurveQuantity::EndFromApex, curve).map(|o| first.value(o));
        change.curves.push(CurveShaping {
            turn_before_deg: interval(first, turn, degrees),
            turn_after_deg: interval(second, turn, degrees),
            straightening_deg: difference(first, second, turn, sense * degrees),
            radius_before_mm: mm(first),
            radius_after_mm: mm(second),
            radius_change_mm: difference(second, first, radius, 1.0).filter(|_| has_scale),
            start_from_end_mm: start.filter(|s| has_scale && s.is_finite()),
            end_from_end_mm: end.filter(|s| has_scale && s.is_finite()),
        });
        let angle = first.value(turn).abs();
        explained += length_explained_mm(angle, first.value(radius), second.value(radius));
    }
    change.length_change_explained_mm = (has_scale && explained.is_finite()).then_some(-explained);
}

/// Change of working length: from the reference point where both films have
/// one, else of the canal from the place where the first trace begins.
fn compare_lengths(
    pair: &Pair,
    [before, after]: [usize; 2],
    [first, second]: [&Side; 2],
    change: &mut BendChange,
) {
    let canals = [
        &pair.before.case.canals[before],
        &pair.after.case.canals[after],
    ];
    if canals.iter().all(|canal| canal.reference_px.is_some()) {
        let output = LengthQuantity::ReferenceToApex as usize;
        change.length_change_mm = difference(second, first, output, 1.0);
        if change.length_change_mm.is_some() {
            return;
        }
    }
    let output = LengthQuantity::CurvedLength as usize;
    let Some(lengths) = difference(second, first, output, 1.0) else {
        return;
    };
    // The two traces need not begin at the same place.
    let transform = pair.registration.transform;
    let trace = canals[1].trace_px.iter();
    let points: Vec<_> = trace.map(|&p| pair.after_mm(p, &transform)).collect();
    let (Ok(curve), Some(&start)) = (DrawnCurve::through(&points), canals[0].trace_px.first())
    else {
        return;
    };
    let start = pair.before_mm(start);
    let skipped = curve.project(start).length_at;
    // One coordinate of the registration error runs along the canal.
    let u95 = Z95 * pair.error_at(start) / 2f64.sqrt();
    change.length_change_mm = Some(Quantity {
        value: lengths.value - skipped,
        u95: lengths.u95.hypot(u95),
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    /// DERIVED: an arc of angle θ between fixed tangents.
    #[test]
    fn length_lost_between_fixed_tangents() {
        for (degrees, more_mm, lost) in [
            (30.0_f64, 3.0, 0.0369),
            (60.0, 3.0, 0.3225),
            (40.0, 4.0, 0.1192),
            (20.0, 2.0, 0.0072),
            (90.0, 2.0, 0.8584),
        ] {
            let found = length_explained_mm(degrees.to_radians(), 5.0, 5.0 + more_mm);
            assert!((found - lost).abs() < 5e-5, "{degrees}: {found}");
        }
    }
}
