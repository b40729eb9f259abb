//! The page of the case difficulty assessment.

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use lengthfilm::case;
use lengthfilm::curvature::DifficultyClass;
use lengthfilm::desktop::StartWith;

use crate::desk::Desk;

/// Works a widget that may have to be scrolled to.
fn work(desk: &mut Desk, label: &str) {
    desk.harness.get_by_label(label).click_accesskit();
    desk.settle();
}

fn open_page(desk: &mut Desk) {
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::A);
}

/// Rows that the film gives are filled in, the others open; an entry counts,
/// is undone as one step, is taken back by a second click and comes back with
/// the file.
#[test]
fn rows_are_entered_beside_what_the_film_gives() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("demo.case.json");
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    open_page(&mut desk);
    assert!(desk.says("Whole case: At least") || desk.says("Whole case: High"));
    assert!(desk.says("measured: canal"));
    assert!(desk.says("Rotation: not assessed"));
    assert!(desk.says("General health: not assessed"));
    let before = desk.case().clone();
    let choice = "Rotation, high: above 30°";
    work(&mut desk, choice);
    let entered = |desk: &Desk| {
        let assessment = desk.case().assessment.clone()?;
        assessment.rows.get("rotation").copied()
    };
    assert_eq!(entered(&desk), Some(DifficultyClass::High));
    assert!(desk.says("Rotation: high"));
    assert!(desk.says("Whole case: High"));
    desk.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(*desk.case(), before);
    assert!(desk.says("Rotation: not assessed"));
    work(&mut desk, choice);
    desk.save_to(&path);
    let stored = case::load(&path).expect("reads");
    assert_eq!(stored.assessment, desk.case().assessment);
    work(&mut desk, choice);
    assert_eq!(desk.case().assessment, None);
    // Keys of the film's page mean nothing here, Escape leaves.
    desk.key(Modifiers::NONE, Key::Delete);
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(!desk.says("Rotation: not assessed"));
    assert_eq!(desk.case().canals, before.canals);
}

/// A canal said to be the neighbouring tooth's is one in the case, under its
/// new name too.
#[test]
fn canals_of_the_neighbouring_tooth_are_chosen() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    desk.key(Modifiers::COMMAND, Key::N);
    let name = desk.case().canals[1].name.clone();
    open_page(&mut desk);
    work(
        &mut desk,
        &format!("{name} belongs to the neighbouring tooth"),
    );
    let chosen = desk.case().assessment.clone().expect("an entry");
    assert_eq!(chosen.neighbour_canals, [name]);
}
