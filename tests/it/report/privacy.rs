//! Who the film shows stays out of every output unless asked for.

use std::io::Read;
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

/// What a file says: its bytes, and for a PDF what is packed in them and the
/// text on its pages.
fn said(path: &Path) -> String {
    let bytes = std::fs::read(path).unwrap();
    let mut said = String::from_utf8_lossy(&bytes).into_owned();
    if path.extension().is_some_and(|e| e == "pdf") {
        said.push_str(&unpacked(&bytes));
        for (program, arguments) in [("pdftotext", &["-"][..]), ("pdfinfo", &[])] {
            match Command::new(program).arg(path).args(arguments).output() {
                Ok(output) => said.push_str(&String::from_utf8_lossy(&output.stdout)),
                Err(_) => println!("skipped: no {program} to read {}", path.display()),
            }
        }
    }
    said
}

/// Every deflated stream of a PDF, one after the other.
fn unpacked(pdf: &[u8]) -> String {
    let start = b"stream\n";
    let streams = (0..pdf.len()).filter(|&at| pdf[at..].starts_with(start));
    let mut text = String::new();
    for at in streams {
        let mut content = Vec::new();
        let packed = &pdf[at + start.len()..];
        // Pictures and fonts may be packed in other ways; they hold no text.
        if flate2::read::ZlibDecoder::new(packed)
            .read_to_end(&mut content)
            .is_ok()
        {
            text.push_str(&String::from_utf8_lossy(&content));
        }
    }
    assert!(!text.is_empty(), "the streams were found");
    text
}

/// Nothing of what was planted is in a text; UIDs may be where `uids` says so.
fn names_nobody(said: &str, uids: bool, of: &str) {
    for trace in TRACES {
        let is_uid = trace.starts_with("1.2.826");
        assert!((is_uid && uids) || !said.contains(trace), "{trace} in {of}");
    }
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
        let uids = path.ends_with("debug.txt");
        names_nobody(&said(&path), uids, &path.display().to_string());
    }
}

/// Not even where readers of pictures do not look.
#[test]
fn the_annotated_film_holds_pixels_and_no_notes() {
    let record = record_of(CASE, "film.dcm", save_planted);
    every_output(&record, &ExportOptions::default());
    let file = std::io::BufReader::new(std::fs::File::open(record.out("a.png")).unwrap());
    let reader = png::Decoder::new(file).read_info().unwrap();
    let info = reader.info();
    assert!(info.uncompressed_latin1_text.is_empty());
    assert!(info.compressed_latin1_text.is_empty());
    assert!(info.utf8_text.is_empty());
    assert!(info.exif_metadata.is_none() && info.icc_profile.is_none());
}

/// What the commands print, on either stream, and the files they leave: with a
/// sound film, a damaged one, and without a display.
#[test]
fn no_command_prints_the_identifiers() {
    let record = record_of(CASE, "film.dcm", save_planted);
    let film = std::fs::read(record.out("film.dcm")).unwrap();
    let damaged = &film[..film.len() / 2];
    std::fs::write(record.out("damaged.dcm"), damaged).unwrap();
    let case = std::fs::read_to_string(&record.case_path).unwrap();
    let other = |name: &str, from: &str, to: &str| {
        std::fs::write(record.out(name), case.replace(from, to)).unwrap();
    };
    other("damaged.case.json", "film.dcm", "damaged.dcm");
    let changed = format!("film.dcm\", \"sha256\": \"{}", "0".repeat(64));
    other("changed.case.json", "film.dcm", &changed);
    let sound = "molar.case.json";
    for arguments in [
        &["measure", sound][..],
        &[
            "measure",
            sound,
            "damaged.case.json",
            "changed.case.json",
            "--json",
        ],
        &["info", "film.dcm"],
        &["info", "film.dcm", "--json"],
        &["info", "damaged.dcm"],
        &["grade", "--reference", sound, "--traces", sound, "--csv"],
        &["grade", "--reference", sound, "--traces", sound, "--json"],
        &[
            "follow",
            "film.dcm",
            "--through",
            "304,330",
            "--through",
            "370,882",
            "--json",
        ],
        &["locate-file", "film.dcm", "--near", "310,640", "--json"],
        &["report", sound, "--out", "b.pdf"],
        &["report", sound, "damaged.case.json", "--out", "{}.csv"],
        &[sound],
        &["film.dcm"],
        &["damaged.dcm"],
    ] {
        let output = assert_cmd::Command::cargo_bin("lengthfilm")
            .unwrap()
            .current_dir(record.out(""))
            .env_remove("DISPLAY")
            .env_remove("WAYLAND_DISPLAY")
            .args(arguments)
            .output()
            .unwrap();
        let command = arguments.join(" ");
        let printed = [output.stdout, output.stderr].concat();
        assert!(!printed.is_empty(), "{command} says something");
        // `info` names the instance, so that it can be found again.
        let uids = arguments[0] == "info";
        names_nobody(&String::from_utf8_lossy(&printed), uids, &command);
    }
    let mut left = 0;
    for entry in std::fs::read_dir(record.out("")).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|ending| ending != "dcm") {
            names_nobody(&said(&path), false, &path.display().to_string());
            left += 1;
        }
    }
    // Three cases, two records, the picture drawn without a display.
    assert!(left >= 6, "{left} files");
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

/// File names that hold a patient's name, and an instance's own UID.
#[test]
fn file_names_and_instances_stay_out_unless_asked_for() {
    let record = record_of(CASE, "Zzyxwold_Quentrell.dcm", save_planted);
    let named = record
        .case_path
        .with_file_name("Quentrell-Zzyxwold.case.json");
    std::fs::rename(&record.case_path, &named).unwrap();
    let instance = record.film.instance.as_ref().unwrap();
    let own_uid = instance.sop_instance_uid.clone().unwrap();
    let write = |name: &str, options: &ExportOptions| {
        let (case, film, findings) = (&record.case, &record.film, &record.findings);
        report::write(case, &named, film, findings, &record.out(name), options).unwrap()
    };
    for name in ["a.pdf", "a.html", "a.csv", "a.png", "a.dcm"] {
        for path in write(name, &ExportOptions::default()) {
            let said = said(&path);
            names_nobody(&said, false, name);
            assert!(!said.contains(&own_uid), "{}", path.display());
        }
    }
    // Report and capture agree on every UID they share.
    let open = |name: &str| dicom_object::open_file(record.out(name)).unwrap();
    let text = |object: &dicom_object::InMemDicomObject, tag| {
        let text = object.element(tag).unwrap().to_str().unwrap().into_owned();
        text.trim_end_matches('\0').to_owned()
    };
    let (report, capture) = (open("a.dcm"), open("a-film.dcm"));
    for tag in [tags::STUDY_INSTANCE_UID, tags::PATIENT_IDENTITY_REMOVED] {
        assert_eq!(text(&report, tag), text(&capture, tag));
    }
    let captured = text(&capture, tags::SOP_INSTANCE_UID);
    let said = said(&record.out("a.dcm"));
    assert!(said.contains(&captured), "the report refers to the capture");

    let ticked = ExportOptions {
        include_file_names: true,
        ..ExportOptions::default()
    };
    write("b.csv", &ticked);
    let table = std::fs::read_to_string(record.out("b.csv")).unwrap();
    assert!(table.contains("Zzyxwold_Quentrell.dcm") && table.contains("Quentrell-Zzyxwold"));
}

/// Pixels that name somebody are spoken of, and the capture says the truth.
#[test]
fn burned_in_annotation_is_warned_of_and_passed_on() {
    let save_burned_in = |value: &'static str| {
        move |film: &Film, path: &Path| {
            save_dicom(film, path);
            let mut object = dicom_object::open_file(path).unwrap();
            object.put(DataElement::new(
                tags::BURNED_IN_ANNOTATION,
                VR::CS,
                PrimitiveValue::from(value),
            ));
            let changed = path.with_extension("changed");
            object.write_to_file(&changed).unwrap();
            std::fs::rename(changed, path).unwrap();
        }
    };
    for value in ["YES", "NO"] {
        let record = record_of(CASE, "film.dcm", save_burned_in(value));
        let warned = |text: &str| text.contains("Burned In Annotation YES");
        let warnings = record.film.warnings.iter();
        assert_eq!(
            warnings.filter(|w| warned(&w.text)).count() == 1,
            value == "YES"
        );
        let written = assert_cmd::Command::cargo_bin("lengthfilm")
            .unwrap()
            .args(["report"])
            .arg(&record.case_path)
            .arg("--out")
            .arg(record.out("r.dcm"))
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&written.stderr).into_owned();
        assert!(written.status.success(), "{said}");
        assert_eq!(warned(&said), value == "YES", "{said}");
        let capture = dicom_object::open_file(record.out("r-film.dcm")).unwrap();
        let stated = capture.element(tags::BURNED_IN_ANNOTATION).unwrap();
        assert_eq!(stated.to_str().unwrap().trim(), value);
    }
    // A picture file says nothing, and so does its capture.
    let record = super::fixture::record();
    every_output(&record, &ExportOptions::default());
    let capture = dicom_object::open_file(record.out("a-film.dcm")).unwrap();
    assert!(capture.element(tags::BURNED_IN_ANNOTATION).is_err());
}
