//! Tables that spreadsheets open without surprises, and tables they wrote.

mod read;

use crate::one_line::one_line;

pub use read::{
    TableText, decode, line_of, parse_number, read_table, read_text, read_watched,
    read_with_remark, separator,
};

/// How a table is written for the program that opens it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Dialect {
    /// Semicolons between cells and a comma for the decimal point, as
    /// spreadsheets expect where a comma is the decimal sign.
    pub semicolons: bool,
    /// A byte order mark in front, by which spreadsheets know UTF-8.
    pub byte_order_mark: bool,
}

/// Most digits after the decimal point of a number in a table: a ten
/// thousandth of any limit that is held against it.
const DECIMALS: usize = 6;

impl Dialect {
    /// A number as a cell: at most six decimals, never an exponent.
    pub fn number(self, value: f64) -> String {
        let text = number(value);
        match self.semicolons {
            true => text.replace('.', ","),
            false => text,
        }
    }

    /// Rows, the header first, as RFC 4180 has them but for this dialect. All
    /// rows have one length.
    pub fn bytes(self, rows: impl IntoIterator<Item = Vec<String>>) -> Vec<u8> {
        let mut start = Vec::new();
        if self.byte_order_mark {
            start.extend("\u{feff}".as_bytes());
        }
        let mut table = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .delimiter(if self.semicolons { b';' } else { b',' })
            .from_writer(start);
        for row in rows {
            table
                .write_record(&row)
                .expect("rows of one length go to memory");
        }
        table.into_inner().expect("writing to memory cannot fail")
    }
}

/// A number with at most six decimals, without trailing zeros; empty where it
/// is not finite.
pub fn number(value: f64) -> String {
    if !value.is_finite() {
        return String::new();
    }
    let text = format!("{value:.DECIMALS$}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    match text {
        "-0" => "0".to_owned(),
        text => text.to_owned(),
    }
}

/// Rows, the header first, as an RFC 4180 file: UTF-8, comma, CRLF. All rows
/// have one length.
pub fn csv_bytes(rows: impl IntoIterator<Item = Vec<String>>) -> Vec<u8> {
    Dialect::default().bytes(rows)
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
    use super::*;

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

    #[test]
    fn numbers_have_no_exponents_and_no_endless_digits() {
        for (value, text) in [
            (9.8e-17, "0"),
            (-9.8e-17, "0"),
            (0.1 + 0.2, "0.3"),
            (-1.25, "-1.25"),
            (1e21, "1000000000000000000000"),
            (12.0, "12"),
            (f64::NAN, ""),
        ] {
            assert_eq!(number(value), text);
        }
        let german = Dialect {
            semicolons: true,
            byte_order_mark: true,
        };
        assert_eq!(german.number(1.25), "1,25");
        let bytes = german.bytes([vec!["a".to_owned(), german.number(-0.5)]]);
        assert_eq!(bytes, "\u{feff}a;-0,5\r\n".as_bytes());
    }
}
