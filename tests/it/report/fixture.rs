//! One molar with two canals on a synthetic film: the input of every record
//! test, measured as the program measures.

use std::path::{Path, PathBuf};

use lengthfilm::case::{self, Case};
use lengthfilm::film::{self, Film, OpenLimits, OpenedFilm, Polarity};
use lengthfilm::measure::findings::Findings;
use lengthfilm::measure::{FilmSummary, MeasureSettings, measure};

/// A case in a folder of its own, with what was measured on it.
pub struct Record {
    folder: tempfile::TempDir,
    opened: Opened,
}

/// A case with its film and findings.
pub struct Opened {
    pub case_path: PathBuf,
    pub case: Case,
    pub film: OpenedFilm,
    pub findings: Findings,
}

impl Record {
    /// A file in the record's folder.
    pub fn out(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }
}

impl std::ops::Deref for Record {
    type Target = Opened;

    fn deref(&self) -> &Opened {
        &self.opened
    }
}

const CASE_NAME: &str = "molar.case.json";

/// Two bent canals; the second has a name a spreadsheet would take for a
/// formula.
pub const CASE: &str = r#"{"format": "lengthfilm-case", "version": 1,
 "film": {"path": "film.png", "date": "2026-03-14"},
 "scale": {"objects": [
   {"kind": "file", "canal": "MB", "true_length_mm": 20.0,
    "points_px": [[300.0, 90.0], [303.0, 400.0], [310.0, 640.0], [330.0, 752.0], [354.0, 840.0]]},
   {"kind": "ball", "true_diameter_mm": 5.0, "points_px": [[640.0, 120.0], [840.0, 120.0]]}]},
 "tooth": {"notation": "universal", "number": "19"},
 "canals": [
  {"name": "MB", "reference_px": [300.0, 90.0], "reference_name": "MB cusp",
   "trace_px": [[304, 330], [304, 420], [305, 510], [307, 590], [314, 665], [327, 740], [345, 812], [370, 882]],
   "file": {"set_length_mm": 20.0, "tip_px": [354.0, 840.0]}, "apex_px": [370, 882],
   "allowance_mm": 1.0},
  {"name": "=D", "reference_px": [520.0, 95.0], "reference_name": "DB cusp",
   "trace_px": [[517, 330], [517, 430], [516, 520], [513, 610], [504, 690], [490, 765], [484, 825], [486, 880]],
   "file": {"set_length_mm": 19.5, "tip_px": [485.5, 900.0]}, "apex_px": [486, 880],
   "allowance_mm": 0.5}],
 "seed": 7}
"#;

/// The case with a third canal.
pub fn three_canals() -> String {
    with_canal(
        CASE,
        r#"{"name": "ML", "reference_px": [330.0, 92.0], "reference_name": "ML cusp",
   "trace_px": [[340, 330], [338, 420], [336, 510], [338, 590], [345, 665], [354, 740], [366, 812], [386, 878]],
   "file": {"set_length_mm": 19.5, "tip_px": [376.0, 845.0]}, "apex_px": [386, 878],
   "allowance_mm": 1.0}"#,
    )
}

/// The case with a fourth canal, which has no file.
pub fn four_canals() -> String {
    with_canal(
        &three_canals(),
        r#"{"name": "DL", "reference_px": [550.0, 97.0],
   "trace_px": [[541, 330], [541, 430], [540, 520], [537, 610], [528, 690], [514, 765], [508, 825], [510, 880]],
   "apex_px": [510, 880], "allowance_mm": 1.0}"#,
    )
}

fn with_canal(case: &str, canal: &str) -> String {
    let last = "],\n \"seed\"";
    assert!(case.contains(last));
    case.replace(last, &format!(",\n  {canal}{last}"))
}

/// The same tooth with nothing to warn of but a second curve.
pub const TWO_CANALS: &str = r#"{"format": "lengthfilm-case", "version": 1,
 "film": {"path": "film.png"},
 "scale": {"objects": [
   {"kind": "file", "canal": "MB", "true_length_mm": 20.0,
    "points_px": [[300.0, 90.0], [303.0, 400.0], [310.0, 640.0], [330.0, 752.0], [354.0, 840.0]]}]},
 "tooth": {"notation": "fdi", "number": "36"},
 "canals": [
  {"name": "MB", "reference_px": [300.0, 90.0], "reference_name": "MB cusp",
   "trace_px": [[304, 330], [304, 420], [305, 510], [307, 590], [314, 665], [327, 740], [345, 812], [370, 882]],
   "file": {"set_length_mm": 20.0, "tip_px": [354.0, 840.0]}, "apex_px": [370, 882],
   "allowance_mm": 1.0},
  {"name": "D", "reference_px": [520.0, 95.0], "reference_name": "DB cusp",
   "trace_px": [[517, 330], [517, 430], [516, 520], [513, 610], [504, 690], [490, 765], [484, 825], [486, 880]],
   "file": {"set_length_mm": 20.0, "tip_px": [484.5, 848.0]}, "apex_px": [486, 880],
   "allowance_mm": 1.0}]}
"#;

/// Two roots, a crown and a bright instrument, drawn by rule.
pub fn film() -> Film {
    let (width, height) = (900_u32, 1100_u32);
    let mut samples = Vec::with_capacity((width * height) as usize);
    for y in 0..height {
        for x in 0..width {
            let (fx, fy) = (f64::from(x), f64::from(y));
            let bend = ((fy - 500.0).max(0.0) / 400.0).powi(2);
            let root = |axis: f64| {
                let half = 70.0 - (fy - 300.0).max(0.0) * 0.08;
                let inside = (fx - axis).abs() < half && fy < 900.0;
                let canal = (fx - axis).abs() < 7.0;
                (f64::from(u8::from(inside)) * 900.0) - f64::from(u8::from(inside && canal)) * 300.0
            };
            let crown: f64 = if (150.0..330.0).contains(&fy) && (230.0..590.0).contains(&fx) {
                1800.0
            } else {
                0.0
            };
            let bone = 700.0 + 250.0 * (fx / 17.0).sin() * (fy / 23.0).cos();
            let grey = bone
                + crown
                    .max(root(305.0 + 45.0 * bend))
                    .max(root(515.0 - 45.0 * bend));
            samples.push(grey.clamp(0.0, 4095.0) as u16);
        }
    }
    Film::from_samples(width, height, 12, Polarity::HighIsOpaque, samples).unwrap()
}

/// A picture of the film beside its case, both opened and measured.
pub fn record() -> Record {
    record_of(CASE, "film.png", |film, path| {
        film.save_png16(path).unwrap()
    })
}

/// The same of another case; `save` writes the film under `film_name`.
pub fn record_of(case: &str, film_name: &str, save: impl Fn(&Film, &Path)) -> Record {
    let folder = tempfile::tempdir().unwrap();
    let case_path = folder.path().join(CASE_NAME);
    std::fs::write(case_path, case.replace("film.png", film_name)).unwrap();
    save(&film(), &folder.path().join(film_name));
    Record {
        opened: open(folder.path()),
        folder,
    }
}

/// A case that comes with the program, measured; its records go into a folder
/// of their own.
pub fn sample_record(case_path: &Path) -> Record {
    Record {
        folder: tempfile::tempdir().unwrap(),
        opened: open_case(case_path.to_owned()),
    }
}

/// The case in a folder, with its film, measured.
pub fn open(folder: &Path) -> Opened {
    open_case(folder.join(CASE_NAME))
}

fn open_case(case_path: PathBuf) -> Opened {
    let case = case::load(&case_path).unwrap();
    let film_path = case::film_path(&case, &case_path);
    let film = film::open(&film_path, &OpenLimits::default()).unwrap();
    let summary = FilmSummary::from(&film);
    let name = case_path.display().to_string();
    let findings = measure(&case, &summary, &name, &MeasureSettings::default()).unwrap();
    Opened {
        case_path,
        case,
        film,
        findings,
    }
}
