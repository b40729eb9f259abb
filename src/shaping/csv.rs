//! One row per level, for spreadsheets and statistics (docs/before-after.md).

use super::findings::{CanalShaping, LevelFinding, ShapingFindings};
use crate::spreadsheet::{csv_bytes, inert};
use crate::units::Quantity;

/// The table as the bytes of an RFC 4180 file.
pub fn csv(findings: &ShapingFindings) -> Vec<u8> {
    let mut header: Vec<String> = ["before", "after", "canal", "from_end_mm"]
        .map(str::to_owned)
        .to_vec();
    for (name, _) in QUANTITIES {
        header.push(name.to_owned());
        header.push(name.replace("_mm", "_u95_mm"));
    }
    header.extend(
        [
            "centring_ratio",
            "centring_ratio_u95",
            "movement_ratio",
            "note",
        ]
        .map(str::to_owned),
    );
    let mut rows = vec![header];
    for canal in &findings.canals {
        rows.extend(canal.levels.iter().map(|level| row(findings, canal, level)));
    }
    csv_bytes(rows)
}

type Of = fn(&LevelFinding) -> Option<Quantity>;

const QUANTITIES: [(&str, Of); 8] = [
    ("width_before_mm", |l| l.width_before_mm),
    ("width_after_mm", |l| l.width_after_mm),
    ("removed_left_mm", |l| l.removed_left_mm),
    ("removed_right_mm", |l| l.removed_right_mm),
    ("transport_mm", |l| l.transport_mm),
    ("centre_shift_mm", |l| l.centre_shift_mm),
    ("remaining_left_mm", |l| l.remaining_left_mm),
    ("remaining_right_mm", |l| l.remaining_right_mm),
];

fn row(findings: &ShapingFindings, canal: &CanalShaping, level: &LevelFinding) -> Vec<String> {
    let number = |value: Option<f64>| value.map_or(String::new(), |v| format!("{v:.4}"));
    let mut cells = vec![
        inert(&findings.before),
        inert(&findings.after),
        inert(&canal.name),
        format!("{}", level.from_end_mm),
    ];
    for (_, of) in QUANTITIES {
        let quantity = of(level);
        cells.push(number(quantity.map(|q| q.value)));
        cells.push(number(quantity.map(|q| q.u95)));
    }
    cells.push(number(level.centring_ratio));
    cells.push(number(level.centring_ratio_u95));
    cells.push(number(level.movement_ratio));
    cells.push(level.note.clone());
    cells
}
