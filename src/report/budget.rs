//! Which input spoils a result, and by how much: the budget of METHODS 8, as
//! the findings have it.

use super::model::Table;
use super::numbers::{ABSENT, fixed};
use crate::measure::budget::InputGroup;
use crate::measure::findings::{Budget, Findings};

/// The results whose budget is printed, with their keys.
const RESULTS: [(&str, &str); 2] = [
    ("working length", "working_length_additive_mm"),
    ("tip to apex", "tip_to_apex_mm"),
];

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
    for group in InputGroup::ALL {
        let of_group = |(_, budget): &(String, &Budget)| {
            let line = budget.lines.iter().find(|l| l.input == group.code());
            line.map(|l| fixed(l.u, 3))
        };
        let cells: Vec<_> = columns.iter().map(of_group).collect();
        if cells.iter().any(Option::is_some) {
            let cells = cells
                .into_iter()
                .map(|cell| cell.unwrap_or_else(|| ABSENT.to_owned()));
            table.row(std::iter::once(group.label()).chain(cells).collect());
        }
    }
    let total = columns.iter().map(|(_, budget)| {
        let variance: f64 = budget.lines.iter().map(|l| l.u * l.u).sum();
        fixed(variance.sqrt(), 3)
    });
    table.strong_row(
        std::iter::once("Together".to_owned())
            .chain(total)
            .collect(),
    );
    Some(table)
}
