//! Two groups compared level by level.

use std::collections::BTreeMap;

use serde::Serialize;

use super::grade::GradedPair;
use crate::agreement::Interval;
use crate::learning::compare::{half_width, independent};
use crate::shaping::LevelFinding;
use crate::statistics::mean;

/// What is compared at every level: key, and how it is read.
type Of = fn(&LevelFinding) -> Option<f64>;

const COMPARED: [(&str, Of); 4] = [
    ("transport_mm", |l| Some(l.transport_mm?.value)),
    ("absolute_transport_mm", |l| {
        Some(l.transport_mm?.value.abs())
    }),
    ("centring_ratio", |l| l.centring_ratio),
    ("removed_mm", |l| {
        Some(l.removed_left_mm?.value + l.removed_right_mm?.value)
    }),
];

/// The difference of two groups at one level.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LevelDifference {
    pub canal: String,
    pub quantity: &'static str,
    pub from_end_mm: f64,
    /// Students of each group.
    pub students: [usize; 2],
    pub first_mean: f64,
    pub second_mean: f64,
    /// Second − first, by Welch's t, each student counted once.
    pub difference: f64,
    pub ci95: Interval,
    /// The same for all levels of this canal and quantity at once
    /// (Bonferroni).
    pub ci95_all_levels: Interval,
    pub p: Option<f64>,
    /// p for all levels of this canal and quantity at once (Holm 1979, Scand J
    /// Stat 6:65–70, MEM-H).
    pub p_all_levels: Option<f64>,
}

/// Two groups of a class.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct GroupComparison {
    pub groups: [String; 2],
    pub levels: Vec<LevelDifference>,
}

/// Compares the two groups, in the order in which they first stand in the
/// table; `None` unless there are exactly two.
pub fn compare_groups(pairs: &[GradedPair]) -> Option<GroupComparison> {
    let mut names: Vec<&str> = Vec::new();
    for group in pairs.iter().filter_map(|pair| pair.group.as_deref()) {
        if !names.contains(&group) {
            names.push(group);
        }
    }
    let [first, second] = names[..] else {
        return None;
    };
    let groups = [first, second];
    let mut levels = Vec::new();
    for canal in canals(pairs) {
        for (quantity, of) in COMPARED {
            let of_level = by_level(pairs, groups, canal, of);
            levels.extend(differences(canal, quantity, &of_level));
        }
    }
    Some(GroupComparison {
        groups: groups.map(str::to_owned),
        levels,
    })
}

fn canals(pairs: &[GradedPair]) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    for canal in pairs.iter().flat_map(|pair| &pair.shaping) {
        if !names.contains(&canal.name.as_str()) {
            names.push(&canal.name);
        }
    }
    names
}

/// Levels in micrometres from the end, and each group's values there: the mean
/// of every student's blocks.
fn by_level(
    pairs: &[GradedPair],
    groups: [&str; 2],
    canal: &str,
    of: Of,
) -> BTreeMap<i64, [Vec<f64>; 2]> {
    let mut of_students: BTreeMap<(i64, usize, &str), Vec<f64>> = BTreeMap::new();
    for pair in pairs {
        let own = pair.group.as_deref();
        let Some(group) = groups.iter().position(|&name| own == Some(name)) else {
            continue;
        };
        let canals = pair.shaping.iter().filter(|c| c.name == canal);
        for level in canals.flat_map(|c| &c.levels) {
            if let Some(value) = of(level) {
                let at = (level.from_end_mm * 1000.0).round() as i64;
                let student = (at, group, pair.student.as_str());
                of_students.entry(student).or_default().push(value);
            }
        }
    }
    let mut levels: BTreeMap<i64, [Vec<f64>; 2]> = BTreeMap::new();
    for ((at, group, _), values) in of_students {
        levels.entry(at).or_default()[group].push(mean(&values));
    }
    levels
}

/// The differences of one canal and quantity, adjusted for their number.
fn differences(
    canal: &str,
    quantity: &'static str,
    levels: &BTreeMap<i64, [Vec<f64>; 2]>,
) -> Vec<LevelDifference> {
    let compared: Vec<_> = levels
        .iter()
        .filter_map(|(&at, [first, second])| Some((at, first, second, independent(first, second)?)))
        .collect();
    let outside = 0.05 / compared.len() as f64;
    let p_values: Vec<Option<f64>> = compared.iter().map(|(.., found)| found.p).collect();
    let adjusted = holm(&p_values);
    compared
        .into_iter()
        .zip(adjusted)
        .filter_map(|((at, first, second, found), p_all_levels)| {
            let half = half_width(first, second, outside)?;
            Some(LevelDifference {
                canal: canal.to_owned(),
                quantity,
                from_end_mm: at as f64 / 1000.0,
                students: [first.len(), second.len()],
                first_mean: found.first_mean,
                second_mean: found.second_mean,
                difference: found.difference,
                ci95: found.ci95,
                ci95_all_levels: Interval::around(found.difference, half),
                p: found.p,
                p_all_levels,
            })
        })
        .collect()
}

/// p-values adjusted for their number; those that are missing stay so and do
/// not count.
fn holm(p_values: &[Option<f64>]) -> Vec<Option<f64>> {
    let mut order: Vec<usize> = (0..p_values.len())
        .filter(|&i| p_values[i].is_some())
        .collect();
    order.sort_by(|&a, &b| p_values[a].partial_cmp(&p_values[b]).expect("numbers"));
    let count = order.len();
    let mut adjusted = vec![None; p_values.len()];
    let mut least: f64 = 0.0;
    for (rank, &i) in order.iter().enumerate() {
        let p = p_values[i].unwrap_or(1.0) * (count - rank) as f64;
        least = least.max(p.min(1.0));
        adjusted[i] = Some(least);
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::holm;

    /// Values of statsmodels' `multipletests(…, method="holm")`.
    #[test]
    fn p_values_are_adjusted_as_by_holm() {
        let given = [0.01, 0.04, 0.03, 0.005].map(Some);
        let found = holm(&[&given[..], &[None]].concat());
        let expected = [0.03, 0.06, 0.06, 0.02];
        for (found, expected) in found.iter().zip(expected) {
            assert!((found.unwrap() - expected).abs() < 1e-12, "{found:?}");
        }
        assert_eq!(found[4], None);
    }
}
