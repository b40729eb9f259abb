//! Subjects × raters tables from CSV text.
//!
//! The first line names the columns. Fields are separated by commas,
//! semicolons or tabs (whichever the first line uses); with semicolons or
//! tabs a decimal comma is read too. A column of subject names may come
//! first; every other column is one rater.

use std::collections::BTreeSet;

use thiserror::Error;

/// A complete table: one row per subject, one column per rater.
#[derive(Clone, Debug, PartialEq)]
pub struct RatingTable {
    /// Heading of the column that names the subjects, when there is one.
    pub subject_heading: Option<String>,
    /// Subject names, or 1, 2, 3 … when the table has none.
    pub subjects: Vec<String>,
    /// Headings of the rater columns.
    pub raters: Vec<String>,
    /// All ratings.
    pub ratings: Ratings,
    /// What the reader had to guess, in plain words.
    pub remarks: Vec<String>,
}

/// Ratings, `[subject][rater]`.
#[derive(Clone, Debug, PartialEq)]
pub enum Ratings {
    /// Every cell is a finite number.
    Numbers(Vec<Vec<f64>>),
    /// Every cell is the name of a class.
    Classes(Vec<Vec<String>>),
}

/// How to read the first column.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SubjectColumn {
    /// By its heading and content.
    #[default]
    Detect,
    /// It names the subjects.
    First,
    /// There is none: every column is a rater.
    None,
}

/// How to read the cells.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum CellKind {
    /// Numbers when all are numbers, classes when none is.
    #[default]
    Detect,
    /// Numbers, anything else is an error.
    Numbers,
    /// Class names, even when they look like numbers.
    Classes,
}

/// Settings of [`RatingTable::parse`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct TableSettings {
    pub subject_column: SubjectColumn,
    pub cell_kind: CellKind,
}

/// Most raters of a table (our own limit): every pair of them is compared.
const MOST_RATERS: usize = 100;

/// Why a table cannot be read. Lines count from 1, the heading included.
#[derive(Debug, Error)]
pub enum TableError {
    #[error(
        "the table is empty: the first line must name the columns, one line per subject follows"
    )]
    Empty,
    #[error("the table has a heading but no subjects")]
    NoSubjects,
    #[error("line {line}: {found} cells, the heading has {expected}")]
    Ragged {
        line: u64,
        found: usize,
        expected: usize,
    },
    #[error("{what} column {column} has no heading")]
    NoHeading { what: &'static str, column: usize },
    #[error("two columns are headed \"{0}\": every rater needs a name of its own")]
    DuplicateHeading(String),
    #[error(
        "{found} rater columns are more than the {MOST_RATERS} allowed; are rows and columns exchanged?"
    )]
    TooManyRaters { found: usize },
    #[error("the table has no rater column beside the subjects")]
    NoRaters,
    #[error(
        "line {line} (subject {subject}), column \"{column}\": no rating; every rater must rate every subject, so fill it in or leave the subject out"
    )]
    Missing {
        line: u64,
        subject: String,
        column: String,
    },
    #[error(
        "line {line} (subject {subject}), column \"{column}\": \"{cell}\" is not a finite number"
    )]
    NotANumber {
        line: u64,
        subject: String,
        column: String,
        cell: String,
    },
    #[error("the table is not readable as CSV: {0}")]
    Csv(#[from] csv::Error),
}

/// Headings that say a column names the subjects; common practice, no source.
const SUBJECT_HEADINGS: [&str; 27] = [
    "",
    "#",
    "canal",
    "case",
    "film",
    "id",
    "image",
    "index",
    "item",
    "label",
    "name",
    "no",
    "nr",
    "number",
    "object",
    "participant",
    "patient",
    "radiograph",
    "row",
    "sample",
    "specimen",
    "student",
    "subject",
    "target",
    "tooth",
    "trace",
    "unit",
];

/// Cell texts that mean "no rating".
const MISSING_CELLS: [&str; 5] = ["", "na", "n/a", "nan", "null"];

struct Row {
    line: u64,
    cells: Vec<String>,
}

impl RatingTable {
    /// Reads a table from the text of a CSV file (UTF-8, byte order mark
    /// allowed).
    ///
    /// # Errors
    /// [`TableError`], which names line and column.
    pub fn parse(text: &str, settings: TableSettings) -> Result<Self, TableError> {
        let (headings, rows, delimiter) = read_rows(text)?;
        let decimal_comma = delimiter != b',';
        let mut remarks = Vec::new();
        let has_subjects = match settings.subject_column {
            SubjectColumn::First => true,
            SubjectColumn::None => false,
            SubjectColumn::Detect => {
                first_column_names_subjects(&headings, &rows, decimal_comma, &mut remarks)
            }
        };
        let first_rater = usize::from(has_subjects);
        let raters = headings[first_rater..].to_vec();
        if raters.is_empty() {
            return Err(TableError::NoRaters);
        }
        if raters.len() > MOST_RATERS {
            return Err(TableError::TooManyRaters {
                found: raters.len(),
            });
        }
        if let Some(unnamed) = raters.iter().position(String::is_empty) {
            return Err(TableError::NoHeading {
                what: "rater",
                column: first_rater + unnamed + 1,
            });
        }
        let mut seen = BTreeSet::new();
        if let Some(twice) = raters.iter().find(|name| !seen.insert(name.as_str())) {
            return Err(TableError::DuplicateHeading(twice.clone()));
        }
        let subjects: Vec<String> = rows
            .iter()
            .enumerate()
            .map(|(i, row)| match has_subjects {
                true => row.cells[0].clone(),
                false => (i + 1).to_string(),
            })
            .collect();

        let cells = CellReader {
            rows: &rows,
            subjects: &subjects,
            raters: &raters,
            first_rater,
            decimal_comma,
        };
        cells.refuse_missing()?;
        let as_classes = match settings.cell_kind {
            CellKind::Classes => true,
            CellKind::Numbers => false,
            CellKind::Detect => !cells.any_number(),
        };
        let ratings = if as_classes {
            Ratings::Classes(cells.classes())
        } else {
            Ratings::Numbers(cells.numbers()?)
        };
        Ok(Self {
            subject_heading: has_subjects.then(|| headings[0].clone()),
            subjects,
            raters,
            ratings,
            remarks,
        })
    }
}

/// Headings, data rows and the delimiter of a CSV text.
fn read_rows(text: &str) -> Result<(Vec<String>, Vec<Row>, u8), TableError> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let first_line = text.lines().find(|l| !l.trim().is_empty()).unwrap_or("");
    let delimiter = [b'\t', b';', b',']
        .into_iter()
        .find(|&d| first_line.contains(char::from(d)))
        .unwrap_or(b',');
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
        let line = record.position().map_or(0, |start| {
            // The reader marks where it began to look, before blank lines.
            let ahead = &text.as_bytes()[(start.byte() as usize).min(text.len())..];
            let blank = ahead.iter().take_while(|b| matches!(b, b'\r' | b'\n'));
            start.line() + blank.filter(|&&b| b == b'\n').count() as u64
        });
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
    if rows.is_empty() {
        return Err(TableError::NoSubjects);
    }
    Ok((headings, rows, delimiter))
}

/// Decides whether the first column names the subjects: by its heading, or
/// because its cells are names where the other cells are something else.
fn first_column_names_subjects(
    headings: &[String],
    rows: &[Row],
    decimal_comma: bool,
    remarks: &mut Vec<String>,
) -> bool {
    let heading = headings[0].to_lowercase();
    let first_word = heading
        .split(|c: char| !c.is_alphanumeric() && c != '#')
        .next()
        .unwrap_or("");
    let known = |word: &str| SUBJECT_HEADINGS.contains(&word);
    if known(&heading) || known(first_word) || known(first_word.trim_end_matches('s')) {
        return true;
    }
    if headings.len() < 2 {
        return false;
    }
    let number = |cell: &str| parse_number(cell, decimal_comma);
    let first_is_text = rows.iter().all(|row| number(&row.cells[0]).is_none());
    let mut others = rows.iter().flat_map(|row| &row.cells[1..]);
    if first_is_text && others.clone().any(|cell| number(cell).is_some()) {
        return true;
    }
    let firsts: BTreeSet<&str> = rows.iter().map(|row| row.cells[0].as_str()).collect();
    if first_is_text {
        return rows.len() > 2
            && firsts.len() == rows.len()
            && others.all(|cell| !firsts.contains(cell.as_str()));
    }
    let counts_up = rows
        .iter()
        .enumerate()
        .all(|(i, row)| number(&row.cells[0]) == Some((i + 1) as f64));
    if counts_up {
        remarks.push(format!(
            "column \"{}\" counts 1 to {} and was read as a rater; if it numbers the subjects, head it \"subject\"",
            headings[0],
            rows.len()
        ));
    }
    false
}

/// A finite number, or `None`.
fn parse_number(cell: &str, decimal_comma: bool) -> Option<f64> {
    let parsed = match decimal_comma && cell.contains(',') && !cell.contains('.') {
        true => cell.replacen(',', ".", 1).parse::<f64>(),
        false => cell.parse::<f64>(),
    };
    parsed.ok().filter(|value| value.is_finite())
}

/// The rater cells of a table, with what is needed to name one of them.
struct CellReader<'a> {
    rows: &'a [Row],
    subjects: &'a [String],
    raters: &'a [String],
    first_rater: usize,
    decimal_comma: bool,
}

impl CellReader<'_> {
    /// Rater cells of one row.
    fn cells(&self, row: usize) -> &[String] {
        &self.rows[row].cells[self.first_rater..]
    }

    fn refuse_missing(&self) -> Result<(), TableError> {
        for row in 0..self.rows.len() {
            let missing = |cell: &String| MISSING_CELLS.contains(&cell.to_lowercase().as_str());
            if let Some(column) = self.cells(row).iter().position(missing) {
                return Err(TableError::Missing {
                    line: self.rows[row].line,
                    subject: self.subjects[row].clone(),
                    column: self.raters[column].clone(),
                });
            }
        }
        Ok(())
    }

    fn any_number(&self) -> bool {
        (0..self.rows.len())
            .flat_map(|row| self.cells(row))
            .any(|cell| parse_number(cell, self.decimal_comma).is_some())
    }

    fn classes(&self) -> Vec<Vec<String>> {
        (0..self.rows.len())
            .map(|row| self.cells(row).to_vec())
            .collect()
    }

    fn numbers(&self) -> Result<Vec<Vec<f64>>, TableError> {
        let number = |row: usize, column: usize, cell: &String| {
            parse_number(cell, self.decimal_comma).ok_or_else(|| TableError::NotANumber {
                line: self.rows[row].line,
                subject: self.subjects[row].clone(),
                column: self.raters[column].clone(),
                cell: cell.clone(),
            })
        };
        (0..self.rows.len())
            .map(|row| {
                let cells = self.cells(row).iter().enumerate();
                cells
                    .map(|(column, cell)| number(row, column, cell))
                    .collect()
            })
            .collect()
    }
}
