//! Opening, saving, reopening, recovering, and files that are no good.

use egui::{Key, Modifiers};
use lengthfilm::case;
use lengthfilm::desktop::StartWith;

use crate::desk::{Desk, Dropped, write_film};

#[test]
fn what_is_saved_comes_back_the_same() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "film.png", 1200, 1250);
    let case_path = folder.path().join("tooth.case.json");
    let mut desk = Desk::with_film(&film);
    desk.click_film(600.0, 100.0);
    desk.click_film(600.0, 900.0);
    desk.type_text("20");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.click_film(600.0, 956.0);
    assert!(desk.app().is_unsaved());

    desk.save_to(&case_path);
    assert!(!desk.app().is_unsaved());
    assert!(desk.says("Saved as"));
    let written = case::load(&case_path).expect("a case file");
    assert_eq!(&written, desk.case());
    assert_eq!(
        written.film.path, "film.png",
        "films beside the case are named relatively"
    );
    assert!(written.film.sha256.is_some());

    let again = Desk::start(Some(StartWith::Case(case_path)), None);
    assert_eq!(again.case(), &written);
    assert!(again.says("Tip: 1.4 mm short of the apex"));
}

/// A case open in two windows, changed in both and saved in the first; the
/// second's save is begun.
fn second_of_two_windows(folder: &std::path::Path) -> (Desk, lengthfilm::case::Case) {
    let film = write_film(folder, "film.png", 1200, 1250);
    let path = folder.join("tooth.case.json");
    let mut first = Desk::with_film(&film);
    first.click_film(600.0, 100.0);
    first.save_to(&path);
    let mut second = Desk::start(Some(StartWith::Case(path.clone())), None);
    second.drag_film([600.0, 100.0], [500.0, 120.0]);
    first.drag_film([600.0, 100.0], [640.0, 100.0]);
    first.key(Modifiers::COMMAND, Key::S);
    assert!(!first.app().is_unsaved(), "its own file has not changed");
    second.key(Modifiers::COMMAND, Key::S);
    assert!(second.says("The case file has changed"));
    assert!(second.app().is_unsaved());
    assert_eq!(&case::load(&path).expect("whole"), first.case());
    let theirs = first.case().clone();
    (second, theirs)
}

#[test]
fn a_case_that_another_window_saved_is_kept_beside_ones_own() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut desk, theirs) = second_of_two_windows(folder.path());
    desk.click("Keep both: save mine beside it");
    assert!(desk.says("Saved as"));
    assert!(!desk.app().is_unsaved());
    let read = |name: &str| case::load(&folder.path().join(name)).expect("whole");
    assert_eq!(read("tooth.case.json"), theirs);
    assert_eq!(&read("tooth-2.case.json"), desk.case());
    // From now on this window works on its own file.
    desk.key(Modifiers::COMMAND, Key::Z);
    desk.key(Modifiers::COMMAND, Key::S);
    assert!(!desk.says("The case file has changed"));
    assert_eq!(&read("tooth-2.case.json"), desk.case());
}

#[test]
fn a_case_that_another_window_saved_is_replaced_only_when_asked() {
    let folder = tempfile::tempdir().expect("a folder");
    let (mut desk, theirs) = second_of_two_windows(folder.path());
    let read = || case::load(&folder.path().join("tooth.case.json")).expect("whole");
    desk.click("Stay here");
    assert_eq!(read(), theirs);
    assert!(desk.app().is_unsaved());
    desk.key(Modifiers::COMMAND, Key::S);
    desk.click("Replace it with mine");
    assert_eq!(&read(), desk.case());
    assert!(!desk.app().is_unsaved());
}

#[test]
fn a_changed_film_is_refused_in_plain_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "film.png", 1200, 1250);
    let case_path = folder.path().join("tooth.case.json");
    let mut desk = Desk::with_film(&film);
    desk.click_film(600.0, 100.0);
    desk.save_to(&case_path);
    write_film(folder.path(), "film.png", 600, 600);
    let again = Desk::start(Some(StartWith::Case(case_path)), None);
    assert!(again.says("the film has changed since"));
    assert!(again.app().case().is_none());
}

#[test]
fn a_film_replaced_while_it_is_open_is_noticed() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "film.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    write_film(folder.path(), "film.png", 700, 700);
    desk.wait_until("The film file has changed");
    desk.click("Keep the film shown");
    assert!(!desk.says("The film file has changed"));
}

#[test]
fn unsaved_work_survives_a_crash() {
    let folder = tempfile::tempdir().expect("a folder");
    let recovery = folder.path().join("recovery");
    let film = write_film(folder.path(), "film.png", 1200, 1250);
    let case = {
        let mut desk = Desk::start(Some(StartWith::Film(film)), Some(recovery.clone()));
        desk.click_film(600.0, 100.0);
        desk.click_film(600.0, 900.0);
        desk.settle();
        desk.case().clone()
        // Dropped without `close`: a crash.
    };
    let mut desk = Desk::start(None, Some(recovery.clone()));
    assert!(desk.says("A case was left unsaved"));
    desk.click("Restore it");
    assert_eq!(desk.case(), &case);
    assert!(desk.app().is_unsaved());
    // Restored and still unsaved: it must survive the next crash too.
    drop(desk);
    let desk = Desk::start(None, Some(recovery));
    assert!(desk.says("A case was left unsaved"));
}

#[test]
fn an_orderly_end_leaves_nothing_to_recover() {
    let folder = tempfile::tempdir().expect("a folder");
    let recovery = folder.path().join("recovery");
    let film = write_film(folder.path(), "film.png", 1200, 1250);
    let mut desk = Desk::start(Some(StartWith::Film(film)), Some(recovery.clone()));
    desk.click_film(600.0, 100.0);
    desk.close();
    let next = Desk::start(None, Some(recovery));
    assert!(!next.says("A case was left unsaved"));
}

#[test]
fn a_bad_file_is_an_error_in_the_window_and_loses_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "film.png", 1200, 1250);
    let bad = folder.path().join("bad.png");
    std::fs::write(&bad, b"this is no picture").expect("written");
    let mut desk = Desk::with_film(&film);
    desk.click_film(600.0, 100.0);
    desk.key(Modifiers::COMMAND, Key::Z);
    let before = desk.case().clone();

    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::O);
    desk.type_text(&bad.to_string_lossy());
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(desk.says("bad.png"), "the error names the file");
    assert_eq!(desk.case(), &before);
    desk.click("Dismiss");
    assert!(!desk.says("bad.png"));
}

#[test]
fn unsaved_work_is_asked_about_before_it_is_left() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "film.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.click_film(600.0, 100.0);
    let before = desk.case().clone();
    desk.key(Modifiers::COMMAND, Key::D);
    assert!(desk.says("This case is not saved"));
    desk.click("Stay here");
    assert_eq!(desk.case(), &before);
    desk.key(Modifiers::COMMAND, Key::D);
    desk.click("Go on without saving");
    assert_ne!(desk.case(), &before);
    assert!(desk.says("This is the demo case"));
}

#[test]
fn the_demo_can_be_saved_with_its_film_and_reopened() {
    let folder = tempfile::tempdir().expect("a folder");
    let case_path = folder.path().join("demo.case.json");
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.save_to(&case_path);
    let again = Desk::start(Some(StartWith::Case(case_path)), None);
    assert_eq!(again.case().canals, desk.case().canals);
}

#[test]
fn the_demo_film_takes_no_other_films_place() {
    let folder = tempfile::tempdir().expect("a folder");
    let case_path = folder.path().join("demo.case.json");
    let taken = folder.path().join("demo-film.png");
    std::fs::write(&taken, "mine").expect("writes");
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.save_to(&case_path);
    assert!(desk.says("another file has the name of the demo film"));
    assert_eq!(std::fs::read(&taken).expect("stays"), b"mine");
    assert!(!case_path.exists(), "no case without its film");
    std::fs::remove_file(&taken).expect("removed");
    desk.save_to(&case_path);
    desk.save_to(&case_path);
    assert!(
        case_path.exists() && taken.exists(),
        "saving again is no conflict"
    );
}

#[test]
fn the_welcome_page_offers_open_and_demo() {
    let mut desk = Desk::start(None, None);
    assert!(desk.says("Open film or case…"));
    desk.click("Open the demo case");
    assert!(!desk.case().canals.is_empty());
}

/// A film as large as one may be, which takes long enough to read.
#[test]
fn opening_a_large_film_is_stopped() {
    let folder = tempfile::tempdir().expect("a folder");
    let small = write_film(folder.path(), "small.png", 300, 300);
    let mut desk = Desk::with_film(&small);
    let large = folder.path().join("large.png");
    let mut file = std::fs::File::create(&large).expect("a file");
    std::io::Write::write_all(&mut file, b"\x89PNG\r\n\x1a\n").expect("written");
    file.set_len(1_600_000_000).expect("room for a hollow file");
    let dropped = std::sync::Arc::new(Dropped(large));
    desk.harness.input_mut().dropped_files.push(dropped);
    let begun = std::time::Instant::now();
    while !desk.says("Stop opening") {
        desk.harness.step();
        assert!(!desk.says("cannot"), "{:?}", desk.texts());
        assert!(begun.elapsed().as_secs() < 30, "{:?}", desk.texts());
    }
    assert!(desk.says("Opening the file: "));
    desk.click("Stop opening");
    assert!(desk.says("Opening stopped: nothing was changed"));
    assert!(desk.case().film.path.ends_with("small.png"));
    assert!(!desk.says("Stop opening"));
}
