//! The uncertainty library against the examples of JCGM 100:2008 and closed
//! forms.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use lengthfilm::progress::Progress;
use lengthfilm::statistics::{correlation, quantile};
use lengthfilm::uncertainty::{
    UncertaintyError,
    inputs::{Correlation, Input, InputSet, Readings, Shape, dof_from_reliability},
    linear::{LinearPropagation, LinearResult, coverage_factor},
    monte_carlo::{
        BLOCK, Draws, FIRST_BLOCK, Sampling, Summary, distances, draw_outputs, draw_until,
    },
    rounding::{round_result, with_u95},
};
use lengthfilm::units::Quantity;

/// Asserts that `value` rounds to `printed` at the digits `printed` shows.
#[track_caller]
fn prints(value: f64, printed: &str) {
    let digits = printed.split_once('.').map_or(0, |(_, d)| d.len());
    assert_eq!(format!("{value:.digits$}"), printed);
}

#[track_caller]
fn close(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{got}, expected {expected} ± {tolerance}"
    );
}

fn linear(inputs: &InputSet, model: impl Fn(&[f64]) -> f64) -> LinearResult {
    let propagation = LinearPropagation::of_model(inputs, 1, |x, y| y[0] = model(x));
    propagation.outputs[0].clone().unwrap()
}

fn monte_carlo(inputs: &InputSet, draws: usize, model: impl Fn(&[f64]) -> f64 + Sync) -> Draws {
    let settings = Sampling { draws, seed: 42 };
    draw_outputs(
        inputs,
        1,
        settings,
        &Progress::unwatched(),
        || (),
        |x, (), y| y[0] = model(x),
    )
    .unwrap()
}

fn summary(inputs: &InputSet, draws: usize, model: impl Fn(&[f64]) -> f64 + Sync) -> Summary {
    monte_carlo(inputs, draws, model).summary(0).unwrap()
}

/// JCGM 100, 4.4.3 (SEEN): 20 temperatures.
#[test]
fn jcgm_100_4_4_3() {
    let r = Readings::new(&[
        96.90, 98.18, 98.25, 98.61, 99.03, 99.49, 99.56, 99.74, 99.89, 100.07, 100.33, 100.42,
        100.68, 100.95, 101.11, 101.20, 101.57, 101.84, 102.36, 102.72,
    ])
    .unwrap();
    prints(r.mean, "100.145");
    prints(r.sd, "1.489");
    prints(r.standard_uncertainty(), "0.333");
    assert_eq!(r.dof(), 19.0);
}

/// JCGM 100, 4.3 (SEEN): Type B values.
#[test]
fn jcgm_100_type_b() {
    let u = |shape: Shape| shape.standard_uncertainty();
    close(
        u(Shape::Rectangular { half_width: 3.0 }),
        3.0_f64.sqrt(),
        1e-15,
    );
    close(
        u(Shape::Triangular { half_width: 6.0 }),
        6.0_f64.sqrt(),
        1e-15,
    );
    close(u(Shape::UShaped { half_width: 2.0 }), 2.0_f64.sqrt(), 1e-15);
    prints(u(Shape::Resolution { step: 0.01 }), "0.0028868");
    assert_eq!(dof_from_reliability(0.25), 8.0);
}

/// The end gauge of JCGM 100, H.1, in mm.
fn end_gauge(x: &[f64]) -> f64 {
    let [standard, difference, expansion, theta, d_expansion, d_theta] = x else {
        panic!("six inputs");
    };
    standard + difference - standard * (d_expansion * theta + expansion * d_theta)
}

fn end_gauge_inputs() -> InputSet {
    let nm = 1e-6;
    // u(d): 5.8, 3.9 and 6.7 nm with 24, 5 and 8 degrees of freedom.
    let parts: [(f64, f64); 3] = [(5.8, 24.0), (3.9, 5.0), (6.7, 8.0)];
    let comparison = InputSet::new(
        parts
            .iter()
            .map(|&(u, dof)| Input::normal("part", 0.0, u * nm).with_dof(dof))
            .collect(),
    )
    .unwrap();
    let d = linear(&comparison, |x| x.iter().sum());
    prints(d.standard_uncertainty / nm, "9.7");
    // The standard prints 25.6: it puts the rounded 9.7 nm into the formula.
    let unrounded = d.effective_dof.unwrap();
    prints(
        unrounded * (9.7 * nm / d.standard_uncertainty).powi(4),
        "25.6",
    );
    close(unrounded, 25.45, 0.01);
    InputSet::new(vec![
        Input::normal("length of the standard", 50.000623, 25.0 * nm).with_dof(18.0),
        Input::normal("difference", 215.0 * nm, 9.7 * nm).with_dof(25.6),
        Input::normal("expansion", 11.5e-6, 1.2e-6),
        Input::normal("temperature", -0.1, 0.41),
        Input::normal("difference of expansion", 0.0, 0.58e-6).with_dof(50.0),
        Input::normal("difference of temperature", 0.0, 0.029).with_dof(2.0),
    ])
    .unwrap()
}

/// JCGM 100, H.1 (SEEN). The standard carries rounded intermediate values;
/// where that shows, both are checked.
#[test]
fn jcgm_100_h1_end_gauge() {
    let nm = 1e-6;
    let l = linear(&end_gauge_inputs(), end_gauge);
    prints(l.value, "50.000838");
    let contributions: Vec<f64> = l
        .budget
        .iter()
        .map(|line| line.contribution.abs() / nm)
        .collect();
    prints(contributions[0], "25");
    prints(contributions[1], "9.7");
    assert_eq!(contributions[2..4], [0.0, 0.0]);
    prints(contributions[4], "2.9");
    // 50.000623 mm · 11.5e-6/°C · 0.029 °C = 16.675 nm; printed 16.6.
    close(contributions[5], 16.6, 0.1);
    // Printed 1002 nm² from rounded terms; unrounded 1005.6 (DERIVED).
    let u_nm = l.standard_uncertainty / nm;
    prints(u_nm, "32");
    close(u_nm * u_nm, 1005.6, 0.1);
    let dof = l.effective_dof.unwrap().floor();
    assert_eq!(dof, 16.0);
    let k99 = coverage_factor(0.99, dof).unwrap();
    let k95 = coverage_factor(0.95, dof).unwrap();
    prints(k99, "2.92");
    prints(k95, "2.12"); // t of Table G.2 at 16 degrees of freedom (MEM-H)
    prints(k99 * 32.0, "93");
    prints(k95 * 32.0, "68");
    let shares: f64 = l.budget.iter().map(|line| line.share).sum();
    close(shares, 1.0, 1e-12);
}

/// JCGM 100, H.1.7: second-order terms of 11.9 and 1.7 nm raise 32 nm to
/// 34 nm (MEM-H; 33.9 DERIVED). Monte Carlo, which
/// has no orders, must find them by itself.
#[test]
fn monte_carlo_sees_the_second_order_terms_of_h1() {
    let l = summary(&end_gauge_inputs(), 400_000, end_gauge);
    // √(31.71² + 11.9² + 1.7²) = 33.91; MC error of the SD 0.11 % (DERIVED).
    close(l.standard_uncertainty / 1e-6, 33.91, 0.15);
    close(l.mean, 50.000838, 2e-7);
}

/// JCGM 100, G.4.1 (SEEN): 0.25, 0.57 and 0.82 % with 9, 4, 14 degrees of
/// freedom.
#[test]
fn jcgm_100_g_4_1() {
    let inputs = InputSet::new(
        [(0.25, 9.0), (0.57, 4.0), (0.82, 14.0)]
            .iter()
            .map(|&(u, dof)| Input::normal("factor", 0.0, u).with_dof(dof))
            .collect(),
    )
    .unwrap();
    let y = linear(&inputs, |x| x.iter().sum());
    prints(y.standard_uncertainty, "1.03");
    prints(y.effective_dof.unwrap(), "19.0");
    prints(
        coverage_factor(0.95, y.effective_dof.unwrap()).unwrap(),
        "2.09",
    );
    prints(y.expanded(0.95).unwrap(), "2.2");
}

const VOLTS: [f64; 5] = [5.007, 4.994, 5.005, 4.990, 4.999];
const MILLIAMPERES: [f64; 5] = [19.663, 19.639, 19.640, 19.685, 19.678];
const RADIANS: [f64; 5] = [1.0456, 1.0438, 1.0468, 1.0428, 1.0433];

/// JCGM 100, H.2 (data and results MEM-H, recomputed): resistance, reactance
/// and impedance from simultaneous, correlated readings. Table H.4 prints
/// u(X) as 0.295; unrounded it is 0.2956.
#[test]
fn jcgm_100_h2_correlated_inputs_and_outputs() {
    let normal = |name: &str, readings: &[f64]| {
        let r = Readings::new(readings).unwrap();
        Input::normal(name, r.mean, r.standard_uncertainty())
    };
    let list = vec![
        normal("V", &VOLTS),
        normal("I", &MILLIAMPERES.map(|i| i / 1000.0)),
        normal("phase", &RADIANS),
    ];
    let join = |first, second, a: &[f64], b: &[f64]| Correlation {
        first,
        second,
        coefficient: correlation(a, b).unwrap(),
    };
    let pairs = vec![
        join(0, 1, &VOLTS, &MILLIAMPERES),
        join(0, 2, &VOLTS, &RADIANS),
        join(1, 2, &MILLIAMPERES, &RADIANS),
    ];
    let inputs = InputSet::correlated(list, pairs).unwrap();
    let model = |x: &[f64], y: &mut [f64]| {
        let z = x[0] / x[1];
        (y[0], y[1], y[2]) = (z * x[2].cos(), z * x[2].sin(), z);
    };
    let law = LinearPropagation::of_model(&inputs, 3, model);
    let printed = [
        ("127.732", "0.071"),
        ("219.847", "0.296"),
        ("254.260", "0.236"),
    ];
    for (output, (value, u)) in law.outputs.iter().zip(printed) {
        let output = output.as_ref().unwrap();
        prints(output.value, value);
        prints(output.standard_uncertainty, u);
        let shares: f64 = output.budget.iter().map(|line| line.share).sum();
        close(shares, 1.0, 1e-9);
    }
    prints(law.correlation(0, 1).unwrap(), "-0.588");
    prints(law.correlation(0, 2).unwrap(), "-0.485");
    prints(law.correlation(1, 2).unwrap(), "0.993");

    // The model is all but linear over these spreads: Monte Carlo must agree
    // within its error (100,000 draws: SD 0.22 %, correlations 0.002).
    let settings = Sampling {
        draws: 100_000,
        seed: 3,
    };
    let draws = draw_outputs(
        &inputs,
        3,
        settings,
        &Progress::unwatched(),
        || (),
        |x, (), y| model(x, y),
    )
    .unwrap();
    for (i, output) in law.outputs.iter().enumerate() {
        let (output, drawn) = (output.as_ref().unwrap(), draws.summary(i).unwrap());
        close(
            drawn.mean,
            output.value,
            5.0 * output.standard_uncertainty / 316.0,
        );
        close(
            drawn.standard_uncertainty / output.standard_uncertainty,
            1.0,
            0.01,
        );
    }
    close(draws.correlation(0, 1).unwrap(), -0.588, 0.01);
    close(draws.correlation(1, 2).unwrap(), 0.993, 0.001);
}

/// JCGM 100, H.3 (data MEM-H; results DERIVED, equal to the printed ones):
/// a thermometer's calibration line b = y1 + y2 (t − 20 °C).
#[test]
fn jcgm_100_h3_line_fit() {
    let t = [
        21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511,
    ];
    let b = [
        -0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160,
    ];
    let line = |b: &[f64]| {
        let n = b.len() as f64;
        let mean_t = t.iter().sum::<f64>() / n;
        let mean_b = b.iter().sum::<f64>() / n;
        let tt: f64 = t.iter().map(|t| (t - mean_t).powi(2)).sum();
        let tb: f64 = t
            .iter()
            .zip(b)
            .map(|(t, b)| (t - mean_t) * (b - mean_b))
            .sum();
        let slope = tb / tt;
        (mean_b + slope * (20.0 - mean_t), slope)
    };
    let (y1, y2) = line(&b);
    let residuals: f64 = t
        .iter()
        .zip(b)
        .map(|(t, b)| (b - y1 - y2 * (t - 20.0)).powi(2))
        .sum();
    let s = (residuals / 9.0).sqrt();
    prints(s, "0.0035");
    let inputs = InputSet::new(
        b.iter()
            .map(|&b| Input::normal("correction", b, s))
            .collect(),
    )
    .unwrap();
    let law = LinearPropagation::of_model(&inputs, 3, |b, y| {
        let (y1, y2) = line(b);
        (y[0], y[1], y[2]) = (y1, y2, y1 + y2 * 10.0);
    });
    let printed = [
        ("-0.1712", "0.0029"),
        ("0.00218", "0.00067"),
        ("-0.1494", "0.0041"),
    ];
    for (output, (value, u)) in law.outputs.iter().zip(printed) {
        let output = output.as_ref().unwrap();
        prints(output.value, value);
        prints(output.standard_uncertainty, u);
    }
    prints(law.correlation(0, 1).unwrap(), "-0.930");
}

/// Grossman's proportion 21 × 23.1 / 22.05 (DERIVED).
#[test]
fn proportion_example() {
    let inputs = |instrument: Shape| {
        InputSet::new(vec![
            Input::new("instrument", 21.0, instrument),
            Input::normal("tooth on film", 23.1, 0.15),
            Input::normal("instrument on film", 22.05, 0.15),
        ])
        .unwrap()
    };
    let model = |x: &[f64]| x[0] * x[1] / x[2];
    let nominal = linear(&inputs(Shape::Rectangular { half_width: 0.5 }), model);
    prints(nominal.value, "22.000");
    prints(nominal.standard_uncertainty, "0.3664");
    let parts: Vec<f64> = nominal
        .budget
        .iter()
        .map(|line| line.contribution.abs())
        .collect();
    prints(parts[0], "0.3024");
    prints(parts[1], "0.1429");
    prints(parts[2], "0.1497");
    let shares = nominal.grouped_shares(2, |input| usize::from(input > 0));
    close(shares[0], 0.3024_f64.powi(2) / 0.3664_f64.powi(2), 5e-4);
    close(shares[0] + shares[1], 1.0, 1e-12);
    let read = linear(&inputs(Shape::Normal { sd: 0.05 }), model);
    prints(read.standard_uncertainty, "0.213");

    let drawn = summary(
        &inputs(Shape::Rectangular { half_width: 0.5 }),
        200_000,
        model,
    );
    close(drawn.standard_uncertainty, 0.3664, 0.003);
    close(drawn.mean, 22.0 * (1.0 + (0.15_f64 / 22.05).powi(2)), 0.004);
}

/// JCGM 100, 7.2.6 (SEEN for the first two; 28.05 kHz MEM-H).
#[test]
fn jcgm_100_7_2_6_rounding() {
    let text = |value, u95| with_u95(Quantity { value, u95 }, "");
    assert_eq!(text(10.05762, 0.027), "10.058 ± 0.027");
    assert_eq!(text(100.0, 10.47), "100 ± 11");
    assert_eq!(text(500.0, 28.05), "500 ± 28");
    // By hand.
    assert_eq!(text(20.4267, 0.2531), "20.43 ± 0.26");
    assert_eq!(text(20.4267, 2.3), "20.4 ± 2.3");
    assert_eq!(text(-0.004, 0.0996), "0.00 ± 0.10");
    assert_eq!(text(1234.0, 561.0), "1230 ± 570");
    assert_eq!(text(1.0, 0.01), "1.000 ± 0.010");
    assert_eq!(round_result(1.0, 0.0), None);
    assert_eq!(round_result(f64::NAN, 1.0), None);
    assert_eq!(round_result(1.0, f64::INFINITY), None);
}

fn independent(inputs: Vec<Input>) -> InputSet {
    InputSet::new(inputs).unwrap()
}

/// Each shape alone: standard deviation and 95 % interval in closed form
/// (DERIVED), 200,000 draws.
#[test]
fn every_shape_is_drawn_as_it_says() {
    let quarter = std::f64::consts::FRAC_PI_2;
    let cases = [
        // (shape, SD, 97.5 % quantile)
        (Shape::Normal { sd: 2.0 }, 2.0, 3.919928),
        (Shape::Rectangular { half_width: 1.0 }, 0.577350, 0.95),
        (
            Shape::Triangular { half_width: 1.0 },
            0.408248,
            1.0 - 0.05_f64.sqrt(),
        ),
        (
            Shape::UShaped { half_width: 1.0 },
            std::f64::consts::FRAC_1_SQRT_2,
            (0.95 * quarter).sin(),
        ),
        (Shape::Resolution { step: 1.0 }, 0.288675, 0.475),
        // t with 10 degrees of freedom: SD √(10/8), t975 2.228139.
        (
            Shape::ScaledT {
                scale: 1.0,
                dof: 10.0,
            },
            1.118034,
            2.228139,
        ),
    ];
    for (shape, sd, edge) in cases {
        let s = summary(
            &independent(vec![Input::new("x", 5.0, shape)]),
            200_000,
            |x| x[0],
        );
        close(s.mean, 5.0, 5.0 * sd / 447.0);
        close(s.standard_uncertainty / sd, 1.0, 0.01);
        close(s.symmetric[0], 5.0 - edge, 0.02 * edge);
        close(s.symmetric[1], 5.0 + edge, 0.02 * edge);
        close(s.u95(), edge, 0.015 * edge);
        assert_eq!((s.present, s.missing_share), (200_000, 0.0));
    }
}

/// Sums of rectangular inputs (JCGM 101, 9.2): two make a triangle, four of
/// unit variance ± 3.88 (MEM-H; 3.8794 DERIVED from the Irwin–Hall law).
#[test]
fn sums_of_rectangular_inputs() {
    let set = |count: usize, half_width: f64| {
        let shape = Shape::Rectangular { half_width };
        independent((0..count).map(|_| Input::new("x", 0.0, shape)).collect())
    };
    let sum = |x: &[f64]| x.iter().sum::<f64>();
    let two = summary(&set(2, 1.0), 200_000, sum);
    close(two.u95(), 2.0 * (1.0 - 0.05_f64.sqrt()), 0.01);
    let four = summary(&set(4, 3.0_f64.sqrt()), 400_000, sum);
    close(
        four.u95(),
        12.0_f64.sqrt() * (2.0 - 0.6_f64.powf(0.25)),
        0.015,
    );
    close(four.u95(), 3.88, 0.015);
    close(four.standard_uncertainty, 2.0, 0.01);
    // The linear law sees the same variance and, having no shape, 3.92.
    let law = linear(&set(4, 3.0_f64.sqrt()), sum);
    prints(law.standard_uncertainty, "2.000");
    prints(law.expanded(0.95).unwrap(), "3.92");
}

/// Comparison loss (JCGM 101, 9.4): y = x₁² + x₂² with u = 0.005 follows
/// u² χ² with two degrees of freedom. In closed form (DERIVED; 50e-6 and
/// [0, 150e-6] as printed MEM-H). The law of first order gives 0; with each
/// input's own term of second order, exact for a square, 2 u².
#[test]
fn comparison_loss() {
    let u = 0.005;
    let inputs = independent(vec![
        Input::normal("x1", 0.0, u),
        Input::normal("x2", 0.0, u),
    ]);
    let model = |x: &[f64]| x[0] * x[0] + x[1] * x[1];
    let y = summary(&inputs, 400_000, model);
    let unit = u * u;
    close(y.mean / unit, 2.0, 0.02);
    close(y.standard_uncertainty / unit, 2.0, 0.03);
    close(y.symmetric[0] / unit, -2.0 * 0.975_f64.ln(), 0.002);
    close(y.symmetric[1] / unit, -2.0 * 0.025_f64.ln(), 0.08);
    close(y.shortest[0] / unit, 0.0, 0.001);
    close(y.shortest[1] / unit, -2.0 * 0.05_f64.ln(), 0.06);
    let draws = monte_carlo(&inputs, 400_000, model);
    // About the best estimate 0, 95 % lie within the 95 % quantile.
    let mut sizes = distances(draws.deviations_from(0, 0.0).unwrap());
    let half_width = quantile(&mut sizes, 0.95).unwrap();
    close(half_width / unit, -2.0 * 0.05_f64.ln(), 0.06);
    let law = linear(&inputs, model);
    close(law.standard_uncertainty / unit, 2.0, 1e-9);
    assert!(law.budget.iter().all(|line| line.sensitivity == 0.0));
    close(law.budget[0].share, 0.5, 1e-12);
}

/// Ratio of two independent centred normal inputs: a Cauchy law, whose 97.5 %
/// quantile is tan(0.475 π) = 12.7062 and which has no variance.
#[test]
fn ratio_of_normals() {
    let inputs = independent(vec![
        Input::normal("x1", 0.0, 1.0),
        Input::normal("x2", 0.0, 1.0),
    ]);
    let y = summary(&inputs, 400_000, |x| x[0] / x[1]);
    close(y.u95(), 12.7062, 0.35);
}

#[test]
fn correlated_inputs_are_drawn_together() {
    let join = |first, second, coefficient| Correlation {
        first,
        second,
        coefficient,
    };
    let list = || {
        vec![
            Input::normal("a", 1.0, 2.0),
            Input::new("apart", 0.0, Shape::Rectangular { half_width: 1.0 }),
            Input::normal("b", 1.0, 1.0),
            Input::normal("c", 0.0, 1.0),
        ]
    };
    let inputs = InputSet::correlated(list(), vec![join(2, 0, 0.6), join(3, 2, -0.5)]).unwrap();
    // Var(a − 2b) = 4 + 4 − 4·0.6·2 = 3.2, Var(b + c) = 2 − 1.
    let settings = Sampling {
        draws: 200_000,
        seed: 5,
    };
    let model = |x: &[f64], y: &mut [f64]| {
        y[0] = x[0] - 2.0 * x[2];
        y[1] = x[2] + x[3];
        y[2] = x[0];
        y[3] = x[3];
    };
    let draws = draw_outputs(
        &inputs,
        4,
        settings,
        &Progress::unwatched(),
        || (),
        |x, (), y| model(x, y),
    )
    .unwrap();
    let law = LinearPropagation::of_model(&inputs, 4, model);
    for (i, variance) in [3.2_f64, 1.0, 4.0, 1.0].into_iter().enumerate() {
        let drawn = draws.summary(i).unwrap().standard_uncertainty;
        close(drawn / variance.sqrt(), 1.0, 0.01);
        let exact = law.outputs[i].as_ref().unwrap().standard_uncertainty;
        close(exact, variance.sqrt(), 1e-9);
    }
    // a and c were not joined.
    close(draws.correlation(2, 3).unwrap(), 0.0, 0.012);
    close(law.correlation(2, 3).unwrap(), 0.0, 1e-12);

    // Full correlation is allowed, contradiction is not.
    let same = InputSet::correlated(list(), vec![join(0, 2, 1.0)]).unwrap();
    close(
        summary(&same, 10_000, |x| x[0] - 2.0 * x[2]).standard_uncertainty,
        0.0,
        1e-4,
    );
    let refused = |joins| InputSet::correlated(list(), joins).unwrap_err();
    let torn = vec![join(0, 2, 0.9), join(2, 3, 0.9), join(0, 3, -0.9)];
    assert_eq!(refused(torn), UncertaintyError::NotPositiveDefinite);
    for bad in [
        join(0, 0, 0.5),
        join(0, 9, 0.5),
        join(0, 2, 1.5),
        join(0, 2, f64::NAN),
    ] {
        assert!(matches!(
            refused(vec![bad]),
            UncertaintyError::Correlation { .. }
        ));
    }
    let shaped = InputSet::correlated(list(), vec![join(0, 1, 0.5)]).unwrap();
    assert!(
        matches!(shaped.sampler(), Err(UncertaintyError::CorrelatedShape(name)) if name == "apart")
    );
}

#[test]
fn draws_depend_on_the_seed_alone() {
    let inputs = independent((0..7).map(|i| Input::normal("x", i as f64, 0.3)).collect());
    let run = |threads: usize, seed: u64, draws: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| {
            let settings = Sampling { draws, seed };
            draw_outputs(
                &inputs,
                2,
                settings,
                &Progress::unwatched(),
                || (),
                |x, (), y| {
                    y[0] = x.iter().sum();
                    y[1] = x[3] * x[4];
                },
            )
            .unwrap()
        })
    };
    let one = run(1, 9, 1000);
    for threads in [2, 3, 8] {
        let many = run(threads, 9, 1000);
        assert_eq!(one.output(0), many.output(0));
        assert_eq!(one.output(1), many.output(1));
    }
    assert_ne!(one.output(0), run(1, 10, 1000).output(0));
    // More draws continue the same sequence.
    let longer = run(2, 9, 2000);
    assert_eq!(
        one.output(1).unwrap()[..],
        longer.output(1).unwrap()[..1000]
    );
    assert_eq!((longer.output_count(), longer.draw_count()), (2, 2000));
    assert_eq!(one.output(2), None);
}

/// An adaptive run makes the first draws of a full one, whatever the number of
/// threads, asks after whole blocks, and never makes more than it may.
#[test]
fn an_adaptive_run_stops_after_whole_blocks() {
    let inputs = independent(vec![Input::normal("x", 5.0, 0.3)]);
    let settings = Sampling {
        draws: 10_000,
        seed: 4,
    };
    let until = |threads: usize, enough: usize| {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(threads)
            .build()
            .unwrap();
        pool.install(|| {
            draw_until(
                &inputs,
                1,
                settings,
                &Progress::unwatched(),
                || (),
                |x, (), y| y[0] = x[0],
                |drawn| drawn.draw_count() >= enough,
            )
            .unwrap()
        })
    };
    let full = monte_carlo_of(&inputs, settings);
    for (enough, made) in [
        (1, FIRST_BLOCK),
        (FIRST_BLOCK + 1, FIRST_BLOCK + BLOCK),
        (1_000_000, 10_000),
    ] {
        let drawn = until(2, enough);
        assert_eq!(drawn.draw_count(), made);
        assert_eq!(drawn.output(0), until(1, enough).output(0));
        assert_eq!(drawn.output(0).unwrap()[..], full[..made]);
    }
}

fn monte_carlo_of(inputs: &InputSet, settings: Sampling) -> Vec<f64> {
    let progress = Progress::unwatched();
    let copy = |x: &[f64], (): &mut (), y: &mut [f64]| y[0] = x[0];
    let drawn = draw_outputs(inputs, 1, settings, &progress, || (), copy).unwrap();
    drawn.output(0).unwrap()
}

#[test]
fn intervals_equal_a_full_sort() {
    let inputs = independent(vec![Input::normal("x", 0.0, 1.0)]);
    for draws in [100, 101, 137, 1000, 9999] {
        let drawn = monte_carlo(&inputs, draws, |x| (x[0] * 0.7).exp());
        let got = drawn.summary(0).unwrap();
        let mut all = drawn.output(0).unwrap();
        all.sort_by(f64::total_cmp);
        let at = |p: f64| {
            let place = p * (draws - 1) as f64;
            let i = place.floor() as usize;
            all[i] + (place - i as f64) * (all[i + 1] - all[i])
        };
        close(got.symmetric[0], at(0.025), 1e-12);
        close(got.symmetric[1], at(0.975), 1e-12);
        let inside = (0.95 * draws as f64).round() as usize;
        let narrowest = (0..draws - inside)
            .map(|i| all[i + inside] - all[i])
            .fold(f64::INFINITY, f64::min);
        close(got.shortest[1] - got.shortest[0], narrowest, 1e-12);
    }
}

#[test]
fn missing_outputs_are_counted() {
    let inputs = independent(vec![Input::normal("x", 0.0, 1.0)]);
    let draws = monte_carlo(&inputs, 40_000, |x| x[0].sqrt());
    let half = draws.summary(0).unwrap();
    close(half.missing_share, 0.5, 0.0125);
    assert_eq!(
        half.present,
        (40_000.0 * (1.0 - half.missing_share)).round() as usize
    );
    assert_eq!(monte_carlo(&inputs, 1000, |_| f64::NAN).summary(0), None);
    assert_eq!(
        monte_carlo(&inputs, 1000, |_| f64::INFINITY).summary(0),
        None
    );
    // The linear law takes the side that has a value, or gives nothing.
    let law = LinearPropagation::of_model(&inputs, 2, |x, y| {
        y[0] = if x[0] > 0.5 { f64::NAN } else { 3.0 * x[0] };
        y[1] = f64::NAN;
    });
    close(
        law.outputs[0].as_ref().unwrap().standard_uncertainty,
        3.0,
        1e-12,
    );
    assert_eq!(law.outputs[1], None);
    assert_eq!(law.correlation(0, 1), None);
}

#[test]
fn a_run_can_be_watched_and_stopped() {
    let inputs = independent(vec![Input::normal("x", 0.0, 1.0)]);
    let (cancel, drawn) = (AtomicBool::new(false), AtomicUsize::new(0));
    let tell = |done: usize, total: usize| {
        assert!(done <= total);
        drawn.fetch_max(done, Ordering::Relaxed);
    };
    let progress = Progress::new(&cancel, &tell);
    let settings = Sampling {
        draws: 3000,
        seed: 1,
    };
    draw_outputs(
        &inputs,
        1,
        settings,
        &progress,
        || (),
        |x, (), y| y[0] = x[0],
    )
    .unwrap();
    assert_eq!(drawn.swap(0, Ordering::Relaxed), 3000);
    let stopped = draw_outputs(
        &inputs,
        1,
        Sampling {
            draws: 1_000_000,
            seed: 1,
        },
        &progress,
        || (),
        |_, (), _| cancel.store(true, Ordering::Relaxed),
    );
    assert_eq!(stopped.unwrap_err(), UncertaintyError::Cancelled);
    let drawn = drawn.into_inner();
    assert!(drawn < 10_000, "{drawn}");
}

#[test]
fn unusable_inputs_are_refused() {
    let refused = |input: Input| InputSet::new(vec![input]).unwrap_err().to_string();
    assert!(refused(Input::normal("tip", f64::NAN, 1.0)).contains("\"tip\" has no finite value"));
    assert!(refused(Input::normal("tip", 0.0, -1.0)).contains("zero or more"));
    assert!(refused(Input::normal("tip", 0.0, f64::INFINITY)).contains("zero or more"));
    assert!(refused(Input::normal("tip", 0.0, 1.0).with_dof(0.0)).contains("positive"));
    assert!(refused(Input::normal("tip", 0.0, 1.0).with_dof(f64::NAN)).contains("positive"));
    let inputs = independent(vec![Input::normal("x", 0.0, 1.0)]);
    let few = draw_outputs(
        &inputs,
        1,
        Sampling { draws: 99, seed: 1 },
        &Progress::unwatched(),
        || (),
        |_, (), _| (),
    );
    assert_eq!(
        few.unwrap_err(),
        UncertaintyError::TooFewDraws {
            needed: 100,
            found: 99
        }
    );
    assert!(LinearResult::from_sensitivities(1.0, &[1.0, 2.0], &inputs).is_err());
    assert_eq!(Readings::new(&[1.0]), None);
    assert_eq!(Readings::new(&[1.0, f64::NAN]), None);
    // No input and no output is a model too.
    let none = draw_outputs(
        &independent(Vec::new()),
        0,
        Sampling::default(),
        &Progress::unwatched(),
        || (),
        |_, (), _| (),
    )
    .unwrap();
    assert!(none.summaries().is_empty());
}

/// Averages of few readings: JCGM 100 widens by t, JCGM 101 draws from t; for
/// one input both give the same 95 % interval.
#[test]
fn readings_give_the_same_interval_both_ways() {
    let r = Readings::new(&[20.1, 20.4, 19.9, 20.2]).unwrap();
    let inputs = independent(vec![r.as_input("length")]);
    let law = linear(&inputs, |x| x[0]);
    // s/√n = 0.104083, t975(3) = 3.182446: 0.33124.
    prints(law.standard_uncertainty, "0.104083");
    prints(law.expanded(0.95).unwrap(), "0.3312");
    close(summary(&inputs, 400_000, |x| x[0]).u95(), 0.3312, 0.006);
}

/// y = a x + b x², u(x) = 1: variance a² + 2 b² of a Gaussian x (JCGM 100,
/// 5.1.2 note: ½ (∂²f/∂x²)² u⁴ with ∂²f/∂x² = 2b). DERIVED.
#[test]
fn a_parabola_has_its_second_order_term() {
    let inputs = independent(vec![Input::normal("x", 0.0, 1.0)]);
    let law = linear(&inputs, |x| -3.0 * x[0] + 2.0 * x[0] * x[0]);
    close(law.standard_uncertainty, 17f64.sqrt(), 1e-12);
    close(law.budget[0].contribution, -17f64.sqrt(), 1e-12);
    close(law.budget[0].sensitivity, -3.0, 1e-12);
    // Slopes elsewhere than at the best estimate: −3 + 4 · 5.
    let at = |at: f64| {
        let law = LinearPropagation::around(&inputs, vec![at], 1, |x, y| {
            y[0] = -3.0 * x[0] + 2.0 * x[0] * x[0];
        });
        law.outputs[0].clone().unwrap()
    };
    close(at(5.0).budget[0].sensitivity, 17.0, 1e-12);
}

/// Nine readings share one standard deviation s that was estimated from four
/// degrees of freedom: their mean is s/3 · t(4) about its value, closed form,
/// by both ways; nine estimates of their own would make it 36 degrees.
#[test]
fn inputs_of_one_estimate_are_wrong_together() {
    let reading = || {
        let shape = Shape::ScaledT {
            scale: 0.3,
            dof: 4.0,
        };
        Input::new("reading", 0.0, shape)
    };
    let mean = |x: &[f64]| x.iter().sum::<f64>() / 9.0;
    let together = independent(vec![reading().of_estimate(7); 9]);
    let law = linear(&together, mean);
    close(law.effective_dof.unwrap(), 4.0, 1e-9);
    // t975(4) = 2.776445 (SciPy).
    close(law.expanded(0.95).unwrap(), 0.2776445, 1e-6);
    close(summary(&together, 400_000, mean).u95(), 0.2776, 0.004);

    let apart = linear(&independent(vec![reading(); 9]), mean);
    close(apart.effective_dof.unwrap(), 36.0, 1e-9);

    let other = Shape::ScaledT {
        scale: 0.3,
        dof: 5.0,
    };
    let at_odds = vec![
        reading().of_estimate(7),
        Input::new("other", 0.0, other).of_estimate(7),
    ];
    assert!(matches!(
        InputSet::new(at_odds),
        Err(UncertaintyError::Dof(name)) if name == "other"
    ));
}
