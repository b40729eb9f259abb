//! Fields refuse what cannot be, say why, and keep what was there.

use egui::{Key, Modifiers};
use lengthfilm::case::ToothNotation;
use lengthfilm::desktop::StartWith;
use lengthfilm::progress::Progress;

use crate::desk::Desk;

fn demo() -> Desk {
    Desk::start(Some(StartWith::Demo), None)
}

/// Types into a field, leaves it, and returns what the window says of it.
fn refused(desk: &mut Desk, field: &str, typed: &str) -> String {
    desk.type_into(field, typed);
    desk.key(Modifiers::NONE, Key::Enter);
    let said = desk.texts();
    let found = said.iter().find(|text| text.contains("refused"));
    found.cloned().unwrap_or_default()
}

#[test]
fn an_allowance_that_cannot_be_is_refused_and_the_former_kept() {
    for typed in ["-1", "50", "abc"] {
        let mut desk = demo();
        desk.type_into("Allowance", "1.5");
        desk.key(Modifiers::NONE, Key::Enter);
        assert_eq!(desk.case().canals[0].allowance_mm, Some(1.5));
        let said = refused(&mut desk, "Allowance", typed);
        assert!(
            said.contains(&format!("“{typed}” refused, 1.5 mm kept")),
            "{said}"
        );
        assert!(said.contains("a number from 0 to 5 mm"), "{said}");
        assert_eq!(desk.case().canals[0].allowance_mm, Some(1.5), "{typed}");
    }
}

#[test]
fn a_day_that_is_no_day_is_refused() {
    let mut desk = demo();
    desk.type_into("Film date", "2024-02-29");
    desk.key(Modifiers::NONE, Key::Enter);
    assert_eq!(desk.case().film.date.as_deref(), Some("2024-02-29"));
    for typed in ["2024-02-30", "2023-02-29", "24-2-2", "yesterday"] {
        let said = refused(&mut desk, "Film date", typed);
        assert!(said.contains("2024-02-29 kept"), "{typed}: {said}");
        assert_eq!(desk.case().film.date.as_deref(), Some("2024-02-29"));
    }
}

#[test]
fn a_tooth_is_the_same_tooth_in_the_other_notation() {
    let mut desk = demo();
    desk.type_into("Tooth number", "46");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.click_button("Universal");
    let tooth = desk.case().tooth.clone().expect("a tooth");
    assert_eq!(
        (tooth.notation, tooth.number.as_str()),
        (ToothNotation::Universal, "30")
    );
    desk.click_button("FDI");
    let tooth = desk.case().tooth.clone().expect("a tooth");
    assert_eq!(
        (tooth.notation, tooth.number.as_str()),
        (ToothNotation::Fdi, "46")
    );
    let said = refused(&mut desk, "Tooth number", "49");
    assert!(said.contains("46 kept") && said.contains("11-48"), "{said}");
    assert_eq!(desk.case().tooth.clone().expect("a tooth").number, "46");
}

#[test]
fn a_typed_pitch_keeps_its_digits() {
    let mut desk = demo();
    desk.bring_into_sight("Typed pixel pitch");
    desk.click("Typed pixel pitch");
    desk.bring_into_sight("Pixel pitch at the detector");
    desk.type_into("Pixel pitch at the detector", "0.0309");
    desk.key(Modifiers::NONE, Key::Enter);
    assert_eq!(desk.case().film.pixel_pitch_mm, Some([0.0309, 0.0309]));
    desk.click("Fit to window");
    let texts = desk.texts();
    assert!(texts.iter().any(|text| text == "0.0309"), "shown as typed");
    assert_eq!(desk.case().film.pixel_pitch_mm, Some([0.0309, 0.0309]));
}

#[test]
fn greys_are_in_per_cent() {
    let desk = demo();
    let texts = desk.texts();
    assert!(
        texts
            .iter()
            .any(|text| text.contains("Grey level, per cent"))
    );
    let shown: Vec<_> = texts.iter().filter(|text| text.ends_with(" %")).collect();
    assert!(shown.len() >= 2, "{shown:?}");
}

#[test]
fn no_canal_is_called_canal_twice() {
    let mut desk = demo();
    desk.key(Modifiers::COMMAND, Key::N);
    for text in desk.texts() {
        assert!(!text.to_lowercase().contains("canal canal"), "{text}");
        assert!(!text.contains("Bracket"), "{text}");
    }
}

#[test]
fn the_largest_text_cuts_no_tool_off() {
    let mut desk = demo();
    for _ in 0..6 {
        desk.key(Modifiers::COMMAND, Key::Plus);
    }
    let bar_right = 1280.0 - 330.0 * 1.6;
    for name in [
        "Fit to window",
        "Local contrast",
        "Grey width, per cent of the film's range",
    ] {
        let rect = desk.rect_of(name);
        assert!(rect.right() <= bar_right + 1.0, "{name}: {rect:?}");
        assert!(rect.left() >= 244.0 * 1.6, "{name}: {rect:?}");
    }
}

/// What a student types is in the case, and the hand-in is theirs in the class
/// whatever the file is called.
#[test]
fn a_hand_in_says_whose_it_is() {
    let mut desk = demo();
    desk.bring_into_sight("For a class");
    desk.click("For a class");
    desk.type_into("Who hands in", "Ann B.");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.type_into("Attempt number", "2");
    desk.key(Modifiers::NONE, Key::Enter);
    let said = refused(&mut desk, "Attempt number", "0");
    assert!(said.contains("“0” refused, 2 kept"), "{said}");
    desk.type_into("Date of the hand-in", "2026-03-04");
    desk.key(Modifiers::NONE, Key::Enter);
    let student = desk.case().student.clone().expect("a student");
    assert_eq!(student.name.as_deref(), Some("Ann B."));
    assert_eq!(student.attempt, Some(2));
    assert_eq!(student.date.as_deref(), Some("2026-03-04"));

    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("whatever.case.json");
    lengthfilm::case::save(desk.case(), &path).expect("saved");
    let read = lengthfilm::grading::submission::Submission::read(&path, &Progress::unwatched())
        .expect("read");
    assert_eq!(read.student, "Ann B.");
    assert_eq!(read.handed_in.attempt, Some(2));
}
