//! What a film is found to show: offered faintly, taken one by one, used never
//! unasked.

use std::path::PathBuf;

use egui::{Key, Modifiers};
use lengthfilm::desktop::{Preferences, Setup, StartWith};
use lengthfilm::units::FilmPoint;

use crate::desk::Desk;

fn sample(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("sample-images")
        .join(name)
}

fn truth(name: &str) -> serde_json::Value {
    let text = std::fs::read_to_string(sample(name)).expect("the truth is beside its film");
    serde_json::from_str(&text).expect("readable")
}

fn place(value: &serde_json::Value) -> FilmPoint {
    let axis = |axis: usize| value[axis].as_f64().expect("a number");
    FilmPoint::new(axis(0), axis(1))
}

/// Names of the buttons that take something.
fn offered(desk: &Desk) -> Vec<String> {
    let mut names = desk.texts();
    names.retain(|text| text.starts_with("Take ") && text.ends_with(" seen"));
    names.dedup();
    names
}

fn take(desk: &mut Desk, what: &str) {
    let name = offered(desk)
        .into_iter()
        .find(|name| name.starts_with(what));
    let name = name.unwrap_or_else(|| panic!("{what} is not offered"));
    desk.click(&name);
}

#[test]
fn a_length_film_is_done_in_three_clicks_and_one_typed_number() {
    let truth = truth("molar-36-short.truth.json");
    let mut desk = Desk::with_film(&sample("molar-36-short.png"));
    take(&mut desk, "Take file, ");
    desk.type_text("20");
    desk.key(Modifiers::NONE, Key::Enter);
    take(&mut desk, "Take canal, ");
    desk.click("Copy chart note");
    assert_eq!(desk.clicks, 3);

    let mm_per_px = truth["mm_per_px"][0].as_f64().expect("a number");
    let canal = &desk.case().canals[0];
    let object = &desk.case().scale.objects[0];
    assert!(object.assisted && canal.assisted, "marked as suggested");
    let off_mm = |found: Option<FilmPoint>, of: &serde_json::Value| {
        found.expect("placed").distance_px(place(of)) * mm_per_px
    };
    // Bounds of the method itself: docs/assist.md.
    let stop = object.points_px.first().copied();
    assert!(off_mm(stop, &truth["file"]["stop_px"]) <= 0.2);
    let tip = object.points_px.last().copied();
    assert!(off_mm(tip, &truth["file"]["tip_px"]) <= 0.15);
    assert!(off_mm(canal.apex_px, &truth["apex_px"]) <= 0.5);
    assert!(canal.trace_px.len() >= 3);
    // Set length 20.0 mm, 1.2 mm short of the apex, less 1.0 mm: 20.2 mm.
    let note = desk.copied().expect("a note was copied");
    assert!(note.contains("working length 20.0 mm"), "{note}");
}

#[test]
fn nothing_found_is_in_the_case_before_it_is_taken() {
    let desk = Desk::with_film(&sample("molar-36-short.png"));
    assert!(!offered(&desk).is_empty());
    assert!(desk.says("Found on the film: 1 file"));
    let case = desk.case();
    assert!(case.scale.objects.is_empty());
    assert_eq!(case.canals.len(), 1);
    let canal = &case.canals[0];
    assert!(canal.trace_px.is_empty() && canal.file.is_none());
    assert_eq!((canal.apex_px, canal.reference_px), (None, None));
    assert!(!desk.app().is_unsaved());
    assert!(desk.says("click the stop, tooth side"), "the tool stays");
}

#[test]
fn a_press_on_the_film_places_its_point_beside_what_is_offered() {
    let truth = truth("molar-36-short.truth.json");
    let mut desk = Desk::with_film(&sample("molar-36-short.png"));
    // On the offered file's own line.
    let [stop, tip] = ["stop_px", "tip_px"].map(|end| place(&truth["file"][end]));
    desk.click_film(stop.x, stop.y);
    desk.click_film(tip.x, tip.y);
    let object = &desk.case().scale.objects[0];
    assert!(!object.assisted);
    assert_eq!(object.points_px.len(), 2);
    assert!(object.points_px[0].distance_px(stop) < 0.01);
    assert!(object.points_px[1].distance_px(tip) < 0.01);
    let left = offered(&desk);
    assert!(
        left.iter().all(|name| !name.starts_with("Take file")),
        "{left:?}"
    );
    assert!(
        left.iter().any(|name| name.starts_with("Take apex")),
        "{left:?}"
    );
}

#[test]
fn enter_takes_the_first_and_one_undo_gives_it_back() {
    let mut desk = Desk::with_film(&sample("molar-36-short.png"));
    let (before, first) = (desk.case().clone(), offered(&desk)[0].clone());
    desk.key(Modifiers::NONE, Key::Enter);
    assert_ne!(desk.case(), &before);
    assert!(!offered(&desk).contains(&first) || first.starts_with("Take file"));
    desk.click("Undo suggestion");
    assert_eq!(desk.case(), &before, "one step");
    assert_eq!(offered(&desk)[0], first, "offered again");
}

#[test]
fn the_enter_that_ends_a_typed_number_takes_nothing() {
    let mut desk = Desk::with_film(&sample("molar-36-short.png"));
    take(&mut desk, "Take file, ");
    desk.type_text("20");
    desk.key(Modifiers::NONE, Key::Enter);
    let canal = &desk.case().canals[0];
    assert_eq!(
        canal.file.as_ref().and_then(|f| f.set_length_mm),
        Some(20.0)
    );
    assert_eq!(canal.apex_px, None, "nothing was taken with it");
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(
        desk.case().canals[0].apex_px.is_some(),
        "the next one takes"
    );
}

#[test]
fn escape_hides_all_and_keeps_the_tool_until_it_is_pressed_again() {
    let mut desk = Desk::with_film(&sample("molar-36-short.png"));
    let before = desk.case().clone();
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(offered(&desk).is_empty());
    assert!(desk.says("click the stop, tooth side"));
    desk.key(Modifiers::NONE, Key::Enter);
    assert_eq!(desk.case(), &before, "what is hidden is not taken");
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("click the stop, tooth side"));
    desk.key(Modifiers::SHIFT, Key::S);
    assert!(!offered(&desk).is_empty(), "shown again");
    assert_eq!(desk.case(), &before);
}

#[test]
fn a_file_whose_stop_is_under_a_clamp_is_offered_as_a_tip_without_scale() {
    let mut desk = Desk::with_film(&sample("premolar-45-clamp.png"));
    assert!(
        offered(&desk)
            .iter()
            .all(|name| !name.starts_with("Take file, "))
    );
    take(&mut desk, "Take file tip, ");
    assert!(desk.says("no stop is seen for certain"));
    assert!(desk.case().scale.objects.is_empty());
    let truth = truth("premolar-45-clamp.truth.json");
    let tip = desk.case().canals[0].file.as_ref().and_then(|f| f.tip_px);
    let off = tip
        .expect("placed")
        .distance_px(place(&truth["file"]["tip_px"]));
    assert!(off * truth["mm_per_px"][0].as_f64().expect("a number") <= 0.15);
}

#[test]
fn a_measured_case_is_offered_nothing_until_it_is_asked_for() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    let before = desk.case().clone();
    assert!(offered(&desk).is_empty());
    desk.key(Modifiers::SHIFT, Key::S);
    // The demo's canal has all that could be found.
    assert!(offered(&desk).is_empty());
    assert_eq!(desk.case(), &before);
    desk.key(Modifiers::COMMAND, Key::N);
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!offered(&desk).is_empty(), "a new canal lacks them");
}

/// Switched off, opening a film seeks nothing; asked for, it is sought.
#[test]
fn a_film_is_looked_over_on_opening_only_where_that_is_wanted() {
    let setup = Setup {
        start: Some(StartWith::Film(sample("molar-36-short.png"))),
        preferences: Preferences {
            looks_over_films: false,
            ..Preferences::default()
        },
        ..Setup::default()
    };
    let mut desk = Desk::start_as(setup, 0.25);
    assert!(offered(&desk).is_empty());
    desk.key(Modifiers::SHIFT, Key::S);
    desk.settle();
    assert!(!offered(&desk).is_empty());
}

/// What is taken one by one is marked in the case and on the film.
#[test]
fn a_tip_that_is_taken_without_its_stop_says_that_it_was_suggested() {
    let mut desk = Desk::with_film(&sample("premolar-45-clamp.png"));
    take(&mut desk, "Take file tip");
    let file = desk.case().canals[0].file.as_ref().expect("a file");
    assert!(file.assisted);
    if let Some(apex) = offered(&desk)
        .into_iter()
        .find(|n| n.starts_with("Take apex"))
    {
        desk.click(&apex);
        assert!(desk.case().canals[0].apex_assisted);
    }
}
