//! The first screen, work left behind, and films that come by themselves.

use egui::{Key, Modifiers};
use lengthfilm::desktop::{Preferences, Setup, StartWith};

use crate::desk::{Desk, write_film};

#[test]
fn the_first_screen_says_what_to_do_and_the_demo_is_one_click_away() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "lately.png", 700, 700);
    let preferences = Preferences {
        recent: vec![film],
        ..Preferences::default()
    };
    let setup = Setup {
        start: Some(StartWith::Welcome),
        preferences,
        ..Setup::default()
    };
    let mut desk = Desk::start_as(setup, 0.25);
    for offered in [
        "Open a film or a case…",
        "Try the demo case",
        "lately.png",
        "drop a film",
    ] {
        assert!(desk.says(offered), "{offered}");
    }
    assert_eq!(
        desk.focused_label().as_deref(),
        Some("Open a film or a case…")
    );
    desk.click("Try the demo case");
    assert!(!desk.says("Try the demo case"));
    assert!(!desk.case().canals.is_empty());
    assert_eq!(desk.clicks, 1);
}

#[test]
fn a_recent_film_is_one_click_away() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "lately.png", 700, 700);
    let setup = Setup {
        start: Some(StartWith::Welcome),
        preferences: Preferences {
            recent: vec![film],
            ..Preferences::default()
        },
        ..Setup::default()
    };
    let mut desk = Desk::start_as(setup, 0.25);
    desk.click("lately.png");
    desk.wait_until("Film opened");
    assert!(desk.case().film.path.ends_with("lately.png"));
}

#[test]
fn work_left_behind_is_named_with_its_film_and_time() {
    let folder = tempfile::tempdir().expect("a folder");
    let recovery = folder.path().join("recovery");
    let film = write_film(folder.path(), "tooth-46.png", 1200, 1250);
    {
        let start = Some(StartWith::Film(film));
        let mut desk = Desk::start(start, Some(recovery.clone()));
        desk.click_film(600.0, 100.0);
        // Dropped without `close`: a crash.
    }
    let desk = Desk::start(None, Some(recovery));
    let texts = desk.texts();
    let told = texts.iter().find(|text| text.contains("tooth-46.png"));
    let told = told.expect("the film is named");
    assert!(told.contains("not saved yet, kept 20"), "{told}");
}

/// Starts on a film with a watched folder.
fn watching(folder: &std::path::Path) -> Desk {
    let film = write_film(folder, "first.png", 700, 700);
    let setup = Setup {
        start: Some(StartWith::Film(film)),
        preferences: Preferences {
            watched_folder: Some(folder.to_owned()),
            ..Preferences::default()
        },
        ..Setup::default()
    };
    Desk::start_as(setup, 0.25)
}

#[test]
fn a_film_that_comes_into_the_watched_folder_opens_itself() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = watching(folder.path());
    // What lay there before is not new.
    assert!(desk.case().film.path.ends_with("first.png"));
    write_film(folder.path(), "second.png", 800, 800);
    let begun = std::time::Instant::now();
    while !desk.case().film.path.ends_with("second.png") {
        assert!(begun.elapsed().as_secs() < 30, "it never opens");
        std::thread::sleep(std::time::Duration::from_millis(100));
        desk.settle();
    }
}

#[test]
fn beside_unsaved_work_a_new_film_is_offered_only() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = watching(folder.path());
    desk.click_film(300.0, 100.0);
    write_film(folder.path(), "second.png", 800, 800);
    desk.wait_until("New film: second.png");
    assert!(desk.case().film.path.ends_with("first.png"), "work stays");
    desk.key(Modifiers::COMMAND, Key::L);
    assert!(desk.says("This case is not saved"), "and is asked about");
    desk.click("Go on without saving");
    desk.wait_until("Film opened");
    assert!(desk.case().film.path.ends_with("second.png"));
    assert!(!desk.says("New film: "));
}

/// The keys beside the ways to begin do what they say.
#[test]
fn the_ways_to_begin_are_taken_by_their_keys() {
    let welcome = || {
        let setup = Setup {
            start: Some(StartWith::Welcome),
            ..Setup::default()
        };
        Desk::start_as(setup, 0.25)
    };
    for (modifiers, key, shows) in [
        (Modifiers::COMMAND, Key::O, "Open a film or a case"),
        (Modifiers::COMMAND, Key::D, "This is the demo case"),
        (
            Modifiers::COMMAND | Modifiers::SHIFT,
            Key::L,
            "New films from a folder",
        ),
    ] {
        let mut desk = welcome();
        assert!(desk.says("Try the demo case"));
        desk.key(modifiers, key);
        assert!(!desk.says("Try the demo case"), "{key:?}");
        assert!(desk.says(shows), "{key:?}: {:?}", desk.texts());
    }
    // What is no way to begin waits until one has begun.
    let mut desk = welcome();
    desk.key(Modifiers::NONE, Key::T);
    assert!(desk.says("Try the demo case"));
}
