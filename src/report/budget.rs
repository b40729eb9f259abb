//! Which input spoils a result, and by how much: the budget of METHODS 8,
//! from the linear law.

use super::model::Table;
use super::numbers::{ABSENT, fixed};
use super::subject::Subject;
use crate::measure::budget::{InputGroup, contributions};
use crate::measure::{LengthOutput, Model};

/// The results whose budget is printed.
const RESULTS: [(&str, LengthOutput); 2] = [
    ("working length", LengthOutput::Additive),
    ("tip to apex", LengthOutput::TipToApex),
];

/// Standard uncertainties by kind of input, mm, for each canal's working
/// length and tip-to-apex distance; `None` without a scale.
pub fn table(subject: &Subject) -> Option<Table> {
    subject.detector_per_mm()?;
    let columns: Vec<(String, usize)> = subject
        .findings
        .canals
        .iter()
        .enumerate()
        .flat_map(|(canal, found)| {
            RESULTS.map(|(name, output)| {
                let column = Model::canal_offset(canal) + output as usize;
                (format!("{}, {name}", found.name), column)
            })
        })
        .filter(|(_, column)| subject.law.values[*column].is_finite())
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
    let of_columns: Vec<_> = columns
        .iter()
        .map(|(_, column)| contributions(&subject.model, &subject.law, *column))
        .collect();
    for group in InputGroup::ALL {
        let of_group = |parts: &Vec<(InputGroup, f64)>| {
            let found = parts.iter().find(|(g, _)| *g == group);
            found.map(|(_, u)| fixed(*u, 3))
        };
        let cells: Vec<_> = of_columns.iter().map(of_group).collect();
        if cells.iter().any(Option::is_some) {
            let cells = cells
                .into_iter()
                .map(|cell| cell.unwrap_or_else(|| ABSENT.to_owned()));
            table.row(std::iter::once(group.label()).chain(cells).collect());
        }
    }
    let total = columns
        .iter()
        .map(|(_, column)| fixed(subject.law.standard_uncertainty(*column), 3));
    table.strong_row(
        std::iter::once("Together".to_owned())
            .chain(total)
            .collect(),
    );
    Some(table)
}
