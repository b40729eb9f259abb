//! The archive's page: set up, searched, fetched from, sent to, against an
//! archive that others wrote and one of our own with a long list.

#[allow(dead_code, reason = "shared with other tests")]
#[path = "../it/archive/misbehaving.rs"]
mod misbehaving;
#[allow(dead_code, reason = "shared with other tests")]
#[path = "../it/archive/servers.rs"]
mod servers;

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use dicom_dictionary_std::tags;
use egui::{Key, Modifiers};
use lengthfilm::archive::{self, PartTen, Settings, Watch};
use lengthfilm::desktop::{RecordKind, Setup};
use lengthfilm::film::dicom::{IntraOralFilm, write_intra_oral};
use lengthfilm::film::{self, OpenLimits};
use lengthfilm::film::{Film, Polarity};
use lengthfilm::tooth::{ToothNotation, ToothNumber};

use crate::desk::Desk;
use misbehaving::{Fake, answer, asked, study};

/// The name of nobody, looked for in everything that is written.
const PLANTED: &str = "Zzyzx^Quillon";

/// Runs `work` with a watch that nobody looks at.
fn quietly<T>(work: impl FnOnce(&Watch) -> T) -> T {
    let cancel = AtomicBool::new(false);
    work(&Watch {
        progress: &|_, _| {},
        cancel: &cancel,
    })
}

/// The page, with a data folder that holds what the test has put there.
fn open_page(home: &Path) -> Desk {
    let setup = Setup {
        data_folder: Some(home.to_owned()),
        ..Setup::default()
    };
    let mut desk = Desk::start_as(setup, 0.25);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::F);
    desk
}

fn set_up(home: &Path, settings: &Settings) {
    settings.save(&home.join("archive.json")).expect("written");
}

/// A film of the planted patient.
fn write_film(folder: &Path, seed: u64) -> PathBuf {
    let (width, height) = (400, 500);
    let sample = |i: u32| i.wrapping_mul(40_503).wrapping_add(seed as u32 * 977) as u16;
    let samples = (0..width * height).map(sample);
    let film = Film::from_samples(width, height, 16, Polarity::HighIsOpaque, samples.collect());
    let facts = IntraOralFilm {
        imager_pixel_spacing_mm: [0.027, 0.027],
        source_to_detector_mm: Some(400.0),
        source_to_patient_mm: Some(390.0),
        estimated_magnification: None,
        tooth: ToothNumber::parse(ToothNotation::Fdi, "43").expect("a tooth"),
        phantom_name: PLANTED.to_owned(),
        seed,
    };
    let path = folder.join(format!("film-{seed}.dcm"));
    write_intra_oral(&path, &film.expect("counts fit"), &facts).expect("written");
    path
}

fn put(settings: &Settings, film: &Path) -> PartTen {
    let part = PartTen::read(film).expect("a film");
    let outcomes = quietly(|watch| archive::put(settings, vec![part], false, watch));
    assert!(
        outcomes.iter().all(|one| one.result.is_ok()),
        "{outcomes:?}"
    );
    PartTen::read(film).expect("a film")
}

/// Waits until nothing of the archive is under way and a text shows.
fn wait(desk: &mut Desk, text: &str) {
    let begun = Instant::now();
    loop {
        desk.settle();
        if desk.says(text) {
            return;
        }
        let late = begun.elapsed() > Duration::from_secs(60);
        assert!(!late, "{text:?} never shows: {:?}", desk.texts());
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// Names that stand in any file of a folder.
fn files_with_name(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            found.extend(files_with_name(&path));
        } else {
            let bytes = std::fs::read(&path).expect("reads");
            if bytes.windows(5).any(|w| w == b"Zzyzx") {
                found.push(path);
            }
        }
    }
    found
}

#[test]
fn without_an_archive_the_page_says_what_to_do_and_what_is_typed_wrong() {
    let home = tempfile::tempdir().expect("a folder");
    let mut desk = open_page(home.path());
    assert!(desk.says("No archive is set up yet"), "{:?}", desk.texts());
    assert!(desk.says("Everything else works without an archive"));
    desk.type_into("Archive's title", "CLINIC");
    desk.type_into("Archive's host", "127.0.0.1");
    desk.type_into("Archive's port", "99999");
    desk.click("Test connection");
    assert!(desk.says("Not done: Port: a whole number from 1 to 65535"));
    let port = servers::free_port();
    desk.type_into("Archive's port", &port.to_string());
    desk.click("Test connection");
    wait(&mut desk, "cannot be reached");
    assert!(!desk.says("No archive is set up yet"));
    let kept = Settings::load(&home.path().join("archive.json")).expect("kept");
    assert_eq!(kept.at.to_string(), format!("CLINIC@127.0.0.1:{port}"));
    desk.type_into("Study date", "14.3.2026");
    desk.click("Search");
    assert!(desk.says("Not done: Date: `14.3.2026`: write 2026-03-14"));
}

/// Found, fetched, measured, sent back: with an archive that others wrote. The
/// patient's name is on the screen, and in no file of ours.
#[test]
fn a_film_is_found_fetched_and_its_record_sent() {
    let Some(server) = servers::dcmqrscp(&[]) else {
        return;
    };
    let home = tempfile::tempdir().expect("a folder");
    let source = tempfile::tempdir().expect("a folder");
    let film = write_film(source.path(), 11);
    let sent = put(&server.settings, &film);
    set_up(home.path(), &server.settings);

    let mut desk = open_page(home.path());
    desk.click(&format!("Settings: {}: hidden", server.settings.at));
    desk.click("Test connection");
    wait(
        &mut desk,
        &format!("Archive: {} answers", server.settings.at),
    );
    desk.type_into("Patient's name", "Zzyz*");
    desk.click("Search");
    wait(&mut desk, "Archive: 1 study");
    let row = "Study 1: ";
    assert!(desk.says("Zzyzx, Quillon"), "{:?}", desk.texts());
    let name = desk.texts().into_iter().find(|text| text.starts_with(row));
    desk.click(&name.expect("a row"));
    wait(&mut desk, "Film 1: ");
    // Its small picture is there, and nothing of it on disk.
    wait(&mut desk, "Picture of film 1");
    assert!(!home.path().join("films").exists());
    assert_eq!(files_with_name(home.path()), Vec::<PathBuf>::new());
    desk.click("Open film 1");
    wait(&mut desk, "Film opened");
    // Without the patient's name, with the tooth.
    assert!(desk.says("its header says tooth 43"), "{:?}", desk.texts());
    let tooth = desk.case().tooth.as_ref().map(|tooth| &*tooth.number);
    assert_eq!(tooth, Some("43"));
    let uid = &sent.sop_instance_uid;
    let fetched = home.path().join("films").join(format!("{uid}.dcm"));
    let samples = |path: &Path| {
        let opened = film::open(path, &OpenLimits::default()).expect("a film");
        opened.film.samples().to_vec()
    };
    assert_eq!(samples(&fetched), samples(&film), "every sample");
    assert_eq!(files_with_name(home.path()), Vec::<PathBuf>::new());

    // A record of nothing goes nowhere.
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::F);
    desk.click("Send record of the open case");
    wait(&mut desk, "nothing is marked on the film yet");
    assert!(desk.says("Nothing waits to be sent"));
    desk.key(Modifiers::NONE, Key::Escape);

    // A case on it, and its record.
    desk.click_film(200.0, 50.0);
    desk.click_film(200.0, 400.0);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::F);
    desk.click("Send record of the open case");
    wait(&mut desk, "Archive: 1 object sent");
    assert!(desk.says("Nothing waits to be sent"));
    let study = sent.study_instance_uid.expect("a study");
    let films = quietly(|watch| archive::find_films(&server.settings, &study, watch));
    assert_eq!(films.expect("listed").len(), 1, "a record is no film");
    // Filed in the film's own study, under the patient's name: the archive holds
    // both, each in a file of its own beside its index.
    let mut held = files_with_name(server.folder.path());
    held.retain(|path| path.file_name().is_some_and(|name| name != "index.dat"));
    assert_eq!(held.len(), 2, "film and record: {held:?}");
    for path in held {
        let part = PartTen::read(&path).expect("an object");
        assert_eq!(part.study_instance_uid.as_ref(), Some(&study));
    }
    assert_eq!(files_with_name(home.path()), Vec::<PathBuf>::new());

    // The name is kept where that is ticked, in a file of its own.
    desk.click("Keep names in the file");
    desk.click("Open film 1");
    desk.settle();
    let begun = Instant::now();
    while files_with_name(home.path()).is_empty() {
        assert!(
            begun.elapsed() < Duration::from_secs(30),
            "{:?}",
            desk.texts()
        );
        std::thread::sleep(Duration::from_millis(20));
        desk.settle();
    }
    let named = files_with_name(home.path());
    let expected = home
        .path()
        .join("films/with-identity")
        .join(format!("{uid}.dcm"));
    assert_eq!(named, vec![expected]);
}

/// An archive that is away: the record waits and is listed with the reason, in
/// a program started anew as well; one that answers nothing changes nothing.
#[test]
fn what_cannot_be_sent_waits_with_its_reason() {
    let Some(mut server) = servers::dcmqrscp(&[]) else {
        return;
    };
    let home = tempfile::tempdir().expect("a folder");
    let source = tempfile::tempdir().expect("a folder");
    let film = write_film(source.path(), 12);
    put(&server.settings, &film);
    set_up(home.path(), &server.settings);
    let settings = server.settings.clone();
    server.kill();

    let setup = Setup {
        start: Some(lengthfilm::desktop::StartWith::Film(film)),
        data_folder: Some(home.path().to_owned()),
        ..Setup::default()
    };
    let mut desk = Desk::start_as(setup, 0.25);
    desk.click_film(200.0, 50.0);
    desk.click_film(200.0, 400.0);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::F);
    desk.click("Send record of the open case");
    wait(&mut desk, "Waiting to be sent: 1");
    assert!(desk.says("cannot be reached"), "{:?}", desk.texts());
    assert_eq!(files_with_name(home.path()), Vec::<PathBuf>::new());
    drop(desk);

    let queue = archive::Queue::open(&home.path().join("archive-queue")).expect("opens");
    assert_eq!(queue.entries().expect("read").len(), 1);
    let mut desk = open_page(home.path());
    assert!(desk.says("Waiting to be sent: 1"));
    assert!(desk.says("cannot be reached"), "the reason was kept");
    let fake = Fake::on(settings.at.port, |mut peer| {
        let _ = asked(&mut peer);
    });
    desk.click("Send what waits");
    desk.settle();
    assert!(desk.says("0 objects sent, 1 waiting"), "{:?}", desk.texts());
    assert!(desk.says("Waiting to be sent: 1"), "nothing was confirmed");
    drop(fake);
}

/// 10,000 studies: the first is shown while the others arrive, no frame waits
/// for the list, only rows in sight are made, and it can be stopped.
#[test]
fn a_long_list_holds_nothing_up() {
    const MANY: usize = 10_000;
    let fake = Fake::start(|mut peer| {
        while let Some(request) = asked(&mut peer) {
            if request.word(tags::COMMAND_FIELD) == 0x0FFF {
                continue;
            }
            for number in 0..MANY {
                if !answer(&mut peer, &request, 0xFF00, Some(&study(number))) {
                    return;
                }
            }
            answer(&mut peer, &request, 0x0000, None);
        }
    });
    let home = tempfile::tempdir().expect("a folder");
    set_up(home.path(), &fake.settings);
    let mut desk = open_page(home.path());
    desk.click("Search");
    wait(&mut desk, &format!("Archive: {MANY} studies"));
    let rows = desk
        .texts()
        .iter()
        .filter(|text| text.starts_with("Study "))
        .count();
    assert!((5..=60).contains(&rows), "{rows} rows are made");
    let mut slowest = Duration::ZERO;
    for _ in 0..20 {
        let begun = Instant::now();
        desk.harness.step();
        slowest = slowest.max(begun.elapsed());
    }
    println!("slowest frame with {MANY} studies: {slowest:?}");
    assert!(slowest < Duration::from_millis(250), "{slowest:?}");
}

/// A record just saved is sent on with one click, and filed under its film's
/// study.
#[test]
fn a_record_is_sent_right_after_it_was_saved() {
    let Some(server) = servers::dcmqrscp(&[]) else {
        return;
    };
    let home = tempfile::tempdir().expect("a folder");
    let source = tempfile::tempdir().expect("a folder");
    let film = write_film(source.path(), 13);
    let sent = put(&server.settings, &film);
    set_up(home.path(), &server.settings);
    let setup = Setup {
        start: Some(lengthfilm::desktop::StartWith::Film(film)),
        data_folder: Some(home.path().to_owned()),
        ..Setup::default()
    };
    let mut desk = Desk::start_as(setup, 0.25);
    desk.click_film(200.0, 50.0);
    desk.click_film(200.0, 400.0);
    assert!(
        !desk.says("Send record to the archive"),
        "nothing is saved yet"
    );
    desk.save_record_to(RecordKind::Pdf, &source.path().join("a.pdf"));
    assert!(desk.says("Saved as "));
    desk.click_button("Send record to the archive");
    wait(&mut desk, "Archive: 1 object sent");
    assert!(desk.says("Nothing waits to be sent"));
    let mut held = files_with_name(server.folder.path());
    held.retain(|path| path.file_name().is_some_and(|name| name != "index.dat"));
    assert_eq!(held.len(), 2, "film and record: {held:?}");
    let studies = held
        .iter()
        .map(|path| PartTen::read(path).expect("an object"));
    assert!(
        studies
            .map(|part| part.study_instance_uid)
            .all(|study| study == sent.study_instance_uid)
    );
    // Back on the film, the next thing done takes the offer away.
    desk.key(Modifiers::NONE, Key::Escape);
    desk.click_film(200.0, 200.0);
    assert!(!desk.says("Send record to the archive"));
}
