//! What is drawn on the film, and what stays where it is beside it.

use egui::{Key, Modifiers};
use lengthfilm::desktop::StartWith;
use serde_json::json;

use crate::desk::{Desk, write_film};

fn demo() -> Desk {
    Desk::start(Some(StartWith::Demo), None)
}

#[test]
fn one_key_hides_all_marks_while_it_is_held() {
    let mut desk = demo();
    let shapes = |desk: &Desk| desk.harness.output().shapes.len();
    let with_marks = shapes(&desk);
    desk.hold_key(Key::X, true);
    assert!(desk.says("marks hidden"));
    assert!(
        shapes(&desk) + 20 < with_marks,
        "{} {with_marks}",
        shapes(&desk)
    );
    desk.hold_key(Key::X, false);
    assert!(!desk.says("marks hidden"));
    assert_eq!(shapes(&desk), with_marks);
}

#[test]
fn a_construction_says_whose_it_is_and_goes_with_its_film() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "next.png", 1200, 1250);
    let mut desk = demo();
    desk.key(Modifiers::NONE, Key::K);
    let said = desk.texts();
    let drawn = said
        .iter()
        .find(|text| text.starts_with("Drawn on the film: Schneider"));
    assert!(drawn.is_some_and(|text| text.contains('°')), "{drawn:?}");

    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::O);
    desk.type_text(&film.to_string_lossy());
    desk.key(Modifiers::NONE, Key::Enter);
    desk.click_film(600.0, 100.0);
    assert!(!desk.says("Drawn on the film"));
}

#[test]
fn the_result_stays_in_sight_however_far_the_panel_is_scrolled() {
    let mut desk = demo();
    let before = desk.rect_of("Copy chart note");
    let tip = |desk: &Desk| {
        let texts = desk.texts();
        texts
            .into_iter()
            .find(|text| text.starts_with("Tip: "))
            .expect("an answer")
    };
    let place = desk.rect_of(&tip(&desk));
    desk.wheel(egui::pos2(1100.0, 500.0), -4000.0);
    assert_eq!(desk.rect_of(&tip(&desk)), place);
    assert_eq!(desk.rect_of("Copy chart note"), before);
}

#[test]
fn nothing_moves_under_the_mouse_while_a_film_is_measured() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    let watched = [
        "Set length",
        "Canal name",
        "Copy chart note",
        "Allowance",
        "Reference point in words",
        "Fit to window",
    ];
    let places = |desk: &Desk| watched.map(|name| (name, desk.rect_of(name)));
    let before = places(&desk);
    desk.click_film(600.0, 100.0);
    assert_eq!(places(&desk), before, "a stop");
    desk.click_film(600.0, 900.0);
    assert_eq!(places(&desk), before, "a tip");
    desk.type_text("20");
    desk.key(Modifiers::NONE, Key::Enter);
    assert_eq!(places(&desk), before, "a length");
    desk.click_film(600.0, 956.0);
    assert_eq!(places(&desk), before, "an apex");
}

#[test]
fn a_file_that_is_found_moves_no_field() {
    let mut desk = demo();
    let watched = ["Set length", "Canal name", "Reference point in words"];
    let places = |desk: &Desk| watched.map(|name| (name, desk.rect_of(name)));
    let before = places(&desk);
    desk.key(Modifiers::SHIFT, Key::F);
    desk.click_film(317.0, 600.0);
    assert!(desk.says("File line: assisted"));
    assert_eq!(places(&desk), before);
}

#[test]
fn lengths_at_the_detector_are_a_range() {
    let folder = tempfile::tempdir().expect("a folder");
    write_film(folder.path(), "film.png", 1200, 1250);
    let case = json!({
        "format": "lengthfilm-case", "version": 1,
        "film": {"path": "film.png", "pixel_pitch_mm": [0.025, 0.025]},
        "canals": [{"name": "MB", "reference_px": [600, 100],
                    "trace_px": [[600, 300], [600, 500], [600, 700], [600, 960]],
                    "file": {"set_length_mm": 20.0, "tip_px": [600, 900]},
                    "apex_px": [600, 960]}]
    });
    let path = folder.path().join("a.case.json");
    std::fs::write(&path, case.to_string()).expect("writes");
    let desk = Desk::start(Some(StartWith::Case(path)), None);
    // 60 px of 0.025 mm are 1.5 mm, and 15 % less is 1.275 mm.
    assert!(desk.says("Tip: 1.3–1.5 mm short of the apex"));
    assert!(desk.says("the true length is 0–15 % shorter"));
    assert!(!desk.says("Tip: 1.5 mm short of the apex"));
}

#[test]
fn a_line_being_drawn_has_no_apex_yet() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.click_film(600.0, 100.0);
    desk.click_film(600.0, 900.0);
    desk.type_text("20");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.key(Modifiers::NONE, Key::T);
    for y in [300.0, 450.0, 600.0] {
        desk.click_film(600.0, y);
    }
    assert!(
        !desk.says("beyond the apex"),
        "the file's tip is not beyond a line's end"
    );
    assert!(desk.says("Tip to apex: not known yet"));
}

#[test]
fn distance_and_angle_are_measured_in_passing() {
    let mut desk = demo();
    let before = desk.case().clone();
    desk.key(Modifiers::NONE, Key::D);
    desk.click_film(200.0, 200.0);
    desk.click_film(200.0, 300.0);
    let said = desk.texts();
    let distance = said
        .iter()
        .find(|text| text.starts_with("Distance: "))
        .expect("measured");
    assert!(
        distance.contains(" mm") && distance.contains('±'),
        "{distance}"
    );
    desk.key(Modifiers::SHIFT, Key::D);
    for (x, y) in [(200.0, 200.0), (300.0, 200.0), (300.0, 320.0)] {
        desk.click_film(x, y);
    }
    let said = desk.texts();
    let angle = said
        .iter()
        .find(|text| text.starts_with("Angle"))
        .expect("measured");
    assert!(angle.contains("90."), "{angle}");
    assert_eq!(desk.case(), &before, "no part of the case");
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("Angle, as projected"));
}
