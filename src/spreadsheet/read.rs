//! Tables that others wrote: any encoding a spreadsheet saves in, any of the
//! usual separators.

use std::path::Path;

use crate::progress::Progress;
use crate::{atomic_file, input_file};

/// Text of a table, with what had to be guessed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TableText {
    pub text: String,
    /// The encoding, where it was not UTF-8.
    pub remark: Option<&'static str>,
}

/// What a file that is no UTF-8 was taken for.
const LATIN: &str = "the table is not UTF-8 and was read as Windows-1252 (Western European); if letters look wrong, save it as CSV UTF-8";

/// Reads a text file of at most `most_bytes`: UTF-8, UTF-16 with a byte order
/// mark, else Windows-1252, of which ISO 8859-1 is a part.
///
/// # Errors
/// One clear line: not readable, or no text.
pub fn read_text(path: &Path, most_bytes: u64) -> Result<String, String> {
    Ok(read_with_remark(path, most_bytes)?.text)
}

/// [`read_text`], with a remark where the encoding was guessed.
///
/// # Errors
/// As [`read_text`].
pub fn read_with_remark(path: &Path, most_bytes: u64) -> Result<TableText, String> {
    let bytes =
        input_file::read(path, most_bytes).map_err(|error| atomic_file::reading_reason(&error))?;
    decode(&bytes).map_err(str::to_owned)
}

/// [`read_with_remark`], which `progress` can stop.
///
/// # Errors
/// As [`read_with_remark`]; "stopped" when `progress` was told to stop.
pub fn read_watched(
    path: &Path,
    most_bytes: u64,
    progress: &Progress,
) -> Result<TableText, String> {
    let path = path.to_owned();
    let read = progress.wait_for(move || read_with_remark(&path, most_bytes));
    read.map_err(|stop| stop.to_string())?
}

/// The text of a file's bytes.
///
/// # Errors
/// One clear line: these are no text.
pub fn decode(bytes: &[u8]) -> Result<TableText, &'static str> {
    const ADVICE: &str =
        "not a table of text; save it as CSV (UTF-8), not as a workbook, and name that file";
    let plain = |text: String| TableText { text, remark: None };
    match bytes {
        // A zip archive: a workbook.
        [b'P', b'K', 3, 4, ..] => Err(ADVICE),
        [0xFF, 0xFE, rest @ ..] => utf16(rest, u16::from_le_bytes).map(plain),
        [0xFE, 0xFF, rest @ ..] => utf16(rest, u16::from_be_bytes).map(plain),
        [0xEF, 0xBB, 0xBF, rest @ ..] => match std::str::from_utf8(rest) {
            Ok(text) => Ok(plain(text.to_owned())),
            Err(_) => Err(ADVICE),
        },
        _ => match std::str::from_utf8(bytes) {
            Ok(text) if !text.contains('\0') => Ok(plain(text.to_owned())),
            Err(_) if !bytes.contains(&0) => Ok(TableText {
                text: bytes.iter().map(|&byte| of_windows_1252(byte)).collect(),
                remark: Some(LATIN),
            }),
            _ => Err(ADVICE),
        },
    }
}

fn utf16(bytes: &[u8], unit: fn([u8; 2]) -> u16) -> Result<String, &'static str> {
    const ADVICE: &str = "the table begins like UTF-16 but is not; save it as CSV (UTF-8)";
    let (pairs, rest) = bytes.as_chunks::<2>();
    if !rest.is_empty() {
        return Err(ADVICE);
    }
    let units: Vec<u16> = pairs.iter().map(|&pair| unit(pair)).collect();
    String::from_utf16(&units).map_err(|_| ADVICE)
}

/// Windows-1252: ISO 8859-1 but for 0x80–0x9F.
fn of_windows_1252(byte: u8) -> char {
    const HIGH: [char; 32] = [
        '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž',
        '\u{8f}', '\u{90}', '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}',
        'ž', 'Ÿ',
    ];
    match byte {
        0x80..=0x9F => HIGH[usize::from(byte - 0x80)],
        other => char::from(other),
    }
}

/// The line of `text` that a record read from it begins on, the first being 1.
pub fn line_of(text: &str, record: &csv::StringRecord) -> usize {
    let Some(start) = record.position() else {
        return 0;
    };
    // The reader marks where it began to look, before blank lines.
    let ahead = &text.as_bytes()[(start.byte() as usize).min(text.len())..];
    let blank = ahead.iter().take_while(|b| matches!(b, b'\r' | b'\n'));
    start.line() as usize + blank.filter(|&&b| b == b'\n').count()
}

/// The separator of a table: of tab, semicolon and comma the first that the
/// first line holds outside quotation marks.
pub fn separator(text: &str) -> u8 {
    let first = text.lines().find(|line| !line.trim().is_empty());
    let mut quoted = false;
    let outside: String = first
        .unwrap_or_default()
        .chars()
        .filter(|&c| {
            quoted ^= c == '"';
            !quoted
        })
        .collect();
    [b'\t', b';', b',']
        .into_iter()
        .find(|&separator| outside.contains(char::from(separator)))
        .unwrap_or(b',')
}

/// All rows of a table, cells without the blanks about them; empty rows are
/// left out.
///
/// # Errors
/// One clear line.
pub fn read_table(text: &str) -> Result<Vec<Vec<String>>, String> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator(text))
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut rows = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|e| format!("the table is not readable as CSV: {e}"))?;
        if !record.iter().all(str::is_empty) {
            rows.push(record.iter().map(str::to_owned).collect());
        }
    }
    Ok(rows)
}

/// A finite number; with `decimal_comma` a comma may stand for the point.
pub fn parse_number(cell: &str, decimal_comma: bool) -> Option<f64> {
    let cell = cell.trim().replace('−', "-");
    let parsed = match decimal_comma && cell.contains(',') && !cell.contains('.') {
        true => cell.replacen(',', ".", 1).parse::<f64>(),
        false => cell.parse::<f64>(),
    };
    parsed.ok().filter(|value| value.is_finite())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// "Müller;1,5" as Python's codecs write it: utf-8-sig, utf-16, utf-16-be
    /// with its mark, cp1252.
    #[test]
    fn every_usual_encoding_is_read() {
        let utf8 = [&b"\xEF\xBB\xBF"[..], "Müller;1,5".as_bytes()].concat();
        let little = b"\xff\xfeM\x00\xfc\x00l\x00l\x00e\x00r\x00;\x001\x00,\x005\x00";
        let big = b"\xfe\xff\x00M\x00\xfc\x00l\x00l\x00e\x00r\x00;\x001\x00,\x005";
        let latin = b"M\xfcller;1,5";
        for (bytes, is_guess) in [
            (&utf8[..], false),
            (little, false),
            (big, false),
            (latin, true),
        ] {
            let found = decode(bytes).expect("text");
            assert_eq!(
                (found.text.as_str(), found.remark.is_some()),
                ("Müller;1,5", is_guess)
            );
        }
        assert_eq!(decode(b"\x80 \x9c").expect("text").text, "€ œ");
    }

    #[test]
    fn workbooks_and_garbage_are_refused_with_advice() {
        for bytes in [
            &b"PK\x03\x04rest"[..],
            b"a\x00b",
            b"\xff\x00\xfe",
            b"\xff\xfea",
        ] {
            let reason = decode(bytes).expect_err("no text");
            assert!(reason.contains("save it as CSV"), "{reason}");
        }
    }

    #[test]
    fn separators_and_numbers() {
        assert_eq!(separator("\"a;b\",c\n1;2"), b',');
        assert_eq!(separator("\n\na;b,c"), b';');
        assert_eq!(separator("a\tb;c"), b'\t');
        assert_eq!(parse_number("1,5", true), Some(1.5));
        assert_eq!(parse_number("1,5", false), None);
        assert_eq!(parse_number(" −0.25 ", false), Some(-0.25));
        assert_eq!(parse_number("inf", false), None);
    }
}
