//! Choosing files in the window itself.

use egui::{Key, Modifiers};
use lengthfilm::case;

use crate::desk::{Desk, write_film};

/// A film with something on it that can be saved.
fn begun(folder: &std::path::Path) -> Desk {
    let film = write_film(folder, "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.click_film(600.0, 100.0);
    desk
}

#[test]
fn ctrl_s_saves_beside_the_film_under_the_name_typed() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = begun(folder.path());
    desk.key(Modifiers::COMMAND, Key::S);
    assert!(desk.says("Save the case"));
    assert!(desk.says("Name of the file"));
    assert_eq!(desk.focused_label().as_deref(), Some("Name of the file"));
    desk.key(Modifiers::COMMAND, Key::A);
    desk.type_text("molar");
    desk.key(Modifiers::NONE, Key::Enter);
    let written = folder.path().join("molar.case.json");
    desk.wait_until("Saved as");
    assert_eq!(&case::load(&written).expect("a case"), desk.case());
    assert!(!desk.says("Save the case"), "the chooser has gone");

    // Again: straight into the same file.
    desk.click_film(600.0, 900.0);
    desk.key(Modifiers::COMMAND, Key::S);
    assert!(!desk.says("Save the case"));
    assert_eq!(&case::load(&written).expect("a case"), desk.case());
}

#[test]
fn what_is_there_is_replaced_only_when_one_says_so() {
    let folder = tempfile::tempdir().expect("a folder");
    let there = folder.path().join("mine.case.json");
    std::fs::write(&there, "mine").expect("writes");
    let mut desk = begun(folder.path());
    desk.key(Modifiers::COMMAND, Key::S);
    desk.key(Modifiers::COMMAND, Key::A);
    desk.type_text("mine");
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(desk.says("is there already. Replace it?"));
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("Replace it?"));
    assert!(
        desk.says("Save the case"),
        "Escape gives up the question alone"
    );
    assert_eq!(std::fs::read(&there).expect("stays"), b"mine");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.click_button("Replace");
    desk.wait_until("Saved as");
    assert!(case::load(&there).is_ok());
}

#[test]
fn keys_alone_find_a_film_in_another_folder() {
    let folder = tempfile::tempdir().expect("a folder");
    let below = folder.path().join("series");
    std::fs::create_dir(&below).expect("made");
    write_film(&below, "second.png", 700, 700);
    std::fs::write(below.join("notes.txt"), "no film").expect("writes");
    let film = write_film(folder.path(), "first.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.key(Modifiers::COMMAND, Key::O);
    desk.wait_until("Folder: series");
    assert!(desk.says("File: first.png"));
    desk.key(Modifiers::NONE, Key::ArrowDown);
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until("File: second.png");
    assert!(!desk.says("notes.txt"), "no film");
    desk.key(Modifiers::NONE, Key::Backspace);
    desk.wait_until("Folder: series");
    desk.type_text("se");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until("File: second.png");
    desk.type_text("sec");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until("Film opened");
    assert!(desk.case().film.path.ends_with("second.png"));
}

#[test]
fn escape_chooses_nothing_and_changes_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = begun(folder.path());
    let before = desk.case().clone();
    desk.key(Modifiers::COMMAND, Key::S);
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("Save the case"));
    assert_eq!(desk.case(), &before);
    assert!(desk.app().is_unsaved());
    let files = std::fs::read_dir(folder.path()).expect("listed").count();
    assert_eq!(files, 1, "the film alone");
}

#[test]
fn a_report_goes_into_a_folder_made_on_the_way() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = begun(folder.path());
    desk.click_film(600.0, 900.0);
    desk.key(Modifiers::COMMAND, Key::P);
    desk.click_button("New folder…");
    desk.type_text("reports");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until("reports");
    desk.click_button("Save here");
    desk.wait_until("Saved as");
    let written = folder.path().join("reports/length.pdf");
    let bytes = std::fs::read(&written).expect("written");
    assert!(bytes.starts_with(b"%PDF"));
}

/// Ctrl+S, and the letters after it in frames of the given numbers.
fn save_and_type(desk: &mut Desk, letters_per_frame: &[&str]) {
    let key = |pressed| egui::Event::Key {
        key: Key::S,
        physical_key: None,
        pressed,
        repeat: false,
        modifiers: Modifiers::COMMAND,
    };
    let mut frames = letters_per_frame.iter();
    let events = &mut desk.harness.input_mut().events;
    events.extend([key(true), key(false)]);
    for letters in frames.by_ref().take(1) {
        events.extend(letters.chars().map(|c| egui::Event::Text(c.to_string())));
    }
    desk.harness.step();
    for letters in frames {
        let events = &mut desk.harness.input_mut().events;
        events.extend(letters.chars().map(|c| egui::Event::Text(c.to_string())));
        desk.harness.step();
    }
    desk.settle();
}

#[test]
fn what_is_typed_right_after_ctrl_s_is_the_name_and_never_the_film_s() {
    for frames in [
        ["tooth 36", "", "", ""],
        ["", "tooth 36", "", ""],
        ["to", "oth", " 3", "6"],
        ["", "", "tooth 36", ""],
    ] {
        let folder = tempfile::tempdir().expect("a folder");
        let mut desk = begun(folder.path());
        let before = desk.case().clone();
        save_and_type(&mut desk, &frames);
        desk.key(Modifiers::NONE, Key::Enter);
        desk.wait_until("Saved as");
        let written = folder.path().join("tooth 36.case.json");
        assert!(written.is_file(), "{frames:?}");
        assert_eq!(desk.case().canals, before.canals, "{frames:?}");
        assert_eq!(desk.case().scale, before.scale, "{frames:?}");
    }
}

#[test]
fn what_is_typed_right_after_the_key_of_the_command_list_looks_for_a_command() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = begun(folder.path());
    let events = &mut desk.harness.input_mut().events;
    events.push(egui::Event::Key {
        key: Key::F1,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers: Modifiers::NONE,
    });
    events.push(egui::Event::Text("Print".to_owned()));
    desk.harness.step();
    desk.settle();
    assert!(desk.says("Print report"));
    assert!(!desk.says("Open demo"), "the list is narrowed");
}
