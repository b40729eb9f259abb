//! Photographs made flat, against the view they were rendered from.

use assert_cmd::Command;
use lengthfilm::flatten::{
    Facts, FlattenError, Request, edge_residual_px, flat_film, flattening, snapped,
};
use lengthfilm::phantom::block::{BlockSpec, BlockTruth, FACE_MM, View, photograph, write};
use lengthfilm::units::FilmPoint;

fn request(corners_px: [FilmPoint; 4]) -> Request {
    Request {
        corners_px,
        size_mm: FACE_MM,
        mm_per_px: None,
        margin_mm: 0.0,
        check: None,
        deeper: None,
        snapped: false,
    }
}

fn spec() -> BlockSpec {
    BlockSpec::random(5)
}

/// Marks and walls come to lie where the block has them.
#[test]
fn a_rendered_block_comes_out_flat() {
    let view = View::askew(11);
    let photo = photograph(&spec(), false, &view).unwrap();
    let [w, h] = view.size_px;
    let flattening = flattening(request(photo.corners_px), w, h).unwrap();
    for (mark, px) in BlockTruth::new(&spec()).marks().iter().zip(photo.marks_px) {
        let found = flattening.flat_from_photo(px).unwrap();
        let off =
            (found.x * flattening.pitch_mm - mark.x).hypot(found.y * flattening.pitch_mm - mark.y);
        assert!(off < 1e-9, "{off}");
        let back = flattening.photo_from_flat(found).unwrap();
        assert!(back.distance_px(px) < 1e-6);
    }
    // The picture itself: a mark's dark disc has its centre of darkness there.
    let flat = flat_film(&photo.film, &flattening).unwrap();
    for mark in BlockTruth::new(&spec()).marks() {
        let (x, y) = (mark.x / flattening.pitch_mm, mark.y / flattening.pitch_mm);
        let (mut sum, mut at) = (0.0, [0.0, 0.0]);
        for row in (y - 25.0) as u32..(y + 25.0) as u32 {
            for column in (x - 25.0) as u32..(x + 25.0) as u32 {
                let dark = (165.0 * 257.0 - f64::from(flat.sample(column, row).unwrap())).max(0.0);
                sum += dark;
                at[0] += dark * (f64::from(column) + 0.5);
                at[1] += dark * (f64::from(row) + 0.5);
            }
        }
        let off = (at[0] / sum - x).hypot(at[1] / sum - y);
        assert!(off < 0.15, "{off} px");
    }
    let residual = edge_residual_px(&photo.film, &photo.corners_px).unwrap();
    assert!(residual < 0.3, "{residual} px");
}

/// Corners placed up to 4 px off are snapped to the rendered block's corners.
#[test]
fn corners_snap_to_the_edges() {
    for seed in 1..=6 {
        let view = View::askew(seed);
        let photo = photograph(&spec(), seed % 2 == 0, &view).unwrap();
        let off = [(3.0, -4.0), (-4.0, 2.0), (2.5, 3.0), (-3.0, -3.0)];
        let mut corners = photo.corners_px;
        for (c, (dx, dy)) in corners.iter_mut().zip(off) {
            *c = FilmPoint::new(c.x + dx, c.y + dy);
        }
        let before = edge_residual_px(&photo.film, &corners).unwrap();
        let found = snapped(&photo.film, &request(corners)).unwrap();
        for (c, truth) in found.corners_px.iter().zip(photo.corners_px) {
            assert!(c.distance_px(truth) < 0.3, "{c:?} {truth:?}");
        }
        assert!(edge_residual_px(&photo.film, &found.corners_px).unwrap() < 0.5 * before);
    }
}

/// A fifth mark tells of a corner 20 px off, and of a wrong size only where it
/// is not in the middle.
#[test]
fn the_fifth_mark_checks() {
    let view = View::askew(3);
    let photo = photograph(&spec(), false, &view).unwrap();
    let [w, h] = view.size_px;
    let mark = BlockTruth::new(&spec()).marks()[2];
    let mut good = request(photo.corners_px);
    good.check = Some((photo.marks_px[2], [mark.x, mark.y]));
    let right = flattening(good.clone(), w, h).unwrap();
    assert!(right.check_residual_px.unwrap() < 1e-6 && right.warnings.is_empty());
    good.corners_px[2].x -= 20.0;
    let wrong = flattening(good, w, h).unwrap();
    assert!(wrong.check_residual_px.unwrap() > 10.0);
    assert!(wrong.warnings.iter().any(|w| w.code == "check_mark"));
    let facts = Facts::new(&right, None);
    assert_eq!(facts.residual_source, Some("fifth mark"));
    let unchecked = flattening(request(photo.corners_px), w, h).unwrap();
    let facts = Facts::new(&unchecked, None);
    assert_eq!(facts.residual_px, None);
    assert!(facts.warnings.iter().any(|w| w.code == "no_residual"));
}

/// DERIVED: a canal z deeper than the face under a camera at D has its mm per
/// px larger by 1 + z/D.
#[test]
fn a_deeper_canal_has_a_larger_scale() {
    let view = View::askew(3);
    let corners = photograph(&spec(), false, &view).unwrap().corners_px;
    let [w, h] = view.size_px;
    let face = flattening(request(corners), w, h).unwrap();
    let deeper = Request {
        deeper: Some((5.0, 250.0)),
        ..request(corners)
    };
    let deeper = flattening(deeper, w, h).unwrap();
    assert!((deeper.mm_per_px / face.mm_per_px - 1.02).abs() < 1e-12);
    assert_eq!(deeper.pitch_mm, face.pitch_mm);
}

#[test]
fn corners_that_are_none_are_refused() {
    let at = |x: f64, y: f64| FilmPoint::new(x, y);
    let good = [
        at(10.0, 10.0),
        at(90.0, 12.0),
        at(92.0, 88.0),
        at(9.0, 91.0),
    ];
    let ask = |corners| flattening(request(corners), 100, 100);
    assert!(ask(good).is_ok());
    let [a, b, c, d] = good;
    assert_eq!(ask([a, d, c, b]), Err(FlattenError::Anticlockwise));
    assert_eq!(ask([a, c, b, d]), Err(FlattenError::NoRectangle));
    assert_eq!(ask([a, b, b, d]), Err(FlattenError::NoRectangle));
    assert!(matches!(
        ask([a, b, at(190.0, 88.0), d]),
        Err(FlattenError::Outside { number: 3, .. })
    ));
    assert!(matches!(
        ask([a, b, at(f64::NAN, 88.0), d]),
        Err(FlattenError::Outside { .. })
    ));
    let mut sized = request(good);
    sized.size_mm = [0.0, 35.0];
    assert!(matches!(
        flattening(sized, 100, 100),
        Err(FlattenError::OutOfRange { .. })
    ));
}

/// The command: picture, facts and case; wrong use in one line each.
#[test]
fn the_command_writes_picture_facts_and_case() {
    let folder = tempfile::tempdir().unwrap();
    let files = write(&spec(), Default::default(), folder.path()).unwrap();
    let truth: serde_json::Value =
        serde_json::from_slice(&std::fs::read(&files.truth).unwrap()).unwrap();
    let corners: Vec<String> = (truth["photographs"][0]["corners_px"].as_array().unwrap())
        .iter()
        .map(|c| format!("{},{}", c[0], c[1]))
        .collect();
    let out = folder.path().join("flat.png");
    let case = folder.path().join("flat.case.json");
    let command = |corners: &[String], size: &str| {
        let mut command = Command::cargo_bin("lengthfilm").unwrap();
        command.arg("flatten").arg(&files.before);
        for corner in corners {
            command.args(["--corner", corner]);
        }
        command
            .args(["--size-mm", size, "--json", "--out"])
            .arg(&out)
            .arg("--case")
            .arg(&case);
        command
    };
    let done = command(&corners, "14x26").assert().success();
    let facts: serde_json::Value = serde_json::from_slice(&done.get_output().stdout).unwrap();
    let pitch = facts["mm_per_px"].as_f64().unwrap();
    assert!((1.0 / 46.0..1.0 / 40.0).contains(&pitch), "{pitch}");
    assert!(facts["residual_px"].as_f64().unwrap() < 0.5);
    let beside: serde_json::Value =
        serde_json::from_slice(&std::fs::read(folder.path().join("flat.facts.json")).unwrap())
            .unwrap();
    assert_eq!(beside["facts"]["mm_per_px"].as_f64(), Some(pitch));
    let written = lengthfilm::case::load(&case).unwrap();
    assert_eq!(written.film.pixel_pitch_mm, Some([pitch; 2]));
    assert_eq!(written.film.path, "flat.png");

    let line = |command: &mut Command| {
        let failed = command.assert().failure().code(1);
        let text = String::from_utf8(failed.get_output().stderr.clone()).unwrap();
        assert_eq!(text.lines().count(), 1, "{text}");
        text
    };
    assert!(line(&mut command(&corners, "14x26")).contains("exists already"));
    assert!(line(command(&corners[..3], "14x26").arg("--replace")).contains("give four"));
    let mut turned = corners.clone();
    turned.reverse();
    assert!(line(command(&turned, "14x26").arg("--replace")).contains("anticlockwise"));
    command(&corners, "14").assert().failure().code(2);
}
