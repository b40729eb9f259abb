//! The structured report, read by other programs.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use lengthfilm::film::Film;
use lengthfilm::film::dicom::{IntraOralFilm, write_intra_oral};
use lengthfilm::report::{self, ExportOptions};

use super::fixture::{CASE, Record, record, record_of};

/// A DICOM film of the fixture, with the identity of nobody.
pub fn dicom_record() -> Record {
    record_of(CASE, "film.dcm", save_dicom)
}

pub fn save_dicom(film: &Film, path: &Path) {
    let facts = IntraOralFilm {
        imager_pixel_spacing_mm: [0.027, 0.027],
        source_to_detector_mm: Some(400.0),
        source_to_patient_mm: Some(390.0),
        estimated_magnification: None,
        tooth: lengthfilm::tooth::ToothNumber::parse(lengthfilm::tooth::ToothNotation::Fdi, "36")
            .expect("a tooth"),
        phantom_name: "Phantom".to_owned(),
        seed: 11,
    };
    write_intra_oral(path, film, &facts).unwrap();
}

/// Writes the report; the second path is the film it refers to.
fn export(record: &Record, options: &ExportOptions) -> (PathBuf, PathBuf) {
    let out = record.out("report.dcm");
    let written = report::write(
        &record.case,
        &record.case_path,
        &record.film,
        &record.findings,
        &out,
        options,
    )
    .unwrap();
    let film = written.get(1).cloned();
    (out, film.unwrap_or_else(|| record.film.path.clone()))
}

/// Runs a program; `None`, said plainly, where it is not installed.
pub fn run(program: &str, arguments: &[&Path]) -> Option<Output> {
    match Command::new(program).args(arguments).output() {
        Ok(output) => Some(output),
        Err(error) => {
            println!("skipped: {program} cannot be run ({error})");
            None
        }
    }
}

/// dcmtk reads the file and has nothing to say about it.
pub fn dcmtk_has_no_complaint(program: &str, file: &Path) {
    let Some(output) = run(program, &[file]) else {
        return;
    };
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{program}: {said}");
    assert!(said.trim().is_empty(), "{program}: {said}");
    assert!(!output.stdout.is_empty());
}

/// What the validator may remark on, and why it stands.
const EXPLAINED: [(&str, &str); 4] = [
    // Names no patient and no study unless that was asked for.
    ("needed to build DICOMDIR", ""),
    // The name of a phantom has one part.
    ("Retired Person Name form", ""),
    // Our own codes; a private scheme starts with 99 (PS3.16, 8.2) and is
    // declared in the file (PS3.3, C.12.1.1.2).
    ("Unrecognized defined term <99LENGTHFILM>", ""),
    // The UID that declares it.
    ("Unrecognized defined term <2.25.", "<Coding Scheme UID>"),
];

/// What the validator calls the kinds of file written here.
const KNOWN_OBJECTS: [&str; 3] = [
    "ComprehensiveSR",
    "SCImage",
    "IntraoralImageForPresentation",
];

/// A validator of the information object definitions finds no error, and
/// warns of nothing but what is explained above.
pub fn validator_has_no_complaint(file: &Path) {
    let Some(output) = run("dciodvfy", &[file]) else {
        return;
    };
    let said = String::from_utf8_lossy(&output.stderr);
    let (remarks, rest): (Vec<&str>, Vec<&str>) = said
        .lines()
        .partition(|line| line.starts_with("Error") || line.starts_with("Warning"));
    assert!(
        rest.iter().any(|line| KNOWN_OBJECTS.contains(line)),
        "knows what it validates: {rest:#?}"
    );
    let is_explained = |line: &str| {
        line.starts_with("Warning")
            && EXPLAINED
                .iter()
                .any(|(what, of)| line.contains(what) && line.contains(of))
    };
    let remarks: Vec<_> = remarks.into_iter().filter(|r| !is_explained(r)).collect();
    assert!(remarks.is_empty(), "{}: {remarks:#?}", file.display());
}

/// A script of `tests/scripts` that reads `files` with pydicom finds the same
/// in them.
pub fn pydicom_agrees(script: &str, files: &[&Path]) {
    let has_pydicom = Command::new("python3")
        .args(["-c", "import pydicom"])
        .output()
        .is_ok_and(|output| output.status.success());
    if !has_pydicom {
        println!("skipped: python3 with pydicom is not installed");
        return;
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/scripts")
        .join(script);
    let output = run("python3", &[&[&*script], files].concat()).unwrap();
    print!("{}", String::from_utf8_lossy(&output.stdout));
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{said}");
}

fn other_readers_agree(record: &Record) {
    let (out, film) = export(record, &ExportOptions::default());
    for program in ["dcmdump", "dsrdump"] {
        dcmtk_has_no_complaint(program, &out);
    }
    dcmtk_has_no_complaint("dcmdump", &film);
    validator_has_no_complaint(&out);
    validator_has_no_complaint(&film);

    let findings = record.out("findings.json");
    std::fs::write(&findings, serde_json::to_vec(&record.findings).unwrap()).unwrap();
    pydicom_agrees("check_structured_report.py", &[&out, &findings, &film]);
}

#[test]
fn other_readers_find_the_same_numbers_on_a_dicom_film() {
    other_readers_agree(&dicom_record());
}

#[test]
fn other_readers_find_the_same_numbers_beside_a_captured_picture() {
    other_readers_agree(&record());
}

/// A capture holds the film's samples as they are.
#[test]
fn the_captured_film_is_the_film() {
    let record = record();
    let (_, capture) = export(&record, &ExportOptions::default());
    let again = lengthfilm::film::open(&capture, &Default::default()).unwrap();
    assert_eq!(again.film.samples(), record.film.film.samples());
    assert_eq!(again.film.polarity(), record.film.film.polarity());
}

/// Two programs, started apart, write the same bytes where the time is set
/// from outside; at another time, and without one, they do not.
#[test]
fn records_of_one_case_and_time_are_the_same_byte_for_byte() {
    let record = dicom_record();
    let folder = tempfile::tempdir().unwrap();
    let written = |name: &str, time: Option<&str>, ending: &str| {
        let own = folder.path().join(name);
        std::fs::create_dir_all(&own).unwrap();
        let out = own.join(format!("report.{ending}"));
        let mut command = Command::new(env!("CARGO_BIN_EXE_lengthfilm"));
        command.arg("report").arg("--out").arg(&out);
        command.arg(&record.case_path);
        command.env_remove("SOURCE_DATE_EPOCH");
        if let Some(time) = time {
            command.env("SOURCE_DATE_EPOCH", time);
        }
        let output = command.output().unwrap();
        assert!(
            output.status.success(),
            "{}",
            String::from_utf8_lossy(&output.stderr)
        );
        let mut files: Vec<_> = std::fs::read_dir(&own)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|e| e == ending))
            .collect();
        files.sort();
        assert!(!files.is_empty());
        files
            .iter()
            .map(|path| std::fs::read(path).unwrap())
            .collect::<Vec<_>>()
    };
    for ending in ["dcm", "pdf", "html", "csv", "png"] {
        let first = written("first", Some("1790000000"), ending);
        let second = written("second", Some("1790000000"), ending);
        assert_eq!(first.len(), second.len(), "{ending}");
        assert!(first == second, "{ending} differs");
    }
    let report = |files: Vec<Vec<u8>>| files.into_iter().next_back();
    let first = report(written("third", Some("1790000000"), "dcm"));
    assert!(first != report(written("fourth", Some("1790000001"), "dcm")));
    assert!(report(written("fifth", None, "dcm")) != report(written("sixth", None, "dcm")));
}
