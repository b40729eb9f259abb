//! Reports, tables and pictures saved from the window.

use std::path::Path;

use lengthfilm::desktop::{RecordKind, StartWith};

use crate::desk::Desk;

fn demo() -> Desk {
    Desk::start(Some(StartWith::Demo), None)
}

#[test]
fn every_kind_of_record_is_saved_with_its_own_first_bytes() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = demo();
    // PDF: ISO 32000-1, 7.5.2; PNG: its specification, 5.2; DICOM: PS3.10, 7.1.
    for (kind, name, at, start) in [
        (RecordKind::Pdf, "a.pdf", 0, &b"%PDF-"[..]),
        (RecordKind::Html, "a.html", 0, b"<!DOCTYPE html>"),
        (RecordKind::Picture, "a.png", 0, b"\x89PNG\r\n\x1a\n"),
        (RecordKind::StructuredReport, "a.dcm", 128, b"DICM"),
    ] {
        let path = folder.path().join(name);
        desk.save_record_to(kind, &path);
        assert!(desk.says("Saved as "), "{name}");
        let bytes = std::fs::read(&path).expect(name);
        let found = &bytes[at..at + start.len()];
        assert!(found.eq_ignore_ascii_case(start), "{name}: {found:?}");
    }
    let path = folder.path().join("table");
    desk.save_record_to(RecordKind::Csv, &path);
    let table = std::fs::read_to_string(folder.path().join("table.csv")).expect("an ending");
    let chart = "working_length_chart_mm";
    let mut lines = table.lines();
    let header = lines.next().expect("a header");
    assert!(header.contains(chart), "{header}");
    assert!(
        lines.next().is_some_and(|row| row.contains("MB")),
        "{table}"
    );
}

/// The dialog asked about the report's name, not about that of the film beside
/// it: that one takes a name that is free, and says which.
#[test]
fn the_film_beside_a_report_replaces_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let taken = folder.path().join("a-film.dcm");
    std::fs::write(&taken, "mine").expect("writes");
    let mut desk = demo();
    desk.save_record_to(RecordKind::StructuredReport, &folder.path().join("a.dcm"));
    assert!(desk.says("a-film-2.dcm"));
    assert_eq!(std::fs::read(&taken).expect("stays"), b"mine");
    assert!(folder.path().join("a-film-2.dcm").exists());
}

#[test]
fn identity_is_written_only_when_ticked_and_the_tick_holds_for_one_record() {
    let case =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/canine-43-dicom.case.json");
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = Desk::start(Some(StartWith::Case(case)), None);
    let saved = |desk: &mut Desk, name: &str| {
        let path = folder.path().join(name);
        desk.save_record_to(RecordKind::Html, &path);
        std::fs::read_to_string(path).expect("saved")
    };
    assert!(!saved(&mut desk, "before.html").contains(PATIENT));
    desk.click("Record");
    desk.click("Include patient identity");
    assert!(saved(&mut desk, "ticked.html").contains(PATIENT));
    assert!(!saved(&mut desk, "after.html").contains(PATIENT));
}

#[test]
fn the_copy_of_unsaved_work_names_nobody() {
    let film = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/canine-43-dicom.dcm");
    let folder = tempfile::tempdir().expect("a folder");
    let recovery = folder.path().to_owned();
    let mut desk = Desk::start(Some(StartWith::Film(film)), Some(recovery));
    desk.click_film(300.0, 300.0);
    desk.click_film(300.0, 600.0);
    desk.settle();
    let mut copies = 0;
    for entry in std::fs::read_dir(folder.path()).expect("lists") {
        let content = std::fs::read(entry.expect("an entry").path()).expect("reads");
        let content = String::from_utf8_lossy(&content);
        assert!(!content.contains(PATIENT), "{content}");
        copies += usize::from(content.contains("lengthfilm-case"));
    }
    assert_eq!(copies, 1, "the work is kept");
}

/// Name of the sample film's invented patient.
const PATIENT: &str = "PHANTOM-43";

#[test]
fn a_record_that_cannot_be_written_says_why() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = demo();
    desk.save_record_to(RecordKind::Pdf, &folder.path().join("missing/a.pdf"));
    assert!(desk.says("its folder does not exist"));
    assert!(!folder.path().join("missing").exists());
}
