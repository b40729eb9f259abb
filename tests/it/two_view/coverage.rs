//! The stated intervals on a few phantom pairs; the full table is made by the
//! program `two_view_coverage` (docs/two-views.md).

#[path = "../../programs/two_view_study.rs"]
#[allow(dead_code)]
mod study;

use lengthfilm::measure::MeasureSettings;
use lengthfilm::phantom::CanalKind;
use lengthfilm::two_view::Receptor;

use study::coverage::line;
use study::{Errors, Outcome, Scaling, pair_outcome};

/// What the smooth path leaves of a corner at the canal's end, and of the form
/// of a file of eight points, mm.
const LEFT_MM: f64 = 0.05;

/// Of 60 pairs with intervals that hold the truth 95 % of the time, fewer than
/// 50 or more than 10 misses come about less than once in 10,000 tries
/// (binomial).
#[test]
fn intervals_hold_the_truth_in_space() {
    let settings = MeasureSettings {
        draws: 300,
        ..MeasureSettings::default()
    };
    let mut length: Vec<Outcome> = Vec::new();
    let mut turn: Vec<Outcome> = Vec::new();
    for number in 0..20 {
        for angle in [90.0, 40.0, 25.0] {
            let scaling = Scaling::ALL[number as usize % 2];
            let found = pair_outcome(
                CanalKind::Single,
                scaling,
                Receptor::Turned,
                angle,
                number,
                Errors::ALL,
                &settings,
            );
            assert_eq!(found.refused, 0);
            length.extend(found.length);
            turn.extend(found.turn);
        }
    }
    for (name, outcomes) in [("length", length), ("turn", turn)] {
        let found = line(&outcomes).unwrap();
        println!("{name}: {found:?}");
        assert!(
            found.count == 60 && found.coverage >= 50.0 / 60.0,
            "{name}: {found:?}"
        );
    }
}

/// The receptor stays, the tube moves: the truth again, without noise of
/// angle or scale to speak of.
#[test]
fn a_receptor_that_stays() {
    let settings = MeasureSettings {
        draws: 300,
        ..MeasureSettings::default()
    };
    let mut length: Vec<Outcome> = Vec::new();
    for number in 0..20 {
        let found = pair_outcome(
            CanalKind::Single,
            Scaling::OwnScales,
            Receptor::Stayed,
            25.0,
            number,
            Errors::ALL,
            &settings,
        );
        length.extend(found.length);
    }
    let found = line(&length).unwrap();
    // Twice the standard error of 20 lengths beside a bias of 0.05 mm.
    assert!(
        found.count == 20 && found.bias.abs() < 0.05 + found.sd / 5.0,
        "{found:?}"
    );
    assert!(found.coverage >= 0.75, "{found:?}");
}

/// Without any error lengths are those of the phantom: a film's scale holds at
/// the depth of the tooth's middle, a shared file's at the file's, and canals
/// that lean or bend in depth lie elsewhere.
#[test]
fn lengths_without_errors_are_the_true_ones() {
    let settings = MeasureSettings {
        draws: 100,
        ..MeasureSettings::default()
    };
    for scaling in Scaling::ALL {
        let mut length: Vec<Outcome> = Vec::new();
        for kind in CanalKind::ALL {
            for number in 1000..1006 {
                let receptor = Receptor::Turned;
                let found = pair_outcome(
                    kind,
                    scaling,
                    receptor,
                    90.0,
                    number,
                    Errors::NONE,
                    &settings,
                );
                length.extend(found.length);
            }
        }
        let found = line(&length).unwrap();
        println!("{scaling:?}: {found:?}");
        assert_eq!(found.count, 24);
        assert!(
            found.bias.abs() < LEFT_MM && found.sd < LEFT_MM,
            "{found:?}"
        );
    }
}

/// Two S-shaped canals, one of which was once told to be 168 mm longer than it
/// is: a path with loops fitted as well.
#[test]
fn a_path_that_goes_astray_is_not_taken() {
    let settings = MeasureSettings {
        draws: 300,
        ..MeasureSettings::default()
    };
    for number in [20114, 20115] {
        let found = pair_outcome(
            CanalKind::SShaped,
            Scaling::SharedFile,
            Receptor::Turned,
            90.0,
            number,
            Errors::ALL,
            &settings,
        );
        let [length, total] = [&found.length[0], &found.total[0]];
        assert!(length.error.abs() < 0.5 && length.u95 < 1.0, "{length:?}");
        assert!(total.error.abs() < 40.0 && total.u95 < 60.0, "{total:?}");
    }
}
