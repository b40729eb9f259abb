//! Objects of known size: their scale, their weighted combination, and
//! whether they agree.

use crate::statistics::normal_quantile;

/// An object whose true size is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct KnownObject {
    /// True length or diameter, mm.
    pub true_size_mm: f64,
    /// Standard uncertainty of the true size, mm.
    pub u_true_size_mm: f64,
    /// Standard uncertainty of the size measured on the film, detector units.
    pub u_apparent: f64,
}

/// The same object measured on a film.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MeasuredObject {
    /// True mm per detector unit.
    pub ratio: f64,
    /// Standard uncertainty of `ratio`.
    pub u_ratio: f64,
}

impl MeasuredObject {
    /// The same with another independent relative uncertainty.
    pub fn with_relative_u(self, relative: f64) -> Self {
        Self {
            u_ratio: self.u_ratio.hypot(self.ratio * relative),
            ..self
        }
    }
}

impl KnownObject {
    /// The scale this object gives when it measures `apparent` detector
    /// units. `None` when that length is not positive.
    pub fn measured(&self, apparent: f64) -> Option<MeasuredObject> {
        if !(apparent > 0.0 && apparent.is_finite()) {
            return None;
        }
        let ratio = self.true_size_mm / apparent;
        let relative = (self.u_true_size_mm / self.true_size_mm).hypot(self.u_apparent / apparent);
        Some(MeasuredObject {
            ratio,
            u_ratio: ratio * relative,
        })
    }
}

/// Least relative uncertainty of an object that weights are taken from.
pub const LEAST_RELATIVE_U: f64 = 1e-9;

/// Weighted least squares of several objects (weights 1/u²): the common ratio
/// and its standard uncertainty. `None` without objects.
pub fn combine(objects: &[MeasuredObject]) -> Option<MeasuredObject> {
    let (mut weights, mut weighted) = (0.0, 0.0);
    for object in objects {
        // An object stated as certain still has a finite weight.
        let weight = object.u_ratio.max(LEAST_RELATIVE_U * object.ratio).powi(-2);
        weights += weight;
        weighted += weight * object.ratio;
    }
    (weights > 0.0).then(|| MeasuredObject {
        ratio: weighted / weights,
        u_ratio: weights.sqrt().recip(),
    })
}

/// The object that disagrees most with the others.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Disagreement {
    /// Its index.
    pub index: usize,
    /// Its scale / the scale of the others − 1.
    pub relative: f64,
    /// The difference in units of its standard uncertainty.
    pub normalised: f64,
}

/// The object whose scale differs from the combination of all others by more
/// than chance at a level of 5 % for all of them together (Bonferroni): the
/// worst, and of two equals the less certain. `None` when all agree.
pub fn disagreement(objects: &[MeasuredObject]) -> Option<Disagreement> {
    if objects.len() < 2 {
        return None;
    }
    // Two objects make one comparison, more of them one each.
    let comparisons = if objects.len() == 2 { 1 } else { objects.len() };
    let critical = normal_quantile(1.0 - 0.025 / comparisons as f64)?;
    let mut worst: Option<(Disagreement, f64)> = None;
    for (index, object) in objects.iter().enumerate() {
        let others: Vec<_> = objects
            .iter()
            .enumerate()
            .filter_map(|(i, o)| (i != index).then_some(*o))
            .collect();
        let others = combine(&others)?;
        let normalised = (object.ratio - others.ratio) / object.u_ratio.hypot(others.u_ratio);
        let found = Disagreement {
            index,
            relative: object.ratio / others.ratio - 1.0,
            normalised,
        };
        let is_worse = worst.is_none_or(|(w, u)| {
            let (new, old) = (normalised.abs(), w.normalised.abs());
            new > old * (1.0 + 1e-9) || (new > old * (1.0 - 1e-9) && object.u_ratio > u)
        });
        if is_worse {
            worst = Some((found, object.u_ratio));
        }
    }
    worst
        .map(|(found, _)| found)
        .filter(|found| found.normalised.abs() > critical)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn object(ratio: f64, u_ratio: f64) -> MeasuredObject {
        MeasuredObject { ratio, u_ratio }
    }

    /// Weighted mean and its uncertainty, closed form: weights 1 and 4.
    #[test]
    fn weights_are_inverse_variances() {
        let both = combine(&[object(1.0, 0.2), object(2.0, 0.1)]).unwrap();
        assert!((both.ratio - 1.8).abs() < 1e-12);
        assert!((both.u_ratio - (1.0_f64 / 125.0).sqrt()).abs() < 1e-12);
        assert_eq!(combine(&[]), None);
    }

    /// JCGM 100 5.1.6: relative variances of a quotient add.
    #[test]
    fn relative_uncertainties_add_in_quadrature() {
        let file = KnownObject {
            true_size_mm: 20.0,
            u_true_size_mm: 0.3,
            u_apparent: 0.42,
        };
        let measured = file.measured(21.0).unwrap();
        assert!((measured.ratio - 20.0 / 21.0).abs() < 1e-12);
        assert!((measured.u_ratio / measured.ratio - 0.025).abs() < 1e-12);
        assert_eq!(file.measured(0.0), None);
        assert_eq!(file.measured(f64::NAN), None);
    }

    #[test]
    fn the_odd_one_out_is_named() {
        let found = disagreement(&[object(1.0, 0.01), object(1.1, 0.01), object(1.0, 0.01)]);
        assert_eq!(found.unwrap().index, 1);
        assert_eq!(disagreement(&[object(1.0, 0.01), object(1.02, 0.01)]), None);
        let two = disagreement(&[object(1.0, 0.02), object(1.1, 0.01)]).unwrap();
        assert_eq!(two.index, 0, "of two, the less certain");
        assert!((two.relative - (1.0 / 1.1 - 1.0)).abs() < 1e-12);
    }

    /// The one farthest off in its own uncertainty, wherever it stands and
    /// whatever the others' uncertainty.
    #[test]
    fn the_worst_is_named_in_any_order() {
        let worst = object(1.3, 0.01);
        let others = [object(1.0, 0.01), object(1.01, 0.03), object(0.99, 0.02)];
        for at in 0..=others.len() {
            let mut all = others.to_vec();
            all.insert(at, worst);
            assert_eq!(disagreement(&all).unwrap().index, at);
        }
    }
}
