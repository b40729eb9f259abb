//! From an opened length film to a copied chart note.

use egui::{Key, Modifiers};
use lengthfilm::units::FilmPoint;

use crate::desk::{Desk, write_film};

/// Straight file of 20.0 mm over 800 px, so 0.025 mm/px; the apex 56 px, that
/// is 1.4 mm, beyond the tip.
fn measure_straight_film(desk: &mut Desk) {
    desk.click_film(600.0, 100.0);
    desk.click_film(600.0, 900.0);
    desk.type_text("20");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.click_film(600.0, 956.0);
}

#[test]
fn a_length_film_becomes_a_chart_note_in_at_most_five_clicks_and_one_typed_number() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    assert!(
        desk.says("click the stop, tooth side"),
        "the first step is named"
    );

    measure_straight_film(&mut desk);
    desk.key(Modifiers::NONE, Key::C);

    assert!(desk.clicks <= 5, "{} clicks", desk.clicks);
    assert_eq!(desk.clicks, 3);
    let note = desk.copied().expect("a note was copied");
    assert!(note.contains("working length 20.0 mm"), "{note}");
    assert!(note.contains("1.4 mm short of the apex"), "{note}");
    assert!(
        note.contains("confirm the length electronically and clinically"),
        "{note}"
    );
    assert!(desk.says("Tip: 1.4 mm short of the apex"));
    assert!(desk.says("Working length for the chart: 20.0 mm"));

    let canal = &desk.case().canals[0];
    let close = |point: Option<FilmPoint>, x: f64, y: f64| {
        // Screen positions are f32 and the film is shown at about half size.
        point.is_some_and(|p| p.distance_px(FilmPoint::new(x, y)) < 0.01)
    };
    assert!(
        close(canal.reference_px, 600.0, 100.0),
        "{:?}",
        canal.reference_px
    );
    assert!(close(canal.apex_px, 600.0, 956.0));
    assert!(close(
        canal.file.as_ref().and_then(|f| f.tip_px),
        600.0,
        900.0
    ));
    assert_eq!(
        canal.file.as_ref().and_then(|f| f.set_length_mm),
        Some(20.0)
    );
}

#[test]
fn what_nobody_traced_has_no_length_and_no_curvature() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    measure_straight_film(&mut desk);
    assert!(desk.case().canals[0].trace_px.is_empty());
    assert!(desk.says("Trace canal: not placed"));
    for untraced in [
        "Curved length",
        "Straight, orifice to apex",
        "Estrela",
        "Günday",
    ] {
        assert!(!desk.says(untraced), "{untraced}");
    }
    assert!(desk.says("Tip: 1.4 mm short of the apex"));
}

#[test]
fn digits_typed_over_the_film_are_the_set_length_whatever_was_clicked() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.click_film(600.0, 100.0);
    desk.click_film(600.0, 900.0);
    assert!(desk.says("type the set length"));
    desk.click_film(600.0, 956.0);
    desk.type_text("20.5");
    let set = desk.case().canals[0]
        .file
        .as_ref()
        .and_then(|f| f.set_length_mm);
    assert_eq!(set, Some(20.5));
    assert!(!desk.says("type the set length"));
}

#[test]
fn the_chart_value_says_how_it_was_rounded_and_what_it_makes_of_the_set_length() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    measure_straight_film(&mut desk);
    assert!(desk.says("20.0 mm (20.40, rounded down to 0.5)"));
    assert!(desk.says("By the convention: the set length stays 20.0 mm"));
    desk.drag_film([600.0, 956.0], [600.0, 996.0]);
    assert!(desk.says("By the convention: lengthen by 1.0 mm, to 21.0 mm"));
}

#[test]
fn with_the_mouse_alone_the_note_takes_four_clicks() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    measure_straight_film(&mut desk);
    desk.click("Copy chart note");
    assert_eq!(desk.clicks, 4);
    assert!(
        desk.copied()
            .is_some_and(|note| note.contains("working length 20.0 mm"))
    );
}

#[test]
fn a_tip_beyond_the_apex_is_said_in_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    measure_straight_film(&mut desk);
    desk.drag_film([600.0, 956.0], [600.0, 880.0]);
    assert!(desk.says("Tip: 0.5 mm beyond the apex"));
}

#[test]
fn without_a_known_length_there_are_pixels_only() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.click_film(600.0, 100.0);
    desk.click_film(600.0, 900.0);
    desk.key(Modifiers::NONE, Key::Enter);
    desk.click_film(600.0, 956.0);
    assert!(desk.says("No scale: pixels only"));
    assert!(desk.says("Tip to apex: not known yet"));
    desk.key(Modifiers::NONE, Key::C);
    assert_eq!(desk.copied(), None);
}

#[test]
fn numbers_follow_the_drag_in_the_same_frame() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    measure_straight_film(&mut desk);
    desk.start_drag([600.0, 956.0]);
    // Each move is one event and one frame; the number is read at once.
    desk.continue_drag([600.0, 956.0], [600.0, 996.0]);
    assert!(desk.says("Tip: 2.4 mm short of the apex"));
    desk.end_drag([600.0, 996.0]);
}

#[test]
fn a_stop_beside_the_film_is_a_way_of_its_own() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    assert!(desk.says("Stop not on the film: I, then the tip"));
    desk.key(Modifiers::NONE, Key::I);
    desk.click_film(600.0, 900.0);
    assert!(desk.says("the apex") && desk.says("type the set length"));
    desk.type_text("20");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.click_film(600.0, 956.0);
    assert!(desk.says("click the reference point"));
    desk.click_film(600.0, 100.0);
    // The headline names what is really missing.
    assert!(desk.says("No scale yet: mark a ruler"));
    let canal = &desk.case().canals[0];
    let set = canal.file.as_ref().and_then(|file| file.set_length_mm);
    assert_eq!(set, Some(20.0));
    assert!(canal.apex_px.is_some() && canal.reference_px.is_some());
}
