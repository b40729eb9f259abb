//! Uncertainty where a formula's ends and special cases decide.

use lengthfilm::progress::Progress;
use lengthfilm::uncertainty::inputs::{Correlation, Input, InputSet};
use lengthfilm::uncertainty::linear::LinearPropagation;
use lengthfilm::uncertainty::monte_carlo::{Sampling, draw_outputs};
use lengthfilm::uncertainty::rounding::round_result;

/// At the edge of where a model gives a value, the slope is that towards the
/// side where it does: of √(x − 2) + 3x between 2 and a step beyond it, and of
/// its mirror image.
#[test]
fn a_slope_at_an_edge_is_that_of_the_side_which_has_values() {
    let u = 0.01;
    let inputs = InputSet::new(vec![Input::normal("x", 2.0, u)]).unwrap();
    let above = |x: &[f64], y: &mut [f64]| y[0] = (x[0] - 2.0).sqrt() + 3.0 * x[0];
    let below = |x: &[f64], y: &mut [f64]| y[0] = (2.0 - x[0]).sqrt() + 3.0 * x[0];
    let slope = |found: LinearPropagation| {
        let result = found.outputs[0].clone().unwrap();
        result.budget[0].sensitivity
    };
    // √h / h + 3 for a step h, the other way round below.
    let of_root = |slope: f64| slope - 3.0;
    let up = of_root(slope(LinearPropagation::of_model(&inputs, 1, above)));
    let down = of_root(slope(LinearPropagation::of_model(&inputs, 1, below)));
    assert!((up + down).abs() < 1e-9 * up, "{up}, {down}");
    let step = up.powi(-2);
    assert!(step > 0.0 && step <= u * (1.0 + 1e-9), "a step of {step}");
}

/// Two inputs said to be correlated by nothing are independent: the degrees of
/// freedom are those of Welch and Satterthwaite (JCGM 100:2008, G.2b; SEEN),
/// here (1 + 1)² / (1/4 + 1/8).
#[test]
fn a_correlation_of_nothing_is_none() {
    let inputs = || {
        vec![
            Input::normal("a", 0.0, 1.0).with_dof(4.0),
            Input::normal("b", 0.0, 1.0).with_dof(8.0),
        ]
    };
    let correlated = |coefficient: f64| {
        let link = Correlation {
            first: 0,
            second: 1,
            coefficient,
        };
        let set = InputSet::correlated(inputs(), vec![link]).unwrap();
        let found = LinearPropagation::of_model(&set, 1, |x, y| y[0] = x[0] + x[1]);
        found.outputs[0].clone().unwrap().effective_dof
    };
    let free = correlated(0.0).unwrap();
    assert!((free - 4.0 / 0.375).abs() < 1e-6, "{free}");
    assert_eq!(correlated(0.5), None, "the formula needs independence");
}

/// The standard uncertainty of draws is their sample standard deviation, with
/// one degree of freedom less than draws (JCGM 101:2008, 7.6; SEEN).
#[test]
fn draws_have_the_deviation_of_a_sample() {
    let inputs = InputSet::new(vec![Input::normal("x", 1.0, 0.5)]).unwrap();
    let settings = Sampling {
        draws: 100,
        seed: 5,
    };
    let nobody = Progress::unwatched();
    let model = |x: &[f64], (): &mut (), y: &mut [f64]| y[0] = x[0];
    let drawn = draw_outputs(&inputs, 1, settings, &nobody, || (), model).unwrap();
    let values = drawn.output(0).unwrap();
    let mean = values.iter().sum::<f64>() / 100.0;
    let squares: f64 = values.iter().map(|v| (v - mean).powi(2)).sum();
    let found = drawn.summary(0).unwrap();
    let expected = (squares / 99.0).sqrt();
    assert!((found.standard_uncertainty / expected - 1.0).abs() < 1e-12);
    assert!((found.mean / mean - 1.0).abs() < 1e-12);
}

#[test]
fn only_a_known_result_is_rounded() {
    for (value, u) in [
        (f64::NAN, 0.1),
        (f64::INFINITY, 0.1),
        (1.0, f64::NAN),
        (1.0, f64::INFINITY),
        (1.0, 0.0),
        (1.0, -0.1),
    ] {
        assert_eq!(round_result(value, u), None, "{value} ± {u}");
    }
    // The last place kept lies before the point.
    let hundreds = round_result(12_345.0, 432.0).unwrap();
    assert_eq!(
        (hundreds.value, hundreds.uncertainty, hundreds.decimals),
        (12_350.0, 440.0, -1)
    );
    // Nothing is written as a negative nothing.
    let nothing = round_result(-0.001, 0.5).unwrap();
    assert!(nothing.value == 0.0 && nothing.value.is_sign_positive());
}
