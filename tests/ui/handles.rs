//! Points placed, dragged, nudged, deleted; undo and redo.

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use lengthfilm::desktop::StartWith;
use lengthfilm::units::FilmPoint;

use crate::desk::{Desk, write_film};

fn traced() -> (tempfile::TempDir, Desk) {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "canal.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.key(Modifiers::NONE, Key::T);
    for [x, y] in [
        [500.0, 300.0],
        [510.0, 500.0],
        [540.0, 700.0],
        [600.0, 880.0],
    ] {
        desk.click_film(x, y);
    }
    desk.key(Modifiers::NONE, Key::Enter);
    // Without an apex that is what the next click is for.
    desk.click_film(600.0, 880.0);
    desk.key(Modifiers::NONE, Key::Escape);
    (folder, desk)
}

#[test]
fn a_traced_canal_ends_at_its_apex() {
    let (_folder, desk) = traced();
    let canal = &desk.case().canals[0];
    assert_eq!(canal.trace_px.len(), 4);
    assert_eq!(canal.apex_px, canal.trace_px.last().copied());
}

#[test]
fn enter_and_a_double_click_finish_a_trace_and_add_nothing() {
    for by_double_click in [false, true] {
        let folder = tempfile::tempdir().expect("a folder");
        let film = write_film(folder.path(), "canal.png", 1200, 1250);
        let mut desk = Desk::start_stepping(Some(StartWith::Film(film)), None, 0.03);
        desk.key(Modifiers::NONE, Key::T);
        desk.click_film(500.0, 300.0);
        desk.click_film(510.0, 500.0);
        desk.press_film(540.0, 700.0);
        if by_double_click {
            desk.press_film(542.0, 701.0);
            desk.settle();
        } else {
            desk.settle();
            desk.key(Modifiers::NONE, Key::Enter);
        }
        let canal = &desk.case().canals[0];
        assert_eq!(canal.trace_px.len(), 3, "double click: {by_double_click}");
        assert_eq!(canal.apex_px, None, "the last point is no apex");
        assert!(desk.says("click the end of the root's outline"));
    }
}

#[test]
fn letters_without_a_field_place_nothing() {
    let (_folder, mut desk) = traced();
    let before = desk.case().clone();
    for key in [
        Key::P,
        Key::A,
        Key::P,
        Key::T,
        Key::P,
        Key::F,
        Key::P,
        Key::Space,
        Key::Enter,
    ] {
        desk.key(Modifiers::NONE, key);
        assert_eq!(desk.case(), &before, "{key:?}");
    }
}

#[test]
fn a_drag_moves_by_the_pointers_way_keeps_the_grab_offset_and_is_one_step() {
    let (_folder, mut desk) = traced();
    let before = desk.case().canals[0].trace_px[1];
    // Taken hold of 4 px beside its middle.
    desk.drag_film([514.0, 504.0], [564.0, 534.0]);
    let after = desk.case().canals[0].trace_px[1];
    let expected = FilmPoint::new(before.x + 50.0, before.y + 30.0);
    assert!(after.distance_px(expected) < 0.01, "{after:?}");
    assert!(
        desk.harness
            .query_by_label("Undo: Move Canal point 2, Canal 1")
            .is_some()
    );

    desk.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(desk.case().canals[0].trace_px[1], before);
    desk.key(Modifiers::COMMAND, Key::Y);
    assert_eq!(desk.case().canals[0].trace_px[1], after);
}

#[test]
fn a_press_without_a_move_is_no_step() {
    let (_folder, mut desk) = traced();
    desk.click_film(510.0, 500.0);
    assert!(desk.harness.query_by_label("Undo: Place apex").is_some());
}

#[test]
fn arrow_keys_nudge_fine_normal_and_coarse_and_merge_into_one_step() {
    let (_folder, mut desk) = traced();
    desk.click_film(510.0, 500.0);
    let before = desk.case().canals[0].trace_px[1];
    desk.key(Modifiers::NONE, Key::ArrowRight);
    desk.key(Modifiers::COMMAND, Key::ArrowDown);
    desk.key(Modifiers::SHIFT, Key::ArrowLeft);
    let after = desk.case().canals[0].trace_px[1];
    assert!(
        (after.x - before.x + 9.0).abs() < 1e-6,
        "{before:?} {after:?}"
    );
    assert!(
        (after.y - before.y - 0.1).abs() < 1e-6,
        "{before:?} {after:?}"
    );
    desk.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(desk.case().canals[0].trace_px[1], before);
}

#[test]
fn a_pulled_line_gets_a_point_and_delete_takes_it_away() {
    let (_folder, mut desk) = traced();
    desk.drag_film([505.0, 400.0], [480.0, 400.0]);
    assert_eq!(desk.case().canals[0].trace_px.len(), 5);
    assert!(desk.case().canals[0].trace_px[1].distance_px(FilmPoint::new(480.0, 400.0)) < 0.01);
    desk.click_film(480.0, 400.0);
    desk.key(Modifiers::NONE, Key::Delete);
    assert_eq!(desk.case().canals[0].trace_px.len(), 4);
}

#[test]
fn insert_adds_a_point_after_the_focused_one() {
    let (_folder, mut desk) = traced();
    desk.click_film(500.0, 300.0);
    desk.key(Modifiers::NONE, Key::Insert);
    let trace = &desk.case().canals[0].trace_px;
    assert_eq!(trace.len(), 5);
    assert!(trace[1].distance_px(FilmPoint::new(505.0, 400.0)) < 0.01);
    assert!(
        desk.focused_label()
            .is_some_and(|label| label.starts_with("Canal point 2"))
    );
}

#[test]
fn an_automatic_landmark_is_shown_dragged_stored_and_released_by_delete() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    assert!(!desk.says("curve start, automatic"));
    // The first construction.
    desk.key(Modifiers::NONE, Key::K);
    let place = desk.place_of("curve start, automatic");
    let flag = desk
        .harness
        .get_by_label_contains("curve start, automatic")
        .rect()
        .center();
    let before = desk.on_screen(place[0], place[1]);
    desk.drag_screen(flag, flag + egui::vec2(20.0, -10.0));
    let stored = desk.case().canals[0].landmarks["curve_start"];
    let after = desk.on_screen(stored.x, stored.y);
    // The handle's name gives its place to 0.1 px, 0.03 points here.
    assert!(
        (after - before - egui::vec2(20.0, -10.0)).length() < 0.1,
        "{before} {after}"
    );
    assert!(desk.says("curve start, moved by hand"));
    desk.key(Modifiers::NONE, Key::Delete);
    assert!(desk.case().canals[0].landmarks.is_empty());
    assert!(desk.says("curve start, automatic"));
}

#[test]
fn a_point_dragged_off_the_film_stays_on_its_edge() {
    let (_folder, mut desk) = traced();
    desk.drag_film([510.0, 500.0], [-40.0, 500.0]);
    let point = desk.case().canals[0].trace_px[1];
    assert_eq!(point.x, 0.0);
}

#[test]
fn two_rulers_and_a_file_show_how_far_they_disagree() {
    let (_folder, mut desk) = traced();
    desk.key(Modifiers::NONE, Key::U);
    desk.click_film(100.0, 200.0);
    desk.click_film(100.0, 600.0);
    assert_eq!(desk.focused_label().as_deref(), Some("Length on ruler 1"));
    desk.type_text("10");
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(desk.says("mm per px: 0.02500"));
    desk.key(Modifiers::NONE, Key::U);
    desk.click_film(150.0, 200.0);
    desk.click_film(150.0, 600.0);
    desk.type_text("10.4");
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(desk.says("+4.0 %"), "the second ruler is 4 % off the first");
}

#[test]
fn escape_puts_the_tool_down_and_presses_then_place_nothing() {
    let (_folder, mut desk) = traced();
    desk.key(Modifiers::NONE, Key::A);
    desk.key(Modifiers::NONE, Key::Escape);
    let before = desk.case().clone();
    desk.click_film(900.0, 300.0);
    assert_eq!(desk.case(), &before);
}

#[test]
fn turning_and_mirroring_the_view_changes_no_stored_point() {
    let (_folder, mut desk) = traced();
    let before = desk.case().clone();
    for key in [
        Key::CloseBracket,
        Key::M,
        Key::N,
        Key::H,
        Key::Plus,
        Key::Home,
    ] {
        desk.key(Modifiers::NONE, key);
    }
    assert_eq!(desk.case(), &before);
    // And dragging still goes where the pointer goes.
    desk.drag_film([510.0, 500.0], [530.0, 520.0]);
    let moved = desk.case().canals[0].trace_px[1];
    assert!(
        moved.distance_px(FilmPoint::new(530.0, 520.0)) < 0.02,
        "{moved:?}"
    );
}

#[test]
fn a_second_canal_has_its_own_file_and_the_first_keeps_its_own() {
    let (_folder, mut desk) = traced();
    desk.key(Modifiers::COMMAND, Key::N);
    desk.click_film(700.0, 100.0);
    desk.click_film(700.0, 800.0);
    let case = desk.case();
    assert_eq!(case.canals.len(), 2);
    assert_eq!(case.scale.objects[0].canal.as_deref(), Some("Canal 2"));
    assert!(case.canals[0].file.is_none());
    desk.key(Modifiers::NONE, Key::Enter);
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(desk.harness.query_by_label("Work on Canal 1").is_some());
}

#[test]
fn every_handle_of_the_demo_has_a_name_and_a_place() {
    let desk = Desk::start(Some(StartWith::Demo), None);
    let case = desk.case();
    for (canal, content) in case.canals.iter().enumerate() {
        if content.apex_px.is_some() {
            let label = format!("Apex, canal {}", content.name);
            assert!(desk.says(&label), "canal {canal}");
        }
    }
    assert!(desk.says("File tip, canal"));
    assert!(desk.says("Reference point, canal"));
}

/// A quick hand: the pointer comes to the film and presses within one frame.
#[test]
fn the_way_to_a_press_is_no_drag() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    let (corner, away) = (desk.on_screen(60.0, 60.0), desk.on_screen(400.0, 500.0));
    desk.drag_screen(away, away);
    let before = desk.on_screen(0.0, 0.0);
    desk.jump_and_press(corner);
    assert_eq!(desk.on_screen(0.0, 0.0), before);
    desk.drag_screen(corner, corner + egui::vec2(12.0, 8.0));
    let moved = desk.on_screen(0.0, 0.0) - before;
    assert!((moved - egui::vec2(12.0, 8.0)).length() < 1e-3, "{moved:?}");
}

/// A file short of the apex by less than a point's reach on the screen: the
/// apex is placed beside the tip, and the canal traced past both, without
/// moving them.
#[test]
fn a_tool_places_its_point_beside_those_of_other_kinds() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "canal.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    let zoom = (desk.on_screen(100.0, 0.0).x - desk.on_screen(0.0, 0.0).x) / 100.0;
    let reach_px = 4.0 / f64::from(zoom);
    let tip = [500.0, 800.0];
    desk.key(Modifiers::NONE, Key::F);
    desk.click_film(500.0, 300.0);
    desk.click_film(tip[0], tip[1]);
    desk.key(Modifiers::NONE, Key::A);
    desk.click_film(tip[0], tip[1] + reach_px);
    let canal = desk.case().canals[0].clone();
    let placed_tip = canal.file.as_ref().and_then(|file| file.tip_px);
    let apex = canal.apex_px.expect("an apex");
    assert!(placed_tip.is_some_and(|at| at.distance_px(FilmPoint::new(tip[0], tip[1])) < 0.01));
    assert!(apex.distance_px(FilmPoint::new(tip[0], tip[1] + reach_px)) < 0.01);

    desk.key(Modifiers::NONE, Key::T);
    for [x, y] in [
        [505.0, 400.0],
        [506.0, 600.0],
        [tip[0] + 0.8 * reach_px, tip[1] - 0.8 * reach_px],
    ] {
        desk.click_film(x, y);
    }
    // On the apex as far as the hand can tell.
    desk.click_film(apex.x + 0.3 * reach_px, apex.y);
    desk.key(Modifiers::SHIFT, Key::Enter);
    let traced = &desk.case().canals[0];
    assert_eq!(traced.trace_px.len(), 4);
    assert_eq!(traced.trace_px.last(), Some(&apex));
    assert_eq!(traced.apex_px, Some(apex));
    assert_eq!(traced.file, canal.file);
}
