//! The whole-case rule of the form (SEEN): low with factors of the low column
//! alone, moderate with one or two of the moderate column, high with three or
//! more of them or any of the high column. A row counts as one factor (our
//! choice).

use super::Shares;
use crate::curvature::DifficultyClass;

/// So many moderate factors make a case high.
const MODERATE_FACTORS_OF_HIGH: usize = 3;

/// Factors counted by column.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Tally {
    pub moderate: usize,
    pub high: usize,
}

impl Tally {
    /// Counts a row.
    pub fn add(&mut self, class: DifficultyClass) {
        match class {
            DifficultyClass::Low => {}
            DifficultyClass::Moderate => self.moderate += 1,
            DifficultyClass::High => self.high += 1,
        }
    }

    /// The class of a case with these factors.
    pub fn class(self) -> DifficultyClass {
        if self.high > 0 || self.moderate >= MODERATE_FACTORS_OF_HIGH {
            DifficultyClass::High
        } else if self.moderate > 0 {
            DifficultyClass::Moderate
        } else {
            DifficultyClass::Low
        }
    }
}

/// The class of a case from the classes of its rows. A further row can only
/// raise it.
pub fn whole_case(rows: impl IntoIterator<Item = DifficultyClass>) -> DifficultyClass {
    let mut tally = Tally::default();
    for class in rows {
        tally.add(class);
    }
    tally.class()
}

/// How likely each class of a case is where its rows are independent.
pub fn independent_probabilities(rows: impl IntoIterator<Item = Shares>) -> Shares {
    // Share of 0, 1, 2 moderate rows and no high one.
    let mut counted = [1.0, 0.0, 0.0];
    for [low, moderate, _] in rows {
        counted = [
            counted[0] * low,
            counted[1] * low + counted[0] * moderate,
            counted[2] * low + counted[1] * moderate,
        ];
    }
    let [none, one, two] = counted;
    let high = (1.0 - none - one - two).clamp(0.0, 1.0);
    [none, one + two, high]
}

#[cfg(test)]
mod tests {
    use super::DifficultyClass::{High, Low, Moderate};
    use super::*;

    /// The table of the rule: moderate and high factors among low ones.
    #[test]
    fn the_rule_as_a_table() {
        for (moderate, high, class) in [
            (0, 0, Low),
            (1, 0, Moderate),
            (2, 0, Moderate),
            (3, 0, High),
            (9, 0, High),
            (0, 1, High),
            (2, 1, High),
            (0, 4, High),
        ] {
            let rows = std::iter::repeat_n(Moderate, moderate)
                .chain(std::iter::repeat_n(High, high))
                .chain([Low, Low]);
            assert_eq!(whole_case(rows), class, "{moderate} moderate, {high} high");
            assert_eq!(Tally { moderate, high }.class(), class);
        }
    }

    /// Against every combination of the classes of five uncertain rows, and
    /// against certain ones.
    #[test]
    fn probabilities_equal_brute_force() {
        let rows: [Shares; 5] = [
            [0.5, 0.3, 0.2],
            [0.9, 0.1, 0.0],
            [0.2, 0.75, 0.05],
            [0.0, 1.0, 0.0],
            [0.97, 0.0, 0.03],
        ];
        for count in 0..=rows.len() {
            let mut expected = [0.0; 3];
            for combination in 0..3_usize.pow(count as u32) {
                let places = (0..count).map(|row| combination / 3_usize.pow(row as u32) % 3);
                let share: f64 = places
                    .clone()
                    .enumerate()
                    .map(|(r, c)| rows[r][c])
                    .product();
                let class = whole_case(places.map(|place| DifficultyClass::ALL[place]));
                expected[class as usize] += share;
            }
            let found = independent_probabilities(rows[..count].iter().copied());
            for (found, expected) in found.iter().zip(expected) {
                assert!(
                    (found - expected).abs() < 1e-12,
                    "{count}: {found} {expected}"
                );
            }
        }
    }
}
