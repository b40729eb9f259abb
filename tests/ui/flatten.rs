//! A photograph made flat in the window.

use std::path::Path;
use std::sync::Arc;

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use lengthfilm::case;
use lengthfilm::film::{self, OpenLimits};
use lengthfilm::flatten::{Facts, Request, edge_residual_px, flat_film, flattening, snapped};
use lengthfilm::phantom::block::{BlockSpec, FACE_MM, View, photograph};
use lengthfilm::uncertainty::rounding::fixed;
use lengthfilm::units::FilmPoint;

use crate::desk::{Desk, Dropped, write_film};

/// The page with a photograph chosen in the window's chooser.
fn opened(path: &Path) -> Desk {
    let mut desk = Desk::start(None, None);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::B);
    desk.click("Choose photograph…");
    desk.type_text(&path.to_string_lossy());
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until("Corner 1, top left");
    desk
}

/// Where a corner stands, by what a screen reader says.
fn corner(desk: &Desk, index: usize) -> [f64; 2] {
    desk.place_of(&format!("Corner {}, ", index + 1))
}

/// Moves a corner by keys, to whole px from where it begins.
fn steer(desk: &mut Desk, index: usize, by: [i64; 2]) {
    desk.harness
        .get_by_label_contains(&format!("Corner {}, ", index + 1))
        .focus();
    desk.settle();
    let ways = [
        (by[0], Key::ArrowRight, Key::ArrowLeft),
        (by[1], Key::ArrowDown, Key::ArrowUp),
    ];
    for (way, plus, minus) in ways {
        let key = if way > 0 { plus } else { minus };
        for _ in 0..way.abs() / 10 {
            desk.key(Modifiers::SHIFT, key);
        }
        for _ in 0..way.abs() % 10 {
            desk.key(Modifiers::NONE, key);
        }
    }
}

/// A block seen askew: corners steered near to it, snapped, and written; every
/// number is the library's for the same corners.
#[test]
fn a_block_seen_askew_becomes_a_case_with_its_scale() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("block.png");
    let photo = photograph(&BlockSpec::random(31), false, &View::askew(77)).expect("a photograph");
    photo.film.save_png16(&path).expect("written");
    let film = film::open(&path, &OpenLimits::default())
        .expect("opens")
        .film;
    let mut desk = opened(&path);
    assert!(desk.says("Type the rectangle's width and height"));

    let [w, h] = [film.width_px(), film.height_px()].map(f64::from);
    let (near, far) = (0.12, 1.0 - 0.12);
    let mut corners = [[near, near], [far, near], [far, far], [near, far]]
        .map(|[x, y]| FilmPoint::new(x * w, y * h));
    for (index, (at, to)) in corners.iter_mut().zip(photo.corners_px).enumerate() {
        // Three px off: what snapping is for.
        let by = [to.x - at.x + 3.0, to.y - at.y - 3.0].map(|way| way.round() as i64);
        steer(&mut desk, index, by);
        *at = FilmPoint::new(at.x + by[0] as f64, at.y + by[1] as f64);
        let [x, y] = corner(&desk, index);
        assert!((x - at.x).abs() < 0.06 && (y - at.y).abs() < 0.06);
    }
    desk.type_into("Width of the rectangle", &FACE_MM[0].to_string());
    desk.key(Modifiers::NONE, Key::Enter);
    desk.type_into("Height of the rectangle", &FACE_MM[1].to_string());
    desk.key(Modifiers::NONE, Key::Enter);

    let mut request = Request {
        corners_px: corners,
        size_mm: FACE_MM,
        mm_per_px: None,
        margin_mm: 0.0,
        check: None,
        deeper: None,
        snapped: false,
    };
    let (width, height) = (film.width_px(), film.height_px());
    let said = |request: &Request| {
        let flattening = flattening(request.clone(), width, height).expect("a rectangle");
        let residual = edge_residual_px(&film, &request.corners_px);
        let facts = Facts::new(&flattening, residual);
        let scale = format!(
            "mm per px: {} (standard uncertainty {})",
            fixed(facts.mm_per_px, 5),
            fixed(facts.u_mm_per_px, 5)
        );
        let residual = facts.residual_px.expect("edges are seen");
        (
            scale,
            format!("Residual: {} px (edges)", fixed(residual, 2)),
            facts,
        )
    };
    let (scale, residual, by_hand) = said(&request);
    assert!(desk.says(&scale), "{scale}: {:?}", desk.texts());
    assert!(desk.says(&residual), "{residual}");
    assert!(desk.says("lens distortion is not corrected"));
    assert!(desk.says("a canal deeper in a block"));
    assert!(!desk.texts().iter().any(|text| text.contains("--")));

    desk.click("Snap to edges");
    request = snapped(&film, &request).expect("edges");
    let (scale, residual, facts) = said(&request);
    assert!(desk.says(&scale), "{scale}: {:?}", desk.texts());
    assert!(desk.says(&residual), "{residual}");
    assert!(
        facts.residual_px < by_hand.residual_px,
        "snapping has helped"
    );
    for index in 0..4 {
        let [x, y] = corner(&desk, index);
        let off = photo.corners_px[index].distance_px(FilmPoint::new(x, y));
        assert!(off < 0.5, "corner {}: {off} px", index + 1);
    }

    desk.click("Save flat picture and open it…");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until("Case opened");
    let flat = folder.path().join("block-flat.png");
    let written = film::open(&flat, &OpenLimits::default())
        .expect("opens")
        .film;
    let flattening = flattening(request, width, height).expect("a rectangle");
    let expected = flat_film(&film, &flattening).expect("a picture");
    assert_eq!(written.samples(), expected.samples());
    assert!(folder.path().join("block-flat.facts.json").exists());
    let case = case::load(&folder.path().join("block-flat.case.json")).expect("a case");
    assert_eq!(case.film.pixel_pitch_mm, Some([facts.mm_per_px; 2]));
    assert_eq!(desk.case().film.pixel_pitch_mm, case.film.pixel_pitch_mm);
}

/// Corners that cross are no rectangle, a picture without edges has none to
/// snap to, and both are said.
#[test]
fn what_is_no_rectangle_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = write_film(folder.path(), "plain.png", 400, 400);
    let mut desk = opened(&path);
    desk.click("Film packet 2, 31 × 41 mm");
    assert!(desk.says("mm per px: "));
    steer(&mut desk, 0, [350, 0]);
    assert!(desk.says("Not possible: "), "{:?}", desk.texts());
    steer(&mut desk, 0, [-350, 0]);
    desk.click("Snap to edges");
    assert!(
        desk.says("is not seen well enough to snap to"),
        "{:?}",
        desk.texts()
    );
}

/// A fifth mark whose place is known tells how far it lies from there, as the
/// library does, and a wrong place is warned of.
#[test]
fn a_fifth_mark_checks_the_corners() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("block.png");
    let photo = photograph(&BlockSpec::random(31), false, &View::askew(77)).expect("a photograph");
    photo.film.save_png16(&path).expect("written");
    let film = film::open(&path, &OpenLimits::default())
        .expect("opens")
        .film;
    // Dropped on the page, it is the photograph and no case.
    let mut desk = Desk::start(None, None);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::B);
    assert!(desk.says("or drop one here"));
    desk.harness
        .input_mut()
        .dropped_files
        .push(Arc::new(Dropped(path.clone())));
    desk.wait_until("Corner 1, top left");
    desk.type_into("Width of the rectangle", &FACE_MM[0].to_string());
    desk.key(Modifiers::NONE, Key::Enter);
    desk.type_into("Height of the rectangle", &FACE_MM[1].to_string());
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(!desk.says("Fifth mark, at"));
    desk.click("Fifth mark to check");
    // Where it appears it says nothing: it would agree with any corners.
    assert!(desk.says("Drag mark 5 onto a place that you know"));
    assert!(!desk.says("(fifth mark)"), "{:?}", desk.texts());
    desk.harness.get_by_label_contains("Fifth mark, at").focus();
    desk.settle();
    for _ in 0..3 {
        desk.key(Modifiers::SHIFT, Key::ArrowRight);
    }
    assert!(desk.says("(fifth mark)"));
    let [x, y] = desk.place_of("Fifth mark, at");
    let said = |at_mm: [f64; 2]| {
        let [w, h] = [film.width_px(), film.height_px()].map(f64::from);
        let (near, far) = (0.12, 1.0 - 0.12);
        let corners_px = [[near, near], [far, near], [far, far], [near, far]]
            .map(|[x, y]| FilmPoint::new(x * w, y * h));
        let request = Request {
            corners_px,
            size_mm: FACE_MM,
            mm_per_px: None,
            margin_mm: 0.0,
            check: Some((FilmPoint::new(x, y), at_mm)),
            deeper: None,
            snapped: false,
        };
        let flat = flattening(request, film.width_px(), film.height_px()).expect("a rectangle");
        let residual = flat.check_residual_px.expect("checked");
        format!("Residual: {} px", fixed(residual, 1))
    };
    let shown = |desk: &Desk, said: &str| {
        let said = said.trim_end_matches(" px");
        let digits = said.len() - 2;
        desk.says(&said[..digits])
    };
    assert!(
        shown(&desk, &said([0.5 * FACE_MM[0], 0.5 * FACE_MM[1]])),
        "{:?}",
        desk.texts()
    );
    desk.type_into("Mark from the left side", "2");
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(
        shown(&desk, &said([2.0, 0.5 * FACE_MM[1]])),
        "{:?}",
        desk.texts()
    );
    assert!(desk.says("the fifth mark lies"));
    desk.click("Fifth mark to check");
    assert!(!desk.says("the fifth mark lies"));
}
