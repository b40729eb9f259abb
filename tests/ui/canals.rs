//! Several canals of one tooth: names, lengths side by side, one note.

use egui::{Key, Modifiers};
use lengthfilm::desktop::StartWith;

use crate::desk::Desk;

fn demo() -> Desk {
    Desk::start(Some(StartWith::Demo), None)
}

#[test]
fn a_new_canal_is_named_by_typing_or_by_one_click() {
    let mut desk = demo();
    desk.key(Modifiers::COMMAND, Key::N);
    assert_eq!(desk.focused_label().as_deref(), Some("Canal name"));
    desk.type_text("ML");
    assert_eq!(
        desk.case().canals[1].name,
        "ML",
        "the default is typed over"
    );
    desk.key(Modifiers::COMMAND, Key::N);
    assert!(!desk.says("Name it ML"), "taken");
    desk.click("Name it D");
    assert_eq!(desk.case().canals[2].name, "D");
}

#[test]
fn canals_stand_side_by_side_with_their_working_lengths() {
    let mut desk = demo();
    assert!(desk.says("Work on MB, working length "));
    assert!(!desk.says("Turn to MB"), "no table of one");
    desk.key(Modifiers::COMMAND, Key::N);
    desk.type_text("ML");
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(desk.says("MB, working length: "));
    assert!(desk.says("ML, working length: –"));
    assert!(desk.says("Tip to apex: not known yet"));
    desk.click("Turn to MB");
    assert!(desk.says("mm short of the apex"));
}

#[test]
fn the_note_names_all_canals_and_can_be_read_before_it_is_copied() {
    let mut desk = demo();
    desk.type_into("Who measures", "A. Reader");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.bring_into_sight("Chart note: hidden");
    desk.click("Chart note: hidden");
    assert!(desk.says("measured by A. Reader"), "the note is shown");
    desk.click("Copy chart note");
    let copied = desk.copied().expect("copied").to_owned();
    assert!(copied.contains("measured by A. Reader"), "{copied}");
    assert!(desk.texts().contains(&copied), "word for word");
    assert_eq!(
        desk.app().preferences().observer,
        "A. Reader",
        "for the next film"
    );
}
