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

/// Over four connections at once every film arrives, each once.
#[test]
fn many_films_go_over_several_connections() {
    let Some(server) = orthanc(false) else { return };
    let folder = tempfile::tempdir().unwrap();
    let film = |seed| PartTen::read(&write_film(folder.path(), seed)).unwrap();
    let parts: Vec<PartTen> = (100..124).map(film).collect();
    let studies: Vec<String> = parts
        .iter()
        .filter_map(|part| part.study_instance_uid.clone())
        .collect();
    let settings = archive::Settings {
        parallel: 4,
        ..server.settings.clone()
    };
    let outcomes = quietly(|watch| archive::put(&settings, parts, false, watch));
    assert_eq!(outcomes.len(), 24);
    for outcome in &outcomes {
        assert!(outcome.result.is_ok(), "{outcome:?}");
    }
    assert_eq!(studies.len(), 24);
    for study in &studies {
        let films = quietly(|watch| archive::find_films(&server.settings, study, watch));
        assert_eq!(films.unwrap().len(), 1, "{study}");
    }
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

/// The file's name without its last ending, of which a UID has many.
fn stem(film: &Path) -> String {
    film.file_stem().unwrap().to_string_lossy().into_owned()
}

fn case_beside(film: &Path) -> PathBuf {
    film.with_file_name(stem(film) + ".case.json")
}

/// All films of a day in an archive as one run: those with a case are measured
/// and get their record, the others are listed, and nothing that is written or
/// printed names the patient.
#[test]
fn cases_of_a_day_in_the_archive_are_measured_in_one_run() {
    let Some(server) = orthanc(false) else { return };
    let folder = tempfile::tempdir().unwrap();
    let films = folder.path().join("films");
    for seed in [11, 12, 13] {
        put_one(&server.settings, &write_film(folder.path(), seed)).unwrap();
    }
    let run = |arguments: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
            .arg("archive")
            .args(arguments)
            .args(["--at", &server.settings.at.to_string(), "--films"])
            .arg(&films)
            .env("LENGTHFILM_HOME", folder.path())
            .output()
            .unwrap();
        let printed = String::from_utf8(output.stdout).unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        for text in [&printed, &said] {
            assert!(
                !text.contains("Zzyzx") && !text.contains("Quillon"),
                "{text}"
            );
        }
        (output.status.code(), printed, said)
    };
    // Nothing named would be the whole archive.
    let (code, _, said) = run(&["measure"]);
    assert_eq!(code, Some(1));
    assert!(said.contains("every study of the archive"), "{said}");

    let as_json = |arguments: &[&str]| -> (Option<i32>, serde_json::Value) {
        let (code, printed, said) = run(arguments);
        let parsed = serde_json::from_str(&printed);
        (
            code,
            parsed.unwrap_or_else(|error| panic!("{error}: {printed} {said}")),
        )
    };
    let day = ["--patient", "Zzyz*", "--modality", "IO", "--json"];
    let measure = |more: &[&str]| as_json(&[&["measure"], &day[..], more].concat());
    let (code, first) = measure(&[]);
    assert_eq!(code, Some(0));
    assert_eq!(
        (&first["studies"], &first["fetched"]),
        (&3.into(), &3.into())
    );
    assert_eq!(first["without_case"].as_array().unwrap().len(), 3);

    // Two of them get a case, one of these beyond its film.
    let here: Vec<PathBuf> = first["films"]
        .as_array()
        .unwrap()
        .iter()
        .map(|path| PathBuf::from(path.as_str().unwrap()))
        .collect();
    for (film, depth) in here.iter().zip([30.0, 500.0]) {
        let name = film.file_name().unwrap().to_string_lossy();
        let case = serde_json::json!({
            "format": "lengthfilm-case", "version": 1, "film": { "path": name },
            "canals": [{ "name": "MB", "trace_px": [[20, 10], [22, 20], [24, depth]] }],
        });
        std::fs::write(case_beside(film), case.to_string()).unwrap();
    }
    let (code, second) = measure(&[]);
    assert_eq!(code, Some(1), "one was refused");
    assert_eq!(
        (&second["fetched"], &second["studies"]),
        (&0.into(), &3.into())
    );
    assert_eq!(second["measured"].as_array().unwrap().len(), 1);
    let length_px = &second["measured"][0]["canals"][0]["curved_length_px"];
    // Three points in line.
    let straight = 416.0_f64.sqrt();
    let found = length_px.as_f64().unwrap();
    assert!((found - straight).abs() < 1e-3, "{found}");
    let refused = second["refused"].as_array().unwrap();
    assert_eq!(refused.len(), 1);
    assert_eq!(refused[0]["case"].as_str(), case_beside(&here[1]).to_str());
    assert_eq!(second["without_case"][0].as_str(), here[2].to_str());

    let pattern = folder.path().join("{}.html");
    let (code, printed, said) = run(&[
        "report",
        "--patient",
        "Zzyz*",
        "--out",
        pattern.to_str().unwrap(),
    ]);
    assert_eq!(code, Some(1), "{said}");
    assert!(
        printed.contains("3 studies, 3 films (0 fetched, 3 here before): 1 records written, 1 refused, 1 films without a case"),
        "{printed}"
    );
    let record = stem(&here[0]) + ".html";
    let record = folder.path().join(record);
    let html = std::fs::read_to_string(record).unwrap();
    assert!(html.contains("MB") && !html.contains("Zzyzx"));
    for path in &here {
        let bytes = std::fs::read(path).unwrap();
        assert!(!bytes.windows(5).any(|part| part == b"Zzyzx"));
    }
}
