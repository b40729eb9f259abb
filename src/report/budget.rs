//! Which input spoils a result, and by how much: the budget (docs/methods.md 6), as
//! the findings have it.

use super::model::Table;
use super::numbers::ABSENT;
use crate::measure::InputGroup;
use crate::measure::findings::{Budget, Findings};
use crate::uncertainty::rounding::fixed;

/// The results whose budget is printed, with their keys.
const RESULTS: [(&str, &str); 2] = [
    ("working length", "working_length_additive_mm"),
    ("tip to apex", "tip_to_apex_mm"),
];

/// Inputs that add less than this share of the variance to every result stand
/// in one row.
const SMALL_SHARE: f64 = 0.01;

/// Standard uncertainties by kind of input, mm, for each canal's working
/// length and tip-to-apex distance; `None` where none of them is known.
pub fn table(findings: &Findings) -> Option<Table> {
    let columns: Vec<(String, &Budget)> = findings
        .canals
        .iter()
        .flat_map(|canal| {
            RESULTS.iter().filter_map(move |(name, key)| {
                let budget = canal.budget.iter().find(|b| b.result == *key)?;
                Some((format!("{}, {name}", canal.name), budget))
            })
        })
        .collect();
    if columns.is_empty() {
        return None;
    }
    let mut table = Table::of_quantities(
        "Standard uncertainty each kind of input adds to a result, mm (linear law, JCGM 100, 5.1). \
         They add as squares.",
        "Input",
        columns.iter().map(|(name, _)| name.clone()),
    );
    let mut rest = vec![0.0f64; columns.len()];
    for group in InputGroup::ALL {
        let u_of_group = |(_, budget): &(String, &Budget)| {
            let line = budget.lines.iter().find(|l| l.input == group.code());
            line.map(|l| l.u)
        };
        let u: Vec<Option<f64>> = columns.iter().map(u_of_group).collect();
        let small = columns
            .iter()
            .zip(&u)
            .all(|((_, budget), u)| u.is_none_or(|u| u * u < SMALL_SHARE * variance(budget)));
        if small {
            for (rest, u) in rest.iter_mut().zip(u) {
                *rest += u.unwrap_or(0.0).powi(2);
            }
            continue;
        }
        let cells = u.into_iter().map(cell);
        table.row(std::iter::once(group.label()).chain(cells).collect());
    }
    if rest.iter().any(|&variance| variance > 0.0) {
        let cells = rest.iter().map(|variance| cell(Some(variance.sqrt())));
        let name = "All others, each under 1 % of the variance";
        table.row(std::iter::once(name.to_owned()).chain(cells).collect());
    }
    let total = columns
        .iter()
        .map(|(_, budget)| cell(Some(variance(budget).sqrt())));
    table.strong_row(
        std::iter::once("Together".to_owned())
            .chain(total)
            .collect(),
    );
    Some(table)
}

/// Of all kinds of input together, mm².
fn variance(budget: &Budget) -> f64 {
    budget.lines.iter().map(|l| l.u * l.u).sum()
}

fn cell(u_mm: Option<f64>) -> String {
    u_mm.map_or_else(|| ABSENT.to_owned(), |u| fixed(u, 3))
}
