//! The page of two films of one canal.

use std::path::{Path, PathBuf};
use std::process::Command;

use egui::{Key, Modifiers, Pos2};
use egui_kittest::kittest::{NodeT, Queryable};
use lengthfilm::case;
use lengthfilm::desktop::StartWith;
use lengthfilm::film::dicom::{IntraOralFilm, write_intra_oral};
use lengthfilm::film::{Film, Polarity};
use lengthfilm::tooth::{ToothNotation, ToothNumber};
use lengthfilm::uncertainty::rounding::with_u95;
use lengthfilm::units::Quantity;
use serde_json::{Value, json};

use crate::desk::{Desk, write_film};

const MM_PER_PX: f64 = 0.03;
/// Where the middle of space shows on both films, px.
const MIDDLE_PX: [f64; 2] = [600.0, 560.0];

/// Places along a straight piece and an arc of 35° with radius 8 in a plane
/// turned by 50°: across film A, in depth, down.
fn places() -> Vec<[f64; 3]> {
    let plane = 50f64.to_radians();
    (0..14)
        .map(|i| {
            let along = f64::from(i) - 8.0;
            let turn = (along / 8.0).max(0.0);
            let aside = 8.0 * (1.0 - turn.cos());
            let down = if along < 0.0 { along } else { 8.0 * turn.sin() };
            [aside * plane.cos(), aside * plane.sin(), down]
        })
        .collect()
}

/// Where they show on a film taken from `angle_deg`, by parallel rays.
fn shown_px(angle_deg: f64) -> Vec<[f64; 2]> {
    let (sine, cosine) = angle_deg.to_radians().sin_cos();
    let px = |[x, y, z]: [f64; 3]| {
        let u = x * cosine + y * sine;
        [MIDDLE_PX[0] + u / MM_PER_PX, MIDDLE_PX[1] + z / MM_PER_PX]
    };
    places().into_iter().map(px).collect()
}

/// Two films `angle_deg` apart with their cases, the second changed by
/// `change`.
fn pair(angle_deg: f64, change: impl FnOnce(&mut Value)) -> (tempfile::TempDir, [PathBuf; 2]) {
    let folder = tempfile::tempdir().expect("a folder");
    let case = |name: &str, width: u32, angle_deg: f64| {
        write_film(folder.path(), &format!("{name}.png"), width, 1250);
        let points = shown_px(angle_deg);
        json!({
            "format": "lengthfilm-case",
            "version": 1,
            "film": {
                "path": format!("{name}.png"),
                "pixel_pitch_mm": [MM_PER_PX, MM_PER_PX],
            },
            "canals": [{
                "name": "P",
                "trace_px": points,
                "apex_px": points[points.len() - 1],
                "reference_px": [MIDDLE_PX[0], MIDDLE_PX[1] - 10.0 / MM_PER_PX],
            }],
        })
    };
    let mut cases = [case("a", 1200, 0.0), case("b", 1210, angle_deg)];
    change(&mut cases[1]);
    let paths = ["a", "b"].map(|name| folder.path().join(format!("{name}.case.json")));
    for (path, case) in paths.iter().zip(&cases) {
        std::fs::write(path, case.to_string()).expect("writes");
    }
    (folder, paths)
}

/// The page with the second case chosen and the angle typed.
fn open_page(first: &Path, angle_deg: &str) -> Desk {
    let mut desk = Desk::start(Some(StartWith::Case(first.to_owned())), None);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::T);
    assert!(desk.says("Choose the case of a second film"));
    desk.click("Choose its case…");
    desk.type_text("b.case.json");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until("State the angle between the films");
    assert!(
        desk.case().second_film.is_none(),
        "no angle, no second film"
    );
    desk.type_into("Angle between the films", angle_deg);
    desk.key(Modifiers::NONE, Key::Tab);
    desk
}

/// The label of the widget whose name begins so.
fn label_of(desk: &Desk, begins: &str) -> String {
    let node = desk.harness.get_by_label_contains(begins);
    node.accesskit_node().label().expect("named")
}

/// Every line that the command prints stands on the page, warnings too; the
/// case remembers the pair.
#[test]
fn everything_that_the_command_prints_is_shown() {
    let (_folder, [first, _]) = pair(40.0, |_| {});
    let mut desk = open_page(&first, "40");
    desk.wait_until("Length in space");
    desk.click("Source of film A is buccal");
    desk.wait_until("buccal");
    desk.save_to(&first);
    let stored = case::load(&first).expect("reads").second_film;
    let stored = stored.expect("remembered");
    assert_eq!(
        (stored.case.as_str(), stored.angle_deg),
        ("b.case.json", 40.0)
    );

    let output = Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
        .arg("two-view")
        .arg(&first)
        .output()
        .expect("runs");
    assert!(output.status.success(), "{output:?}");
    let printed = String::from_utf8(output.stdout).expect("text");
    let mut lines = 0;
    for line in printed.lines().skip(1) {
        let said = line.trim().trim_start_matches("Check: ");
        assert!(desk.says(said), "{said}: {:#?}", desk.texts());
        lines += 1;
    }
    assert!(lines >= 9, "{printed}");
    assert!(desk.says("film A hides"), "{:#?}", desk.texts());
    // As one step it is undone.
    desk.key(Modifiers::COMMAND, Key::Z);
    let source = |desk: &Desk| desk.case().second_film.as_ref().and_then(|s| s.source_is);
    assert_eq!(source(&desk), None);
}

/// Where film A is pointed at, a line shows on film B, and that of a point of
/// the canal runs through the same point there.
#[test]
fn the_height_of_what_is_pointed_at_shows_on_the_other_film() {
    let (_folder, [first, _]) = pair(25.0, |_| {});
    let mut desk = open_page(&first, "25");
    desk.wait_until("Length in space");
    let handle = |desk: &Desk, index: usize| -> (Pos2, [f64; 2]) {
        let [x, y] = shown_px(0.0)[index];
        let name = format!("on film A, at {x:.0}, {y:.0} px");
        let place = desk.harness.get_by_label_contains(&name).rect().center();
        (place, [x, y])
    };
    for index in [2, 6, 11] {
        let (pos, _) = handle(&desk, index);
        desk.harness.hover_at(pos);
        desk.settle();
        let label = label_of(&desk, "the place pointed at on film A lies on the line");
        let numbers: Vec<f64> = label
            .split(|c: char| !(c.is_ascii_digit() || c == '.' || c == '-'))
            .filter_map(|word| word.parse().ok())
            .collect();
        let [x1, y1, x2, y2] = numbers[..] else {
            panic!("{label}");
        };
        let [x, y] = shown_px(25.0)[index];
        let share = (x - x1) / (x2 - x1);
        assert!((0.0..=1.0).contains(&share), "{label}, {x}");
        let height = y1 + share * (y2 - y1);
        assert!((height - y).abs() < 3.0, "{label}: {height} for {y}");
    }

    // A point moved on film A is one step of the case.
    let (from, [x, y]) = handle(&desk, 4);
    let before = desk.case().clone();
    desk.drag_screen(from, from + egui::vec2(12.0, 0.0));
    let moved = desk.case().canals[0].trace_px[4];
    assert!(moved.x > x + 4.0 && (moved.y - y).abs() < 1.5, "{moved:?}");
    assert!(desk.says("Length in space"));
    desk.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(desk.case().canals, before.canals);
}

/// The canal in space is turned by a drag and by buttons.
#[test]
fn the_view_in_depth_is_turned() {
    let (_folder, [first, _]) = pair(40.0, |_| {});
    let mut desk = open_page(&first, "40");
    desk.wait_until("Length in space");
    desk.click("As film B");
    assert!(desk.says("turned by 40° about the axis, tipped by 0°"));
    let place = desk
        .harness
        .get_by_label_contains("Canal in space, turned")
        .rect()
        .center();
    desk.drag_screen(place, place + egui::vec2(50.0, 0.0));
    assert!(!desk.says("turned by 40° about the axis"));
    assert!(desk.says("tipped by 0°"));
}

/// A pair that cannot be used is refused in plain words, and a doubtful one is
/// warned of.
#[test]
fn what_does_not_fit_is_said() {
    let (_folder, [first, _]) = pair(40.0, |case| {
        case["canals"][0]["name"] = json!("MB");
    });
    let mut desk = open_page(&first, "40");
    desk.wait_until("no canal has the same name in both cases");

    let (_folder, [first, _]) = pair(40.0, |case| {
        case["film"]
            .as_object_mut()
            .expect("a film")
            .remove("pixel_pitch_mm");
    });
    let mut desk = open_page(&first, "40");
    desk.wait_until("the film has no scale");

    let (_folder, [first, _]) = pair(40.0, |_| {});
    let mut desk = open_page(&first, "2");
    desk.wait_until("hold no depth");
    desk.type_into("Angle between the films", "40");
    desk.wait_until("Length in space");
    assert!(!desk.says("hold no depth"));
}

/// Files are bent along the course in space where the case remembers a second
/// film: the page says so, with the command's numbers.
#[test]
fn files_are_bent_along_the_course_in_space() {
    let (_folder, [first, _]) = pair(40.0, |_| {});
    let text = std::fs::read_to_string(&first).expect("reads");
    let mut case: Value = serde_json::from_str(&text).expect("JSON");
    case["second_film"] = json!({"case": "b.case.json", "angle_deg": 40.0});
    case["canals"][0]["shaping_files"] = json!([{"size": 25, "taper": 0.06}]);
    std::fs::write(&first, case.to_string()).expect("writes");
    let mut desk = Desk::start(Some(StartWith::Case(first.clone())), None);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::I);
    desk.wait_until("course in space from two films");

    let output = Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
        .args(["instrument", "--json"])
        .arg(&first)
        .output()
        .expect("runs");
    assert!(output.status.success(), "{output:?}");
    let found: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let strain = &found["canals"][0]["files"][0]["peak_strain_percent"];
    let number = |key: &str| strain[key].as_f64().expect("a number");
    let strain = Quantity {
        value: number("value"),
        u95: number("u95"),
    };
    let said = format!("bent to about {} here", with_u95(strain, "%"));
    assert!(desk.says(&said), "{said}: {:#?}", desk.texts());
}

/// A DICOM film of a patient, with the case of a canal on it.
fn write_patient(folder: &Path, name: &str, patient: &str, angle_deg: f64) -> PathBuf {
    let samples = vec![20_000; 1200 * 1250];
    let film = Film::from_samples(1200, 1250, 16, Polarity::HighIsOpaque, samples);
    let facts = IntraOralFilm {
        imager_pixel_spacing_mm: [MM_PER_PX; 2],
        source_to_detector_mm: None,
        source_to_patient_mm: None,
        estimated_magnification: None,
        tooth: ToothNumber::parse(ToothNotation::Fdi, "43").expect("a tooth"),
        phantom_name: patient.to_owned(),
        seed: name.bytes().map(u64::from).sum(),
    };
    let film_path = folder.join(format!("{name}.dcm"));
    write_intra_oral(&film_path, &film.expect("counts fit"), &facts).expect("written");
    let points = shown_px(angle_deg);
    let case = json!({
        "format": "lengthfilm-case",
        "version": 1,
        "film": {"path": format!("{name}.dcm")},
        "canals": [{"name": "P", "trace_px": points, "apex_px": points[points.len() - 1]}],
    });
    let path = folder.join(format!("{name}.case.json"));
    std::fs::write(&path, case.to_string()).expect("writes");
    path
}

/// A second film of somebody else is refused as soon as it is chosen, in the
/// report as well, and no name is repeated.
#[test]
fn a_film_of_another_patient_is_refused_before_anything_else_is_asked() {
    let folder = tempfile::tempdir().expect("a folder");
    let first = write_patient(folder.path(), "a", "PHANTOM-QUILLON", 0.0);
    let second = write_patient(folder.path(), "b", "PHANTOM-ZZYZX", 40.0);
    let mut desk = Desk::start(Some(StartWith::Case(first.clone())), None);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::T);
    desk.click("Choose its case…");
    desk.type_text("b.case.json");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until("the films state different patients");
    assert!(!desk.says("Angle between the films"), "{:?}", desk.texts());
    assert!(desk.case().second_film.is_none());
    assert!(!desk.texts().iter().any(|text| text.contains("ZZYZX")));

    // Nor does it get the first one's canals.
    let film = folder.path().join("b.dcm");
    desk.click("Forget");
    desk.click("Duplicate for a second film…");
    desk.type_text(&film.to_string_lossy());
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until("this film states another patient");
    assert!(desk.case().film.path.ends_with("a.dcm"));

    // Nor does the command put them together.
    let output = Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
        .arg("two-view")
        .args([&first, &second])
        .args(["--angle-deg", "40"])
        .output()
        .expect("runs");
    let said = String::from_utf8(output.stderr).expect("text");
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(
        said.contains("the films state different patients"),
        "{said}"
    );
    assert!(
        !said.contains("ZZYZX") && !said.contains("QUILLON"),
        "{said}"
    );

    // A case that remembers such a pair: the report says why it is not used.
    let mut case: Value =
        serde_json::from_str(&std::fs::read_to_string(&first).expect("reads")).expect("JSON");
    case["second_film"] = json!({"case": "b.case.json", "angle_deg": 40.0});
    std::fs::write(&first, case.to_string()).expect("writes");
    let report = folder.path().join("report.html");
    let output = Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
        .arg("report")
        .arg(&first)
        .arg("--out")
        .arg(&report)
        .output()
        .expect("runs");
    assert!(output.status.success(), "{output:?}");
    let text = std::fs::read_to_string(&report).expect("written");
    assert!(
        text.contains("the films state different patients"),
        "{text}"
    );
    assert!(!text.contains("in space from this film"));
    assert!(second.exists());
}
