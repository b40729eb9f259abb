//! The lines of a table.

use super::table_error::TableError;
use crate::spreadsheet::{line_of, separator};

/// A line below the heading.
pub(super) struct Row {
    pub line: usize,
    pub cells: Vec<String>,
}

/// Headings, data rows and the delimiter of a CSV text.
pub(super) fn read_rows(text: &str) -> Result<(Vec<String>, Vec<Row>, u8), TableError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let delimiter = separator(text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut headings: Option<Vec<String>> = None;
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record?;
        if record.iter().all(str::is_empty) {
            continue;
        }
        let line = line_of(text, &record);
        let cells: Vec<String> = record.iter().map(str::to_owned).collect();
        match &headings {
            None => headings = Some(cells),
            Some(heading) if cells.len() != heading.len() => {
                return Err(TableError::Ragged {
                    line,
                    found: cells.len(),
                    expected: heading.len(),
                });
            }
            Some(_) => rows.push(Row { line, cells }),
        }
    }
    let headings = headings.ok_or(TableError::Empty)?;
    Ok((headings, rows, delimiter))
}

/// Cells with one comma inside quotation marks, as spreadsheets write decimal
/// commas into a table with commas. Where every one has three digits after it,
/// they may as well mark thousands: then they are no numbers.
pub(super) fn has_quoted_commas(rows: &[Row]) -> bool {
    let cells = rows.iter().flat_map(|row| &row.cells);
    let mut decimals = cells.filter_map(|cell| {
        let (before, after) = cell.split_once(',')?;
        let is_number = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        (is_number(before.trim_start_matches('-')) && is_number(after)).then_some(after.len())
    });
    decimals.any(|digits| digits != 3)
}
