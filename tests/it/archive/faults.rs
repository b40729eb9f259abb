//! What goes wrong, each with its own line and in its own time.

use std::io::Write;
use std::path::Path;
use std::process::Command as Process;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use assert_cmd::Command;
use dicom_dictionary_std::tags;
use lengthfilm::archive::{
    self, Fault, FilmsFolder, FindEnd, Keep, Settings, StudyQuery, Watch, Way,
};

use super::misbehaving::{Fake, answer, archive_of_studies, asked, study};
use super::servers::{dcmqrscp, free_port, settings};
use super::{PLANTED, find, get, put_one, quietly, write_film};

fn echo_fault(settings: &Settings) -> Fault {
    let error = quietly(|watch| archive::echo(settings, watch)).unwrap_err();
    let line = error.to_string();
    let at = settings.at.to_string();
    assert!(line.starts_with(&at) && !line.contains('\n'), "{line}");
    error.fault
}

#[test]
fn nobody_there_the_wrong_title_and_an_unwilling_archive_are_told_apart() {
    assert!(matches!(
        echo_fault(&settings(free_port())),
        Fault::Unreachable(_)
    ));
    let fake = Fake::start(|mut peer| while asked(&mut peer).is_some() {});
    let mut wrong = fake.settings.clone();
    wrong.at.title = "SOMEBODY".parse().unwrap();
    let fault = echo_fault(&wrong);
    let Fault::Refused(why) = fault else {
        panic!("{fault}")
    };
    assert!(why.contains("another title"), "{why}");
}

#[test]
fn a_silent_archive_is_given_up_after_the_time_allowed() {
    let fake = Fake::start(|mut peer| {
        asked(&mut peer);
        std::thread::sleep(Duration::from_secs(3));
    });
    let mut hasty = fake.settings.clone();
    hasty.answer_timeout_s = 1;
    let begun = Instant::now();
    assert!(matches!(echo_fault(&hasty), Fault::Timeout { seconds: 1 }));
    assert!(begun.elapsed() < Duration::from_millis(2500));
}

#[test]
fn what_is_no_dicom_is_said_to_be_none() {
    // Another service, noise, an answer cut short, a length that lies.
    let replies: [&[u8]; 6] = [
        b"HTTP/1.1 400 Bad Request\r\n\r\n",
        &[0xFF; 64],
        &[2, 0, 0, 0, 0, 200, 1, 2, 3],
        &[2, 0, 0xFF, 0xFF, 0xFF, 0xFF],
        &[4, 0, 0, 0, 0, 6, 0, 0, 0, 0, 1, 3],
        &[4, 0, 0, 0, 0, 7, 0, 0, 0, 1, 1, 3, 0],
    ];
    for reply in replies {
        let fake = Fake::raw(0, move |mut socket| {
            let _ = socket.write_all(reply);
        });
        let mut hasty = fake.settings.clone();
        hasty.answer_timeout_s = 2;
        let fault = echo_fault(&hasty);
        let told = matches!(
            fault,
            Fault::Malformed(_) | Fault::Broken | Fault::Timeout { .. } | Fault::Silent
        );
        assert!(told, "{reply:?}: {fault}");
    }
}

/// A command full of noise after a good beginning.
#[test]
fn noise_in_place_of_an_answer_is_malformed() {
    use dicom_ul::Pdu;
    use dicom_ul::pdu::{PDataValue, PDataValueType};
    for seed in 0..20_u8 {
        let fake = Fake::start(move |mut peer| {
            let Some(request) = asked(&mut peer) else {
                return;
            };
            let noise = (0..120_u8).map(|i| i.wrapping_mul(37).wrapping_add(seed * 11));
            let _ = peer.send(&Pdu::PData {
                data: vec![PDataValue {
                    presentation_context_id: request.context,
                    value_type: PDataValueType::Command,
                    is_last: true,
                    data: noise.collect(),
                }],
            });
            let _ = asked(&mut peer);
        });
        let fault = echo_fault(&fake.settings);
        assert!(matches!(fault, Fault::Malformed(_)), "{seed}: {fault}");
    }
}

#[test]
fn a_long_list_comes_study_by_study_and_can_be_left() {
    const MANY: usize = 10_000;
    let fake = archive_of_studies(MANY);
    let begun = Instant::now();
    let (mut first, mut count) = (None, 0);
    let mut each = |_| {
        first.get_or_insert_with(|| begun.elapsed());
        count += 1;
        true
    };
    let query = StudyQuery::default();
    let end = quietly(|watch| archive::find_studies(&fake.settings, &query, &mut each, watch));
    assert_eq!((end.unwrap(), count), (FindEnd::Complete, MANY));
    println!(
        "the first of {MANY} studies after {first:?}, all after {:?}",
        begun.elapsed()
    );
    assert!(first.unwrap() < Duration::from_secs(1), "{first:?}");

    let mut seen = 0;
    let mut each = |_| {
        seen += 1;
        seen < 100
    };
    let end = quietly(|watch| archive::find_studies(&fake.settings, &query, &mut each, watch));
    assert_eq!((end.unwrap(), seen), (FindEnd::Enough, 100));

    // Stopped from outside in the middle of a list.
    let cancel = AtomicBool::new(false);
    let watch = Watch {
        progress: &|done, _| cancel.store(done > 50, Ordering::Relaxed),
        cancel: &cancel,
    };
    let error = archive::find_studies(&fake.settings, &query, &mut |_| true, &watch).unwrap_err();
    assert!(matches!(error.fault, Fault::Cancelled), "{error}");
}

#[test]
fn a_list_that_breaks_off_keeps_what_came_and_says_so() {
    let fake = Fake::start(|mut peer| {
        if let Some(request) = asked(&mut peer) {
            for number in 0..3 {
                answer(&mut peer, &request, 0xFF00, Some(&study(number)));
            }
        }
    });
    let mut seen = 0;
    let mut each = |_| {
        seen += 1;
        true
    };
    let query = StudyQuery::default();
    let end = quietly(|watch| archive::find_studies(&fake.settings, &query, &mut each, watch));
    let error = end.unwrap_err();
    assert!(matches!(error.fault, Fault::Broken), "{error}");
    assert_eq!(seen, 3);
    assert!(!error.to_string().contains("Zzyzx"));
}

#[test]
fn an_archive_without_room_says_so_and_may_be_tried_again() {
    let fake = Fake::start(|mut peer| {
        while let Some(request) = asked(&mut peer) {
            answer(&mut peer, &request, 0xA700, None);
        }
    });
    let folder = tempfile::tempdir().unwrap();
    let error = put_one(&fake.settings, &write_film(folder.path(), 1)).unwrap_err();
    assert!(error.to_string().contains("no room there"), "{error}");
    assert!(error.is_temporary());
}

/// An archive that is killed while it is used, and started again.
#[test]
fn an_archive_that_is_stopped_leaves_a_clear_line() {
    let Some(mut server) = dcmqrscp(&[]) else {
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let film = write_film(folder.path(), 2);
    put_one(&server.settings, &film).unwrap();
    server.kill();
    let error = find(&server.settings, &StudyQuery::default()).unwrap_err();
    assert!(matches!(error.fault, Fault::Unreachable(_)), "{error}");
    let mut films = FilmsFolder::new(&folder.path().join("out"), Keep::default()).unwrap();
    let error = get(&server.settings, "1.2.3", &mut films, Way::Either).unwrap_err();
    assert!(matches!(error.fault, Fault::Unreachable(_)), "{error}");
    assert!(films.written.is_empty());
}

fn lengthfilm(home: &Path) -> Command {
    let mut command = Command::cargo_bin("lengthfilm").unwrap();
    command.env("LENGTHFILM_HOME", home);
    command
}

#[test]
fn commands_answer_in_json_and_with_their_exit_codes() {
    let home = tempfile::tempdir().unwrap();
    let fake = Fake::start(|mut peer| {
        while let Some(request) = asked(&mut peer) {
            if request.word(tags::COMMAND_FIELD) == 0x0020 {
                answer(&mut peer, &request, 0xFF00, Some(&study(0)));
            }
            answer(&mut peer, &request, 0x0000, None);
        }
    });
    let at = fake.settings.at.to_string();
    let json = |arguments: &[&str]| -> serde_json::Value {
        let output = lengthfilm(home.path())
            .arg("archive")
            .args(arguments)
            .args(["--at", &at, "--aet", "STATION", "--json"])
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(output.status.success(), "{arguments:?}: {said}");
        serde_json::from_slice(&output.stdout).unwrap()
    };
    assert_eq!(json(&["echo"])["answers"], true);
    let found = json(&["find", "--patient", "Z*", "--date", "2026-03-14"]);
    assert_eq!(found["studies"][0]["patient_name"], PLANTED);
    assert_eq!(found["studies"][0]["study_date"], "2026-03-14");
    assert_eq!(found["warnings"], serde_json::json!([]));
    let film = write_film(home.path(), 3);
    let stored = json(&["put", film.to_str().unwrap()]);
    assert_eq!(stored["stored"].as_array().unwrap().len(), 1);

    let refused = |arguments: &[&str], code: i32| {
        let output = lengthfilm(home.path())
            .arg("archive")
            .args(arguments)
            .output()
            .unwrap();
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {said}");
        assert!(output.stdout.is_empty());
        said
    };
    refused(&["echo", "--at", "no address"], 2);
    refused(&["get", "--at", &at], 2);
    refused(&["find", "--at", &at, "--date", "yesterday"], 2);
    let nobody = format!("CLINIC@127.0.0.1:{}", free_port());
    for arguments in [
        &["echo", "--at", &nobody][..],
        &["echo"],
        &["put", "absent.dcm", "--at", &at],
        &["put", "/etc/hostname", "--at", &at],
        &["echo", "--at", &at, "--timeout", "0"],
        &["echo", "--at", &at, "--tls-certificate", "absent.pem"],
    ] {
        let said = refused(arguments, 1);
        assert_eq!(said.lines().count(), 1, "{arguments:?}: {said}");
        assert!(!said.contains("Zzyzx"));
    }
}

/// Nothing but what was asked for is left behind, and nothing that names the
/// patient.
#[test]
fn a_planted_identity_is_in_no_file_and_in_no_message() {
    let Some(server) = dcmqrscp(&[]) else { return };
    let home = tempfile::tempdir().unwrap();
    let sent = tempfile::tempdir().unwrap();
    let film = write_film(sent.path(), 4);
    put_one(&server.settings, &film).unwrap();
    let at = server.settings.at.to_string();
    let run = |arguments: &[&str]| {
        lengthfilm(home.path())
            .env("TMPDIR", home.path())
            .env("RUST_LOG", "trace")
            .current_dir(home.path())
            .arg("archive")
            .args(arguments)
            .args(["--at", &at])
            .output()
            .unwrap()
    };
    let put = run(&[
        "put",
        film.to_str().unwrap(),
        "--queue",
        "--file-under-study",
    ]);
    assert!(
        put.status.success(),
        "{}",
        String::from_utf8_lossy(&put.stderr)
    );
    let list = run(&["find", "--patient", "Zz*"]);
    let listed = String::from_utf8(list.stdout).unwrap();
    let said = String::from_utf8_lossy(&list.stderr);
    assert!(!listed.is_empty(), "nothing listed: {said}");
    let study = listed
        .split_whitespace()
        .last()
        .unwrap_or_default()
        .to_owned();
    let fetched = run(&["get", "--study", &study, "--out", "films"]);
    assert!(
        fetched.status.success(),
        "{}",
        String::from_utf8_lossy(&fetched.stderr)
    );
    for output in [&put, &fetched] {
        for stream in [&output.stdout, &output.stderr] {
            assert!(!String::from_utf8_lossy(stream).contains("Zzyzx"));
        }
    }
    let (mut folders, mut files) = (vec![home.path().to_owned()], 0);
    while let Some(folder) = folders.pop() {
        for entry in std::fs::read_dir(folder).unwrap().flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            files += 1;
            let bytes = std::fs::read(&path).unwrap();
            let named = bytes.windows(5).any(|w| w.eq_ignore_ascii_case(b"Zzyzx"));
            assert!(!named, "{}", path.display());
        }
    }
    assert!(files >= 2, "the film and the journal: {files}");
}

/// No room here: the reason is said, and no half film is left.
#[test]
fn a_full_disk_is_said_and_leaves_no_half_film() {
    let Some(server) = dcmqrscp(&[]) else { return };
    let folder = tempfile::tempdir().unwrap();
    let film = write_film(folder.path(), 5);
    put_one(&server.settings, &film).unwrap();
    let studies = find(&server.settings, &StudyQuery::default()).unwrap();
    // Files may grow to 4 KiB and no further; the signal is ignored.
    let output = Process::new("bash")
        .args(["-c", "trap '' XFSZ; ulimit -f 4; exec \"$@\"", "bash"])
        .arg(env!("CARGO_BIN_EXE_lengthfilm"))
        .args(["archive", "get", "--at", &server.settings.at.to_string()])
        .args(["--study", &studies[0].study_instance_uid, "--out"])
        .arg(folder.path().join("out"))
        .output()
        .unwrap();
    let said = String::from_utf8(output.stderr).unwrap();
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains("no room left"), "{said}");
    let left = std::fs::read_dir(folder.path().join("out"))
        .unwrap()
        .count();
    assert_eq!(left, 0, "nothing half written");
}
