//! Tables that spreadsheets open without surprises.

use crate::one_line::one_line;

/// Rows, the header first, as an RFC 4180 file: UTF-8, comma, CRLF. All rows
/// have one length.
pub fn csv_bytes(rows: impl IntoIterator<Item = Vec<String>>) -> Vec<u8> {
    let mut table = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    for row in rows {
        table
            .write_record(&row)
            .expect("rows of one length go to memory");
    }
    table.into_inner().expect("writing to memory cannot fail")
}

/// Text that a spreadsheet would take for a formula gets an apostrophe in
/// front, which spreadsheets read as "this is text". A cell stays on its line.
pub fn inert(text: &str) -> String {
    let shown = one_line(text);
    if text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠']) {
        format!("'{shown}")
    } else {
        shown.into_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::inert;

    #[test]
    fn formulas_become_text_and_ordinary_names_stay() {
        for formula in ["=1+1", "+1", "-1", "@SUM(A1)"] {
            assert_eq!(inert(formula), format!("'{formula}"));
        }
        assert_eq!(inert("\t=1"), "'\\t=1");
        assert_eq!(inert("MB\r\n=1"), "MB\\r\\n=1");
        for name in ["MB", "mésio-buccal", "DB 2", ""] {
            assert_eq!(inert(name), name);
        }
    }
}
