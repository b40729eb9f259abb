//! Readings of films drawn for the purpose.

use super::*;

const MM_PER_PX: f64 = 0.02;

/// Places read down the middle of a film with upright ridges: mm aside of the
/// middle, height.
fn read(ridges: &[(f64, f64)], sought: Sought) -> Vec<f64> {
    const SIDE: usize = 240;
    let middle_px = SIDE as f64 / 2.0;
    let value = |index: usize| {
        let (row, column) = (index / SIDE, index % SIDE);
        let aside_mm = |at: f64| (column as f64 + 0.5 - middle_px) * MM_PER_PX - at;
        let ridge =
            |&(at, height): &(f64, f64)| height * (-0.5 * (aside_mm(at) / 0.1).powi(2)).exp();
        let grain = (row * 7919 + column * 6101) % 1009;
        let grain = grain as f64 / 1009.0 - 0.5;
        (ridges.iter().map(ridge).sum::<f64>() + 0.01 * grain) as f32
    };
    let film = Raster::from_values(SIDE, SIDE, (0..SIDE * SIDE).map(value).collect());
    let line = [20.0, 220.0].map(|y| FilmPoint::new(middle_px, y));
    let found = readings(&film.expect("a film"), &line, MM_PER_PX, sought);
    let aside = |reading: &Reading| (reading.at.x - middle_px) * MM_PER_PX;
    found.iter().map(aside).collect()
}

/// The line that was followed is read, and no darker one beside it; along a
/// line by hand the darker one would be.
#[test]
fn a_neighbour_is_not_read_for_the_line() {
    let alone = read(&[(0.03, -0.2)], Sought::Canal);
    assert!(alone.len() >= 8, "{alone:?}");
    assert!(alone.iter().all(|at| (at - 0.03).abs() < 0.01), "{alone:?}");
    let beside = [(0.03, -0.2), (0.24, -0.6)];
    let followed = read(&beside, Sought::Canal);
    assert!(followed.iter().all(|at| at.abs() <= 0.08), "{followed:?}");
    let by_hand = read(&beside, Sought::CanalByHand);
    assert!(by_hand.iter().any(|at| *at > 0.15), "{by_hand:?}");
}

/// Metal is no canal, and a canal no metal.
#[test]
fn what_shows_the_other_is_not_read() {
    for (height, is, is_not) in [
        (0.3, Sought::Metal, Sought::Canal),
        (-0.3, Sought::Canal, Sought::Metal),
    ] {
        assert!(read(&[(0.0, height)], is).len() >= 8);
        assert_eq!(read(&[(0.0, height)], is_not), [0.0; 0]);
    }
}
