//! The structured report of a comparison before and after shaping: of two DICOM
//! films only, with the identity only when asked for, read by other programs.

use std::path::{Path, PathBuf};

use assert_cmd::Command;
use lengthfilm::case;
use lengthfilm::film::{Film, Polarity};
use lengthfilm::phantom::block::BlockSpec;

use super::dicom::{
    dcmtk_has_no_complaint, pydicom_agrees, save_dicom, validator_has_no_complaint,
};
use crate::support::block_pairs::{CLICK_MM, clicked};

/// A pair of cases on two films of this ending.
fn write_pair(folder: &Path, ending: &str) -> [PathBuf; 2] {
    let [before, after] = clicked(&BlockSpec::random(4), CLICK_MM, false);
    [(before, "before", 9000), (after, "after", 9001)].map(|(picture, name, grey)| {
        let samples = vec![grey; 1400 * 1500];
        let film = Film::from_samples(1400, 1500, 16, Polarity::HighIsOpaque, samples).unwrap();
        let film_path = folder.join(format!("{name}.{ending}"));
        match ending {
            "dcm" => save_dicom(&film, &film_path),
            _ => film.save_png16(&film_path).unwrap(),
        }
        let mut case = picture.case.clone();
        case.film.path = format!("{name}.{ending}");
        let path = folder.join(format!("{name}.case.json"));
        case::save(&case, &path).unwrap();
        path
    })
}

fn before_after(cases: &[PathBuf; 2]) -> Command {
    let mut command = Command::cargo_bin("lengthfilm").unwrap();
    command.arg("before-after").args(cases);
    command.args(["--draws", "200", "--json"]);
    command
}

#[test]
fn other_programs_read_the_report_on_two_dicom_films() {
    let folder = tempfile::tempdir().unwrap();
    let cases = write_pair(folder.path(), "dcm");
    let out = folder.path().join("shaping.dcm");
    // It names the patient: not without being asked.
    let refused = before_after(&cases).arg("--out").arg(&out).assert().code(1);
    let said = String::from_utf8_lossy(&refused.get_output().stderr).into_owned();
    assert!(said.contains("give --identity"), "{said}");
    assert!(!out.exists());

    let mut command = before_after(&cases);
    let written = command
        .args(["--identity", "--out"])
        .arg(&out)
        .assert()
        .success();
    let findings = folder.path().join("findings.json");
    std::fs::write(&findings, &written.get_output().stdout).unwrap();
    for program in ["dcmdump", "dsrdump"] {
        dcmtk_has_no_complaint(program, &out);
    }
    validator_has_no_complaint(&out);
    let films = ["before.dcm", "after.dcm"].map(|name| folder.path().join(name));
    let files = [&*out, &*findings, &*films[0], &*films[1]];
    pydicom_agrees("check_shaping_report.py", &files);
}

#[test]
fn photographs_get_no_structured_report() {
    let folder = tempfile::tempdir().unwrap();
    let cases = write_pair(folder.path(), "png");
    let out = folder.path().join("shaping.dcm");
    let mut command = before_after(&cases);
    let refused = command
        .args(["--identity", "--out"])
        .arg(&out)
        .assert()
        .code(1);
    let said = String::from_utf8_lossy(&refused.get_output().stderr).into_owned();
    assert!(said.contains("one of them is no DICOM film"), "{said}");
    assert!(!out.exists());
}
