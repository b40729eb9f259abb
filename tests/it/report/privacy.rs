//! Who the film shows stays out of every output unless asked for.

use std::path::{Path, PathBuf};
use std::process::Command;

use dicom_core::{DataElement, PrimitiveValue, VR};
use dicom_dictionary_std::tags;
use lengthfilm::case;
use lengthfilm::film::Film;
use lengthfilm::measure::findings_text;
use lengthfilm::report::{self, ExportOptions};

use super::dicom::save_dicom;
use super::fixture::{CASE, Record, record_of};

/// Attributes that name the patient or the study, each with a value that
/// occurs nowhere else.
const PLANTED: [(dicom_core::Tag, VR, &str); 12] = [
    (tags::PATIENT_NAME, VR::PN, "Zzyxwold^Quentrell"),
    (tags::PATIENT_ID, VR::LO, "PID-774411"),
    (tags::PATIENT_BIRTH_DATE, VR::DA, "19470831"),
    (tags::STUDY_ID, VR::SH, "ST-99117"),
    (tags::STUDY_DATE, VR::DA, "20190717"),
    (tags::ACCESSION_NUMBER, VR::SH, "ACC-553355"),
    (tags::REFERRING_PHYSICIAN_NAME, VR::PN, "Vrugenhild^Doctor"),
    (tags::INSTITUTION_NAME, VR::LO, "Xarnthal House"),
    (tags::PATIENT_COMMENTS, VR::LT, "OPID-6161"),
    (tags::PATIENT_ADDRESS, VR::LO, "Blorwick Lane"),
    (
        tags::STUDY_INSTANCE_UID,
        VR::UI,
        "1.2.826.0.1.3680043.2.999.1",
    ),
    (
        tags::SERIES_INSTANCE_UID,
        VR::UI,
        "1.2.826.0.1.3680043.2.999.2",
    ),
];

/// Pieces of the planted values, as some other format might hold them.
const TRACES: [&str; 14] = [
    "Zzyxwold",
    "Quentrell",
    "PID-774411",
    "19470831",
    "1947-08-31",
    "ST-99117",
    "20190717",
    "2019-07-17",
    "ACC-553355",
    "Vrugenhild",
    "Xarnthal",
    "OPID-6161",
    "Blorwick",
    "1.2.826.0.1.3680043.2.999",
];

fn save_planted(film: &Film, path: &Path) {
    save_dicom(film, path);
    let mut object = dicom_object::open_file(path).unwrap();
    for (tag, vr, value) in PLANTED {
        object.put(DataElement::new(tag, vr, PrimitiveValue::from(value)));
    }
    let planted = path.with_extension("planted");
    object.write_to_file(&planted).unwrap();
    std::fs::rename(planted, path).unwrap();
}

/// Every kind of record, the saved case, the findings as text and JSON.
fn every_output(record: &Record, options: &ExportOptions) -> Vec<PathBuf> {
    let mut outputs = Vec::new();
    for name in ["a.pdf", "a.html", "a.csv", "a.png", "a.dcm"] {
        outputs.extend(
            report::write(
                &record.case,
                &record.case_path,
                &record.film,
                &record.findings,
                &record.out(name),
                options,
            )
            .unwrap(),
        );
    }
    case::save(&record.case, &record.out("saved.case.json")).unwrap();
    std::fs::write(record.out("a.txt"), findings_text(&record.findings)).unwrap();
    let debug = format!("{:?}\n{:?}", record.film, record.findings);
    std::fs::write(record.out("debug.txt"), debug).unwrap();
    let json = serde_json::to_vec(&record.findings).unwrap();
    std::fs::write(record.out("a.json"), json).unwrap();
    outputs.extend(["saved.case.json", "a.txt", "debug.txt", "a.json"].map(|n| record.out(n)));
    outputs
}

/// What a file says: its bytes, and for a PDF the text on its pages.
fn said(path: &Path) -> String {
    let mut said = String::from_utf8_lossy(&std::fs::read(path).unwrap()).into_owned();
    if path.extension().is_some_and(|e| e == "pdf") {
        match Command::new("pdftotext").arg(path).arg("-").output() {
            Ok(output) => said.push_str(&String::from_utf8_lossy(&output.stdout)),
            Err(_) => println!(
                "skipped: no pdftotext to read the pages of {}",
                path.display()
            ),
        }
    }
    said
}

#[test]
fn planted_identifiers_reach_no_output() {
    let record = record_of(CASE, "film.dcm", save_planted);
    assert!(
        record.film.identity.name.is_some(),
        "the film names somebody"
    );
    for path in every_output(&record, &ExportOptions::default()) {
        // The debug form of the film holds the instance's UIDs by design.
        let is_debug = path.ends_with("debug.txt");
        let said = said(&path);
        for trace in TRACES {
            let uid = trace.starts_with("1.2.826");
            assert!(
                !said.contains(trace) || (is_debug && uid),
                "{trace} in {}",
                path.display()
            );
        }
    }
}

#[test]
fn an_export_that_asks_for_them_holds_the_identifiers() {
    let record = record_of(CASE, "film.dcm", save_planted);
    let options = ExportOptions {
        include_identity: true,
        ..ExportOptions::default()
    };
    every_output(&record, &options);
    let page = said(&record.out("a.html"));
    assert!(page.contains("Zzyxwold") && page.contains("PID-774411"));
    let object = dicom_object::open_file(record.out("a.dcm")).unwrap();
    for (tag, _, value) in &PLANTED[..7] {
        assert_eq!(object.element(*tag).unwrap().to_str().unwrap(), *value);
    }
    let study = object.element(tags::STUDY_INSTANCE_UID).unwrap();
    assert_eq!(study.to_str().unwrap(), PLANTED[10].2);
    for name in ["a.csv", "saved.case.json", "a.json"] {
        assert!(!said(&record.out(name)).contains("Zzyxwold"), "{name}");
    }
}
