//! What can be done at a place of the film, and what Escape gives up first.

use egui::{Key, Modifiers};
use lengthfilm::desktop::StartWith;
use lengthfilm::units::FilmPoint;

use crate::desk::{Desk, write_film};

#[test]
fn the_right_button_offers_what_can_be_done_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "film.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.right_click_film(700.0, 800.0);
    for offered in ["Apex here", "File tip here", "Reference point here"] {
        assert!(desk.says(offered), "{offered}");
    }
    desk.click_button("Apex here");
    let apex = desk.case().canals[0].apex_px.expect("placed");
    assert!(apex.distance_px(FilmPoint::new(700.0, 800.0)) < 1.0);
    assert!(!desk.says("Apex here"), "the menu has gone");

    desk.right_click_film(700.0, 800.0);
    desk.click_button("Delete Apex, Canal 1");
    assert_eq!(desk.case().canals[0].apex_px, None);
    desk.key(Modifiers::COMMAND, Key::Z);
    assert!(desk.case().canals[0].apex_px.is_some(), "undone");
}

#[test]
fn the_right_button_places_nothing_by_itself() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    let before = desk.case().clone();
    desk.key(Modifiers::NONE, Key::T);
    desk.right_click_film(300.0, 300.0);
    desk.key(Modifiers::NONE, Key::Escape);
    assert_eq!(desk.case(), &before);
}

#[test]
fn escape_shuts_the_menu_then_deselects_the_tool() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.key(Modifiers::NONE, Key::T);
    assert!(desk.says("click along the canal"));
    desk.right_click_film(300.0, 300.0);
    assert!(desk.says("Apex here"));
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("Apex here"), "first the menu");
    assert!(desk.says("click along the canal"), "the tool stays");
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("click along the canal"), "then the tool");
}

#[test]
fn escape_gives_a_field_back_before_it_deselects_the_tool() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    let length = |desk: &Desk| {
        let file = desk.case().canals[0].file.as_ref();
        file.and_then(|file| file.set_length_mm)
    };
    let before = length(&desk);
    desk.key(Modifiers::NONE, Key::T);
    desk.type_into("Set length", "25");
    assert_eq!(length(&desk), Some(25.0));
    desk.key(Modifiers::NONE, Key::Escape);
    assert_eq!(length(&desk), before, "first the field");
    assert!(desk.says("click along the canal"), "the tool stays");
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("click along the canal"), "then the tool");
}

#[test]
fn escape_shuts_a_dialog_and_leaves_the_tool() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.key(Modifiers::NONE, Key::T);
    desk.key(Modifiers::NONE, Key::F2);
    assert!(desk.says("may be a regulated medical device"));
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("may be a regulated medical device"));
    assert!(desk.says("click along the canal"));
}
