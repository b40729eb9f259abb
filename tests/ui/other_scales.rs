//! Scales for films without a stop: equipment by name, an earlier film.

use std::fs;

use egui::{Key, Modifiers};
use lengthfilm::desktop::StartWith;
use serde_json::json;

use crate::desk::{Desk, write_film};

/// Films whose file says nothing of their detector: the pitch is typed once, and
/// another film is asked what made it.
#[test]
fn a_pitch_is_remembered_by_the_name_of_the_equipment() {
    let folder = tempfile::tempdir().expect("a folder");
    let first = write_film(folder.path(), "a.png", 600, 800);
    let second = write_film(folder.path(), "b.png", 600, 800);
    let mut desk = Desk::with_film(&first);
    assert!(!desk.says("What made this film?"));
    desk.bring_into_sight("Typed pixel pitch");
    desk.click("Typed pixel pitch");
    desk.bring_into_sight("Equipment");
    desk.type_into("Pixel pitch at the detector", "0.035");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.type_into("Equipment", "plate reader 2");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.bring_into_sight("Remember this pitch");
    desk.click("Remember this pitch");
    assert!(
        desk.says("In use: pixel pitch of plate reader 2"),
        "{:?}",
        desk.texts()
    );

    desk.key(Modifiers::COMMAND, Key::O);
    desk.click("Go on without saving");
    desk.answer_with_file(&second);
    desk.wait_until("What made this film?");
    // Nothing is used unasked.
    assert!(desk.case().film.pixel_pitch_mm.is_none());
    desk.bring_into_sight("plate reader 2, 0.035 mm");
    desk.click("plate reader 2, 0.035 mm");
    assert_eq!(desk.case().film.pixel_pitch_mm, Some([0.035, 0.035]));
    assert_eq!(
        desk.case().film.equipment.as_deref(),
        Some("plate reader 2")
    );
    assert!(desk.says("In use: pixel pitch of plate reader 2"));
    assert!(!desk.says("What made this film?"));
    desk.key(Modifiers::COMMAND, Key::Z);
    assert!(desk.case().film.pixel_pitch_mm.is_none(), "one step");
}

#[test]
fn the_scale_of_an_earlier_film_is_taken_and_taken_out() {
    let folder = tempfile::tempdir().expect("a folder");
    write_film(folder.path(), "a.png", 600, 800);
    let later = write_film(folder.path(), "b.png", 600, 800);
    write_film(folder.path(), "small.png", 500, 800);
    let case = |film: &str| {
        json!({"format": "lengthfilm-case", "version": 1, "film": {"path": film},
               "scale": {"objects": [{"kind": "file", "canal": "MB", "true_length_mm": 20.0,
                                      "points_px": [[300, 100], [300, 350], [300, 600]]}]},
               "canals": [{"name": "MB"}]})
    };
    let [earlier, small] = ["a", "small"].map(|name| {
        let path = folder.path().join(format!("{name}.case.json"));
        fs::write(&path, case(&format!("{name}.png")).to_string()).expect("writes");
        path
    });

    let mut desk = Desk::start(Some(StartWith::Film(later)), None);
    let button = "Scale of an earlier film…";
    desk.bring_into_sight(button);
    desk.click(button);
    desk.answer_with_file(&small);
    desk.wait_until("its scale does not hold here");
    assert!(desk.case().scale.earlier_film.is_none());

    desk.bring_into_sight(button);
    desk.click(button);
    desk.answer_with_file(&earlier);
    desk.wait_until("Scale of the earlier film taken");
    let taken = desk.case().scale.earlier_film.clone().expect("taken");
    assert!((taken.mm_per_px - 0.04).abs() < 0.0005, "{taken:?}");
    assert!(
        desk.says("In use: earlier film (file in canal MB)"),
        "{:?}",
        desk.texts()
    );
    desk.bring_into_sight("Remove the scale of the earlier film");
    desk.click("Remove the scale of the earlier film");
    assert!(desk.case().scale.earlier_film.is_none());
}
