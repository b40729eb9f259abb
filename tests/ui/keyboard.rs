//! Everything without a mouse, and everything named.

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use lengthfilm::desktop::StartWith;

use crate::desk::{Desk, write_film};

#[test]
fn a_film_is_measured_with_keys_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "keys.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    // The film takes the keyboard; the cross is at its middle (600, 625).
    desk.key(Modifiers::NONE, Key::F);
    assert!(
        desk.focused_label()
            .is_some_and(|label| label.starts_with("Film, "))
    );
    for _ in 0..6 {
        desk.key(Modifiers::NONE, Key::ArrowUp);
    }
    desk.key(Modifiers::NONE, Key::Space);
    for _ in 0..10 {
        desk.key(Modifiers::NONE, Key::ArrowDown);
    }
    desk.key(Modifiers::NONE, Key::Space);
    assert_eq!(desk.focused_label().as_deref(), Some("Set length"));
    desk.type_text("21,5");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.key(Modifiers::NONE, Key::A);
    desk.key(Modifiers::NONE, Key::ArrowDown);
    desk.key(Modifiers::NONE, Key::Space);
    desk.key(Modifiers::NONE, Key::C);
    assert_eq!(desk.clicks, 0);
    let note = desk.copied().expect("a note");
    assert!(note.contains("file set at 21.5 mm"), "{note}");
    assert!(note.contains("short of the apex"), "{note}");
}

#[test]
fn every_command_is_in_the_list_that_f1_opens_and_runs_from_there() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.key(Modifiers::NONE, Key::F1);
    for name in [
        "Copy chart note",
        "Save as…",
        "Actual size (1:1)",
        "Delete point",
    ] {
        assert!(desk.says(name), "{name}");
    }
    assert_eq!(desk.focused_label().as_deref(), Some("Find a command"));
    desk.type_text("mirror");
    assert!(!desk.says("Delete point"), "the list is narrowed");
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("All commands and keys"));
}

#[test]
fn cautions_are_one_key_away() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.key(Modifiers::NONE, Key::F2);
    assert!(desk.says("One film is one projection"));
    assert!(desk.says("may be a regulated medical device"));
    desk.click("Close");
    assert!(!desk.says("may be a regulated medical device"));
}

#[test]
fn letters_typed_into_a_name_are_no_commands() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    let before = desk.case().canals[0].trace_px.clone();
    desk.harness
        .get_by_label("Reference point in words")
        .focus();
    desk.settle();
    desk.type_text("facet");
    assert_eq!(
        desk.case().canals[0].reference_name.as_deref(),
        Some("MB cuspfacet")
    );
    assert_eq!(desk.case().canals[0].trace_px, before);
    assert_eq!(desk.copied(), None);
}

#[test]
fn theme_and_text_size_are_kept_as_preferences() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.key(Modifiers::NONE, Key::F3);
    assert!(!desk.app().preferences().dark);
    desk.key(Modifiers::COMMAND, Key::Plus);
    desk.key(Modifiers::COMMAND, Key::Plus);
    assert!((desk.app().preferences().text_scale - 1.2).abs() < 1e-6);
}

#[test]
fn every_input_has_an_accessible_name() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.harness.check_accessibility();
    desk.key(Modifiers::NONE, Key::F1);
    desk.harness.check_accessibility();
}

#[test]
fn an_idle_window_asks_for_no_frame() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.settle();
    desk.harness.step();
    assert!(!desk.harness.ctx.has_requested_repaint());
}
