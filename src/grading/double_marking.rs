//! Hand-ins marked twice without names: a copy under a code for each of two
//! markers, and the key that says whose it is, kept apart (docs/grading.md).

use std::collections::HashMap;
use std::fs;
use std::path::{Path, PathBuf};

use rand::SeedableRng;
use rand::seq::SliceRandom;
use rand_chacha::ChaCha8Rng;
use thiserror::Error;

use super::hand_ins::{CollectError, collect};
use super::submission::{Submission, film_name, lies_beside};
use crate::agreement::analysis::{AgreementAnalysis, analyse_ratings};
use crate::agreement::bland_altman::LimitConvention;
use crate::agreement::table::{Gaps, RatingTable, SubjectColumn, TableSettings};
use crate::atomic_file;
use crate::case::{self, Case};
use crate::progress::{Cancelled, Progress, Steps};
use crate::spreadsheet::{Dialect, inert, read_table};

/// Folders of the two markers.
pub const FOLDERS: [&str; 2] = ["marker-1", "marker-2"];
/// The table that a marker fills in.
pub const MARKS_FILE: &str = "marks.csv";
/// First letter of the codes of each marker: nobody can compare codes.
const LETTERS: [char; 2] = ['A', 'B'];
const KEY_COLUMNS: [&str; 4] = ["student", "file", "code_1", "code_2"];

/// Why hand-ins cannot be prepared, or marks not be compared.
#[derive(Debug, Error)]
pub enum MarkingError {
    #[error(transparent)]
    Collect(CollectError),
    #[error("stopped: nothing is prepared")]
    Stopped(#[from] Cancelled),
    #[error("{}: {reason}", path.display())]
    Write { path: PathBuf, reason: String },
    #[error("{}: there is something in this folder already; choose a new one", .0.display())]
    NotEmpty(PathBuf),
    #[error(
        "{}: the key would lie beside the hand-ins that it names; keep it in another folder",
        .0.display()
    )]
    KeyBeside(PathBuf),
    #[error("{}: exists already and is kept; choose another name for the key", .0.display())]
    KeyExists(PathBuf),
    #[error("no hand-in could be prepared: {0}")]
    Nothing(String),
    #[error("{what}: no column \"{column}\" in its first line")]
    NoColumn { what: String, column: &'static str },
    #[error("{what}: {reason}")]
    Table { what: String, reason: String },
    #[error("{what}: the code {code} is not in this key; is it of another marking?")]
    UnknownCode { what: String, code: String },
    #[error("{what}: the code {code} is there twice")]
    CodeTwice { what: String, code: String },
}

impl From<CollectError> for MarkingError {
    fn from(error: CollectError) -> Self {
        match error {
            CollectError::Stopped(stop) => Self::Stopped(stop),
            CollectError::Folder { .. } => Self::Collect(error),
        }
    }
}

/// What was prepared.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Prepared {
    /// Hand-ins copied for each marker.
    pub hand_ins: usize,
    /// Hand-ins left out, with the reason.
    pub refused: Vec<String>,
}

/// Copies cases, and those in folders, into a folder for each marker under
/// codes in an order of their own, with their films and a table for the marks,
/// but without student, observer, dates and file names; writes the key to
/// `key`. `film` stands in where a film of that name was not handed in. `seed`
/// orders the codes.
///
/// # Errors
/// [`MarkingError`], one clear line; a hand-in that cannot be read stops no
/// other. The folder is then left empty.
pub fn prepare(
    hand_ins: &[PathBuf],
    film: Option<&Path>,
    folder: &Path,
    key: &Path,
    seed: u64,
    progress: &Progress,
) -> Result<Prepared, MarkingError> {
    if lies_in(key, folder) {
        return Err(MarkingError::KeyBeside(key.to_owned()));
    }
    if key.symlink_metadata().is_ok() {
        return Err(MarkingError::KeyExists(key.to_owned()));
    }
    if fs::read_dir(folder).is_ok_and(|mut inside| inside.next().is_some()) {
        return Err(MarkingError::NotEmpty(folder.to_owned()));
    }
    let mut prepared = Prepared::default();
    let mut ready = Vec::new();
    for hand_in in collect(hand_ins, &[], progress)?.files {
        let found = hand_in
            .read(progress)
            .map_err(|reason| reason.text().to_owned());
        progress.check()?;
        let found = found.and_then(|submission| {
            let from = film_of(&submission, &hand_in.path, film)?;
            Ok((submission, from))
        });
        match found {
            Ok(found) => ready.push(found),
            Err(reason) => prepared.refused.push(reason),
        }
    }
    if ready.is_empty() {
        let first = prepared.refused.first().cloned().unwrap_or_default();
        return Err(MarkingError::Nothing(first));
    }
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let codes = LETTERS.map(|letter| {
        let digits = ready.len().to_string().len().max(2);
        let mut codes: Vec<String> = (1..=ready.len())
            .map(|number| format!("{letter}{number:0digits$}"))
            .collect();
        codes.shuffle(&mut rng);
        codes
    });
    let steps = Steps::new(progress, FOLDERS.len() * ready.len());
    let written = FOLDERS.iter().zip(&codes).try_for_each(|(name, codes)| {
        write_for_one(&folder.join(name), codes, &ready, progress, &steps)
    });
    let written = written.and_then(|()| write_key(key, &codes, &ready));
    if let Err(error) = written {
        // Nothing was there before; without the key nobody knows whose these are.
        for name in FOLDERS {
            let _ = fs::remove_dir_all(folder.join(name));
        }
        return Err(error);
    }
    prepared.hand_ins = ready.len();
    Ok(prepared)
}

/// The table that says whose the codes are.
fn write_key(
    key: &Path,
    codes: &[Vec<String>; 2],
    ready: &[(Submission, PathBuf)],
) -> Result<(), MarkingError> {
    let rows = ready.iter().enumerate().map(|(index, (submission, _))| {
        vec![
            inert(&submission.student),
            inert(&submission.file),
            codes[0][index].clone(),
            codes[1][index].clone(),
        ]
    });
    write_table(key, KEY_COLUMNS, rows.collect())
}

/// A path lies in a folder, or will once both are there.
fn lies_in(path: &Path, folder: &Path) -> bool {
    let whole = |path: &Path| {
        let real = path.canonicalize().or_else(|_| std::path::absolute(path));
        real.unwrap_or_else(|_| path.to_owned())
    };
    let parent = path.parent().filter(|parent| *parent != Path::new(""));
    whole(parent.unwrap_or(Path::new("."))).starts_with(whole(folder))
}

/// The film of a hand-in: beside it, or the one named for all.
fn film_of(submission: &Submission, path: &Path, film: Option<&Path>) -> Result<PathBuf, String> {
    let case = &submission.case;
    let stated = case::film_path(case, path);
    if lies_beside(case, path) && stated.is_file() {
        return Ok(stated);
    }
    let name = film_name(&case.film.path);
    let is_named = |film: &&Path| film.file_name().is_some_and(|own| own == name);
    match film.filter(is_named) {
        Some(film) => Ok(film.to_owned()),
        None => Err(format!(
            "{}: its film {name} is not beside it; choose that film",
            submission.file
        )),
    }
}

/// Copies, films and the table of one marker.
fn write_for_one(
    folder: &Path,
    codes: &[String],
    ready: &[(Submission, PathBuf)],
    progress: &Progress,
    steps: &Steps,
) -> Result<(), MarkingError> {
    let at = |path: &Path, error: &std::io::Error| MarkingError::Write {
        path: path.to_owned(),
        reason: atomic_file::reason(error),
    };
    fs::create_dir_all(folder).map_err(|error| at(folder, &error))?;
    let mut films: HashMap<&Path, String> = HashMap::new();
    for (code, (submission, film)) in codes.iter().zip(ready) {
        let name = match films.get(film.as_path()) {
            Some(name) => name.clone(),
            None => {
                // Films in DICOM often have no ending.
                let ending = film.extension().map(|ending| ending.to_string_lossy());
                let ending = ending.map_or(String::new(), |ending| format!(".{ending}"));
                let name = format!("film-{}{ending}", films.len() + 1);
                let to = folder.join(&name);
                let (of_disk, onto) = (film.clone(), to.clone());
                let copied = progress.wait_for(move || fs::copy(of_disk, onto))?;
                copied.map_err(|error| at(&to, &error))?;
                films.insert(film, name.clone());
                name
            }
        };
        let path = folder.join(format!("{code}.case.json"));
        case::save(&without_names(&submission.case, name), &path).map_err(|error| {
            MarkingError::Write {
                path: path.clone(),
                reason: error.to_string(),
            }
        })?;
        steps.step();
        progress.check()?;
    }
    let mut sorted = codes.to_vec();
    sorted.sort_unstable();
    let rows = sorted.into_iter().map(|code| vec![code, String::new()]);
    write_table(&folder.join(MARKS_FILE), ["code", "mark"], rows.collect())
}

/// What a marker sees of a case: scale, tooth and canals, and nothing that
/// says whose it is.
fn without_names(case: &Case, film: String) -> Case {
    let mut seen = Case::on_film(film);
    seen.film.sha256.clone_from(&case.film.sha256);
    seen.film.pixel_pitch_mm = case.film.pixel_pitch_mm;
    seen.film.magnification = case.film.magnification;
    seen.film.source_to_detector_mm = case.film.source_to_detector_mm;
    seen.film.source_to_tooth_mm = case.film.source_to_tooth_mm;
    seen.scale = case.scale.clone();
    seen.scale.extra.clear();
    for object in &mut seen.scale.objects {
        object.extra.clear();
    }
    seen.tooth = case.tooth.clone();
    if let Some(tooth) = &mut seen.tooth {
        tooth.extra.clear();
    }
    seen.canals = case.canals.clone();
    for canal in &mut seen.canals {
        canal.extra.clear();
        if let Some(file) = &mut canal.file {
            file.extra.clear();
        }
    }
    seen.marks = case.marks.clone();
    seen
}

fn write_table<const N: usize>(
    path: &Path,
    header: [&str; N],
    rows: Vec<Vec<String>>,
) -> Result<(), MarkingError> {
    let dialect = Dialect {
        semicolons: false,
        byte_order_mark: true,
    };
    let header = header.map(str::to_owned).to_vec();
    let bytes = dialect.bytes(std::iter::once(header).chain(rows));
    atomic_file::write(path, &bytes).map_err(|error| MarkingError::Write {
        path: path.to_owned(),
        reason: atomic_file::reason(&error),
    })
}

/// One hand-in with both its marks.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MarkedHandIn {
    pub student: String,
    pub file: String,
    pub codes: [String; 2],
    /// `None`: not marked.
    pub marks: [Option<String>; 2],
}

impl MarkedHandIn {
    /// Both markers have marked it, and not alike; spreadsheets of some
    /// countries write 7,5.
    pub fn differs(&self) -> bool {
        let [Some(first), Some(second)] = &self.marks else {
            return false;
        };
        let number = |mark: &str| mark.replace(',', ".").parse::<f64>().ok();
        match number(first).zip(number(second)) {
            Some((first, second)) => first != second,
            None => first != second,
        }
    }
}

impl DoubleMarked {
    /// The marks side by side, by student.
    pub fn table(&self, dialect: Dialect) -> Vec<u8> {
        let header = ["student", "file", "mark_1", "mark_2"].map(str::to_owned);
        let rows = self.hand_ins.iter().map(|one| {
            let marks = one.marks.each_ref().map(|mark| mark.as_deref());
            let [first, second] = marks.map(|mark| inert(mark.unwrap_or_default()));
            vec![inert(&one.student), inert(&one.file), first, second]
        });
        dialect.bytes(std::iter::once(header.to_vec()).chain(rows))
    }
}

/// Both markers' marks, by the key.
#[derive(Clone, Debug)]
pub struct DoubleMarked {
    /// In the order of the key.
    pub hand_ins: Vec<MarkedHandIn>,
    /// Agreement over the hand-ins that both have marked, or why there is none.
    pub agreement: Result<Box<AgreementAnalysis>, String>,
}

/// Brings the tables of both markers together by the key. `names` name the key
/// and both tables in messages.
///
/// # Errors
/// [`MarkingError`], one clear line.
pub fn compare(
    key: &str,
    marks: [&str; 2],
    names: [&str; 3],
) -> Result<DoubleMarked, MarkingError> {
    let key = columns(key, names[0], KEY_COLUMNS)?;
    let mut hand_ins: Vec<MarkedHandIn> = key
        .into_iter()
        .map(|[student, file, first, second]| MarkedHandIn {
            student,
            file,
            codes: [first, second],
            marks: [None, None],
        })
        .collect();
    for (marker, text) in marks.into_iter().enumerate() {
        let what = names[marker + 1];
        let mut seen = std::collections::HashSet::new();
        for [code, mark] in columns(text, what, ["code", "mark"])? {
            let own = hand_ins.iter_mut().find(|one| one.codes[marker] == code);
            let Some(hand_in) = own else {
                let what = what.to_owned();
                return Err(MarkingError::UnknownCode { what, code });
            };
            if !seen.insert(code.clone()) {
                let what = what.to_owned();
                return Err(MarkingError::CodeTwice { what, code });
            }
            hand_in.marks[marker] = (!mark.is_empty()).then_some(mark);
        }
    }
    Ok(DoubleMarked {
        agreement: agreement(&hand_ins),
        hand_ins,
    })
}

/// The columns of that name, row by row; rows without any of them are left
/// out.
fn columns<const N: usize>(
    text: &str,
    what: &str,
    wanted: [&'static str; N],
) -> Result<Vec<[String; N]>, MarkingError> {
    let rows = read_table(text).map_err(|reason| MarkingError::Table {
        what: what.to_owned(),
        reason,
    })?;
    let mut rows = rows.into_iter();
    let heading = rows.next().unwrap_or_default();
    let mut at = [0; N];
    for (place, column) in at.iter_mut().zip(wanted) {
        let found = heading
            .iter()
            .position(|cell| cell.trim().eq_ignore_ascii_case(column));
        *place = found.ok_or_else(|| MarkingError::NoColumn {
            what: what.to_owned(),
            column,
        })?;
    }
    let cells =
        rows.map(|row| at.map(|place| row.get(place).map_or("", |cell| cell.trim()).to_owned()));
    Ok(cells
        .filter(|row| row.iter().any(|cell| !cell.is_empty()))
        .collect())
}

/// Agreement of both markers over what both have marked.
fn agreement(hand_ins: &[MarkedHandIn]) -> Result<Box<AgreementAnalysis>, String> {
    let rows: Vec<Vec<String>> = hand_ins
        .iter()
        .enumerate()
        .filter_map(|(index, one)| {
            let [Some(first), Some(second)] = &one.marks else {
                return None;
            };
            // Spreadsheets of some countries write 7,5.
            let [first, second] = [first, second].map(|mark| mark.replace(',', "."));
            Some(vec![(index + 1).to_string(), first, second])
        })
        .collect();
    if rows.len() < 2 {
        return Err("fewer than two hand-ins have both marks".to_owned());
    }
    let header = ["hand-in", "marker 1", "marker 2"]
        .map(str::to_owned)
        .to_vec();
    let bytes = Dialect::default().bytes(std::iter::once(header).chain(rows));
    let text = String::from_utf8_lossy(&bytes);
    let settings = TableSettings {
        subject_column: SubjectColumn::First,
        gaps: Gaps::LeaveOut,
        ..TableSettings::default()
    };
    let table = RatingTable::parse(&text, settings).map_err(|error| error.to_string())?;
    let mut found = analyse_ratings(&table, LimitConvention::Normal196, &[]);
    // Put there above, not read.
    found.subject_column = None;
    Ok(Box::new(found))
}
