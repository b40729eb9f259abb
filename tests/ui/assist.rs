//! Suggestions: asked for by clicks, marked, dragged, refused.

use egui::{Key, Modifiers};
use lengthfilm::desktop::StartWith;
use lengthfilm::units::FilmPoint;

use crate::desk::{Desk, write_film};

/// Width of the demo film's pixels, mm.
const MM_PER_PX: f64 = 0.033;

/// A place on the shank of the demo film's file.
const ON_SHANK: [f64; 2] = [317.0, 600.0];

fn demo() -> Desk {
    Desk::start(Some(StartWith::Demo), None)
}

/// Stop face and tip of the demo film's file, as it was rendered.
fn true_ends() -> [FilmPoint; 2] {
    let truth = include_str!("../../sample-images/molar-36-short.truth.json");
    let truth: serde_json::Value = serde_json::from_str(truth).expect("readable");
    ["stop_px", "tip_px"].map(|end| {
        let place = |axis: usize| truth["file"][end][axis].as_f64().expect("a number");
        FilmPoint::new(place(0), place(1))
    })
}

#[test]
fn one_click_on_the_shank_finds_the_file_in_one_step() {
    let mut desk = demo();
    let before = desk.case().clone();
    let [stop, tip] = true_ends();

    desk.key(Modifiers::SHIFT, Key::F);
    assert!(desk.says("click anywhere on the file's shank"));
    desk.click_film(ON_SHANK[0], ON_SHANK[1]);

    let file = desk.case().scale.objects[0].clone();
    assert!(file.assisted);
    let canal = &desk.case().canals[0];
    assert_eq!(canal.reference_px, file.points_px.first().copied());
    assert_eq!(
        canal.file.as_ref().and_then(|file| file.tip_px),
        file.points_px.last().copied()
    );
    // Bounds of the method itself: 0.15 mm for the stop's face, 0.1 mm for
    // the tip.
    let off_mm = |found: Option<&FilmPoint>, truth: FilmPoint| {
        found.expect("points").distance_px(truth) * MM_PER_PX
    };
    let (stop_off, tip_off) = (
        off_mm(file.points_px.first(), stop),
        off_mm(file.points_px.last(), tip),
    );
    assert!(stop_off <= 0.15, "stop face off by {stop_off:.3} mm");
    assert!(tip_off <= 0.1, "tip off by {tip_off:.3} mm");
    assert!(desk.says("File suggested, "), "confidence in words");
    assert!(desk.says("File line: assisted"));

    desk.click("Undo suggestion");
    assert_eq!(desk.case(), &before, "one step");
    assert!(!desk.says("Undo suggestion"));
    assert!(!desk.says("File line: assisted"));
}

#[test]
fn two_clicks_follow_a_canal_and_a_dragged_point_makes_it_the_users_own() {
    let mut desk = demo();
    let before = desk.case().canals[0].clone();
    let (first, last) = (
        before.trace_px[0],
        before.trace_px[before.trace_px.len() - 1],
    );
    desk.key(Modifiers::SHIFT, Key::T);
    assert!(desk.says("click the canal's orifice"));
    desk.click_film(first.x, first.y);
    assert_eq!(desk.case().canals[0], before, "one click changes nothing");
    assert!(desk.says("now click the canal's end"));
    desk.click_film(last.x, last.y);

    let followed = desk.case().canals[0].clone();
    assert!(followed.assisted);
    assert!(followed.trace_px.len() >= 3);
    assert_ne!(followed.trace_px, before.trace_px);
    for point in &followed.trace_px {
        // No further from the true canal's points than half their spacing
        // and the bound on 95 % of the path, 0.2 mm.
        let nearest = before
            .trace_px
            .iter()
            .map(|truth| truth.distance_px(*point))
            .fold(f64::INFINITY, f64::min);
        let spacing = before.trace_px[0].distance_px(before.trace_px[1]);
        assert!(nearest <= 0.5 * spacing + 0.2 / MM_PER_PX, "{point:?}");
    }
    assert!(desk.says("Canal suggested, "));
    assert!(desk.says("Canal line: assisted"));

    let middle = followed.trace_px[followed.trace_px.len() / 2];
    desk.drag_film([middle.x, middle.y], [middle.x + 25.0, middle.y]);
    let dragged = &desk.case().canals[0];
    assert_ne!(dragged.trace_px, followed.trace_px, "the point has moved");
    assert!(!dragged.assisted);
    assert!(!desk.says("Canal line: assisted"));
    assert!(!desk.says("Undo suggestion"), "it is no longer fresh");
}

#[test]
fn a_click_beside_the_file_says_why_and_changes_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "plain.png", 700, 900);
    let mut desk = Desk::with_film(&film);
    let before = desk.case().clone();
    desk.key(Modifiers::SHIFT, Key::F);
    desk.click_film(80.0, 450.0);
    assert!(desk.says("No suggestion: no file runs within"));
    assert!(desk.says("Nothing was changed"));
    assert!(!desk.says("Undo suggestion"));
    assert_eq!(desk.case(), &before);
}

#[test]
fn escape_puts_half_made_requests_away() {
    let mut desk = demo();
    let before = desk.case().clone();
    desk.key(Modifiers::SHIFT, Key::T);
    desk.click_film(300.0, 550.0);
    desk.key(Modifiers::NONE, Key::Escape);
    desk.key(Modifiers::SHIFT, Key::T);
    assert!(desk.says("click the canal's orifice"));
    assert_eq!(desk.case(), &before);
}

#[test]
fn the_next_press_stops_the_work_and_only_the_last_request_counts() {
    let mut desk = demo();
    let before = desk.case().canals[0].clone();
    let (first, last) = (
        before.trace_px[0],
        before.trace_px[before.trace_px.len() - 1],
    );
    desk.key(Modifiers::SHIFT, Key::T);
    desk.press_film(first.x, first.y);
    desk.press_film(last.x, last.y);
    assert!(desk.app().is_busy(), "the film is being looked at");
    assert_eq!(desk.case().canals[0], before, "nothing waits for it");
    // The next press begins another request: the first must not be applied.
    desk.key(Modifiers::SHIFT, Key::T);
    desk.press_film(first.x, first.y);
    desk.settle();
    assert_eq!(
        desk.case().canals[0],
        before,
        "the stopped work changes nothing"
    );
    assert!(desk.says("now click the canal's end"));
    assert!(!desk.says("Canal suggested, "));
    desk.click_film(last.x, last.y);
    assert!(desk.says("Canal suggested, "));
    assert!(desk.case().canals[0].assisted);
}
