//! A further curve that the points neither show nor exclude.

use lengthfilm::case::{Case, StatedUncertainty};
use lengthfilm::two_view::{Exposures, Receptor, TwoViewFindings, rows};
use nalgebra::Vector3;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use super::shared::along;
use super::{case_of, find, find_places};

const ANGLE_DEG: f64 = 90.0;

/// An arc of 30° and, 1 mm on, one of `second_deg` to the other side.
fn canal(second_deg: f64) -> Vec<Vector3<f64>> {
    let pieces = [
        (4.0, 0.0, 0.0),
        (5.0, 30.0, 40.0),
        (1.0, 0.0, 0.0),
        (4.0, second_deg, 220.0),
        (1.0, 0.0, 0.0),
    ];
    along(Vector3::new(0.0, 0.0, -7.0), &pieces, 1.0)
}

fn exposures() -> Exposures {
    Exposures::new(ANGLE_DEG, Receptor::Turned)
}

/// Clicks without error, of which 0.05 mm is told: the greater the second turn,
/// the more is said of it. First nothing, then that it cannot be excluded, with
/// a bound that covers it about its place, then it is a curve.
#[test]
fn a_second_turn_is_first_possible_and_then_a_curve() {
    let stage = |found: &TwoViewFindings, turn: f64| match &found.possible_further_curve {
        _ if found.curves.len() == 2 => 2,
        None => 0,
        Some(further) => {
            assert_eq!(found.curves.len(), 1, "{turn}°");
            assert!(further.turn_upto_deg > turn, "{turn}°: {further:?}");
            // Its middle lies 3 mm from the apex, half its length is 2 mm.
            let off = further.from_apex_mm - 3.0;
            assert!(off.abs() < 2.0, "{turn}°: {further:?}");
            let words = rows(found).into_iter().find(|(n, _)| n == "Further curve");
            let (_, words) = words.expect("a line of it");
            assert!(words.starts_with("cannot be excluded: up to "), "{words}");
            1
        }
    };
    let turns = [
        0.0, 4.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 24.0, 30.0,
    ];
    let stages = turns.map(|turn| {
        let found = find_places(&canal(turn), &exposures(), 0.05);
        println!(
            "{turn}°: {} curves, {:?}",
            found.curves.len(),
            found.possible_further_curve
        );
        stage(&found, turn)
    });
    assert!(stages.is_sorted(), "{stages:?}");
    assert_eq!((stages[0], stages[turns.len() - 1]), (0, 2), "{stages:?}");
    assert!(stages.contains(&1), "{stages:?}");
}

/// Films clicked with an error of 0.05 mm.
fn clicked(second_deg: f64, rng: &mut ChaCha8Rng) -> TwoViewFindings {
    let places = canal(second_deg);
    let mut case = |angle: f64| {
        let moved = |&p: &Vector3<f64>| {
            let mut noise = || -> f64 {
                let noise: f64 = StandardNormal.sample(rng);
                0.05 * noise
            };
            let [u, v] = super::shadow(p, angle, false);
            [u + noise(), v + noise()]
        };
        let places: Vec<[f64; 2]> = places.iter().map(moved).collect();
        Case {
            input_uncertainty: Some(StatedUncertainty {
                film_scale_percent: Some(0.0),
                ..StatedUncertainty::default()
            }),
            ..case_of(&places, 0.05)
        }
    };
    let (a, b) = (case(0.0), case(ANGLE_DEG));
    find(&a, &b, &exposures()).expect("a usable pair")
}

/// One arc and clicks with errors: of 20 canals with one curve few are told to
/// have a further one; of 20 with a second turn of 12°, at the edge of what such
/// clicks show, most are told or have it.
#[test]
fn said_of_canals_that_may_have_one_and_of_few_others() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_250);
    let mut count = |second_deg: f64| {
        let mut said = 0;
        for _ in 0..20 {
            let found = clicked(second_deg, &mut rng);
            let further = found.possible_further_curve.is_some();
            said += usize::from(further || found.curves.len() > 1);
        }
        said
    };
    let (one, two) = (count(0.0), count(12.0));
    println!("one curve: {one} of 20, two: {two} of 20");
    assert!(one <= 6 && two >= 14, "{one} and {two} of 20");
}
