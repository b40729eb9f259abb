//! Films and records to and from archives that others wrote.

use std::path::{Path, PathBuf};
use std::process::Command;

use lengthfilm::archive::settings::Tls;
use lengthfilm::archive::{self, Fault, FilmsFolder, Keep, PartTen, Way};
use lengthfilm::measure::{self, FilmSummary, MeasureSettings};
use lengthfilm::report::{self, ExportOptions};

use super::servers::{certificate, dcmqrscp, orthanc, storescp};
use super::{get, put_one, quietly, round_trip, samples, write_film};

#[test]
fn a_film_comes_back_from_dcmtk_by_get_and_by_move() {
    let Some(server) = dcmqrscp(&[]) else { return };
    let folder = tempfile::tempdir().unwrap();
    round_trip(&server.settings, &write_film(folder.path(), 1), Way::Either);
    round_trip(&server.settings, &write_film(folder.path(), 2), Way::Move);
}

/// An archive that does not offer C-GET: the films come by C-MOVE unasked.
#[test]
fn where_get_is_not_offered_films_are_moved() {
    let Some(server) = dcmqrscp(&["--disable-get"]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    round_trip(&server.settings, &write_film(folder.path(), 3), Way::Either);
}

#[test]
fn a_film_comes_back_from_orthanc_by_get_and_by_move() {
    let Some(server) = orthanc(false) else { return };
    let folder = tempfile::tempdir().unwrap();
    round_trip(&server.settings, &write_film(folder.path(), 4), Way::Either);
    round_trip(&server.settings, &write_film(folder.path(), 5), Way::Move);
}

/// Compressed films come back in the syntax they are held in, byte for byte.
#[test]
fn compressed_films_are_not_touched_on_the_way() {
    let Some(server) = orthanc(false) else { return };
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/film");
    let out = tempfile::tempdir().unwrap();
    let mut compared = 0;
    for name in [
        "jpeg_lossless_16",
        "jpeg_lossless_predictor4",
        "jpeg2000_16",
        "jpeg2000_lossy_12",
        "jpeg_ls_12",
        "jpeg_ls_near_12",
        "rle_16",
        "jpeg_baseline_8",
        "implicit_12",
        "explicit_8",
    ] {
        let path = data.join(format!("{name}.dcm"));
        let part = PartTen::read(&path).unwrap();
        let Some(study) = part.study_instance_uid.clone() else {
            println!("{name}: no study in it, so no archive can file it");
            continue;
        };
        put_one(&server.settings, &path).unwrap();
        let folder = out.path().join(name);
        let mut folder = FilmsFolder::new(&folder, Keep::Everything).unwrap();
        get(&server.settings, &study, &mut folder, Way::Either).unwrap();
        let came = folder.path_of(&part.sop_instance_uid);
        let syntax = PartTen::read(&came).unwrap().transfer_syntax_uid;
        assert_eq!(syntax, part.transfer_syntax_uid, "{name}");
        assert_eq!(samples(&came), samples(&path), "{name}");
        compared += 1;
    }
    assert!(compared >= 6, "only {compared} compared");
}

#[test]
fn over_tls_with_the_archives_own_certificate_and_with_no_other() {
    let Some(server) = orthanc(true) else { return };
    let folder = tempfile::tempdir().unwrap();
    round_trip(&server.settings, &write_film(folder.path(), 6), Way::Either);

    let fault = |settings: &archive::Settings| {
        let error = quietly(|watch| archive::echo(settings, watch)).unwrap_err();
        assert!(!error.to_string().contains('\n'), "{error}");
        error.fault
    };
    certificate(folder.path(), "other").unwrap();
    let mut wrong = server.settings.clone();
    wrong.tls = Some(Tls {
        certificate: folder.path().join("other.pem"),
        ..Tls::default()
    });
    assert!(matches!(fault(&wrong), Fault::Tls(_)));
    let mut plain = server.settings.clone();
    plain.tls = None;
    plain.answer_timeout_s = 3;
    let said = fault(&plain);
    let told = matches!(said, Fault::Silent | Fault::Broken | Fault::Timeout { .. });
    assert!(told, "{said}");
}

/// A record and the picture it refers to, as the program writes them.
fn record(folder: &Path) -> Vec<PathBuf> {
    let sample =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/incisor-12-late-bend.case.json");
    let (case, film) = measure::open_case(&sample).unwrap();
    let settings = MeasureSettings::default();
    let summary = FilmSummary::from(&film);
    let findings = measure::measure(&case, &summary, "incisor", &settings).unwrap();
    let out = folder.join("record.dcm");
    report::write(
        &case,
        &sample,
        &film,
        &findings,
        &out,
        &ExportOptions::default(),
    )
    .unwrap()
}

#[test]
fn a_record_and_its_picture_arrive_whole() {
    let Some(server) = storescp() else { return };
    let folder = tempfile::tempdir().unwrap();
    let written = record(folder.path());
    assert_eq!(written.len(), 2, "a structured report and a capture");
    let dump = |path: &Path| {
        let output = Command::new("dcmdump")
            .args(["+L", "-q"])
            .arg(path)
            .output();
        let stdout = output.unwrap().stdout;
        let text = String::from_utf8_lossy(&stdout);
        let content = text.split("# Dicom-Data-Set").nth(1).unwrap().to_owned();
        let lines = content.lines().filter(|line| line.starts_with('('));
        lines.map(str::to_owned).collect::<Vec<_>>()
    };
    for path in &written {
        put_one(&server.settings, path).unwrap();
        let uid = PartTen::read(path).unwrap().sop_instance_uid;
        let came = std::fs::read_dir(server.folder.path())
            .unwrap()
            .flatten()
            .map(|entry| entry.path())
            .find(|entry| entry.to_string_lossy().contains(&uid))
            .unwrap_or_else(|| panic!("{uid} has not arrived"));
        let (sent, arrived) = (dump(path), dump(&came));
        assert!(sent.len() > 30);
        assert_eq!(sent, arrived, "{}", path.display());
        match Command::new("dciodvfy").arg(&came).output() {
            Ok(output) => {
                let said = String::from_utf8_lossy(&output.stderr);
                let errors: Vec<_> = said.lines().filter(|l| l.starts_with("Error")).collect();
                assert!(errors.is_empty(), "{errors:#?}");
            }
            Err(error) => println!("skipped: dciodvfy cannot be run ({error})"),
        }
    }
}

/// A record without patient is filed under the patient of its study, whose
/// name is never written here.
#[test]
fn a_record_is_filed_under_the_patient_the_archive_knows() {
    let Some(server) = orthanc(false) else { return };
    let folder = tempfile::tempdir().unwrap();
    let film = write_film(folder.path(), 7);
    let study = round_trip(&server.settings, &film, Way::Either);
    let bare = folder.path().join("bare");
    let mut films = FilmsFolder::new(&bare, Keep::WithoutIdentity).unwrap();
    get(&server.settings, &study, &mut films, Way::Either).unwrap();

    // The bare film again under another UID stands for a record of it.
    let bytes = std::fs::read(&films.written[0]).unwrap();
    let uid = PartTen::read(&films.written[0]).unwrap().sop_instance_uid;
    let mut other = uid.clone();
    let last = if other.ends_with('1') { '2' } else { '1' };
    other.pop();
    other.push(last);
    let mut changed = bytes.clone();
    let mut at = 0;
    while let Some(found) = changed[at..]
        .windows(uid.len())
        .position(|w| w == uid.as_bytes())
    {
        changed[at + found..at + found + uid.len()].copy_from_slice(other.as_bytes());
        at += found + uid.len();
    }
    let part = PartTen::parse(changed).unwrap();
    assert_eq!(part.sop_instance_uid, other);
    let outcomes = quietly(|watch| archive::put(&server.settings, vec![part], true, watch));
    assert!(outcomes[0].result.is_ok(), "{:?}", outcomes[0].result);

    let all = folder.path().join("all");
    let mut films = FilmsFolder::new(&all, Keep::Everything).unwrap();
    let outcome = get(&server.settings, &study, &mut films, Way::Either).unwrap();
    assert_eq!(outcome.fetched, 2, "both in one study");
    for path in &films.written {
        let bytes = std::fs::read(path).unwrap();
        assert!(
            bytes.windows(5).any(|w| w == b"Zzyzx"),
            "{}",
            path.display()
        );
    }
}
