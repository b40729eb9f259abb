//! Before and after shaping in the window: marks and walls placed, two cases
//! compared, the record saved.

use std::path::{Path, PathBuf};

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use lengthfilm::case::{self, Case};
use lengthfilm::desktop::StartWith;
use lengthfilm::film::{Film, Polarity};
use lengthfilm::phantom::block::BlockSpec;
use lengthfilm::shaping::{self, ShapingFindings, ShapingSettings};
use lengthfilm::uncertainty::rounding::{fixed, with_u95};
use lengthfilm::units::FilmPoint;

use crate::block_pairs::{CLICK_MM, clicked, scanned};
use crate::desk::{Desk, write_film};

/// Two cases of one block on an even film.
fn write_pair(folder: &Path, change: impl Fn(&mut Case, bool)) -> [PathBuf; 2] {
    let samples = vec![9000; 1400 * 1500];
    let film = Film::from_samples(1400, 1500, 16, Polarity::HighIsOpaque, samples);
    let film = film.expect("counts fit");
    film.save_png16(&folder.join("block.png")).expect("written");
    let [before, after] = clicked(&BlockSpec::random(23), CLICK_MM, false);
    [(before, false), (after, true)].map(|(mut picture, is_after)| {
        change(&mut picture.case, is_after);
        let name = if is_after { "after" } else { "before" };
        let path = folder.join(format!("{name}.case.json"));
        case::save(&picture.case, &path).expect("saved");
        path
    })
}

/// The page with the first case open and the second chosen in the window.
fn compared([before, after]: &[PathBuf; 2]) -> Desk {
    let mut desk = Desk::start(Some(StartWith::Case(before.clone())), None);
    desk.key(Modifiers::COMMAND, Key::B);
    assert!(
        desk.says("Before: before.case.json, 4 marks"),
        "{:?}",
        desk.texts()
    );
    assert!(desk.says("After: no case yet"));
    desk.click("Quick (400 draws)");
    choose(&mut desk, after, "After: after.case.json");
    desk
}

/// Chooses the case after in the window's chooser by its path, until a text
/// shows and all is quiet.
fn choose(desk: &mut Desk, path: &Path, shows: &str) {
    desk.click("Choose the case after");
    desk.type_text(&path.to_string_lossy());
    desk.key(Modifiers::NONE, Key::Enter);
    desk.wait_until(shows);
    desk.settle();
}

/// What the library says of the same two files.
fn by_the_library([before, after]: &[PathBuf; 2]) -> ShapingFindings {
    let mut settings = ShapingSettings {
        draws: 400,
        ..ShapingSettings::default()
    };
    settings.measure.draws = 400;
    let found = shaping::compare_files(before, after, &settings, false);
    found.expect("comparable").0.findings
}

#[test]
fn the_page_shows_what_the_library_finds() {
    let folder = tempfile::tempdir().expect("a folder");
    let pair = write_pair(folder.path(), |_, _| {});
    let mut desk = compared(&pair);
    let found = by_the_library(&pair);
    let registration = &found.registration;
    let mm = |mm: Option<f64>| format!("{} mm", fixed(mm.expect("a scale"), 3));
    for said in [
        format!(
            "Predicted error at the apex: {}",
            mm(registration.error_at_apex_mm)
        ),
        format!("Residual of the marks: {}", mm(registration.residual_mm)),
        format!(
            "Mark that fits worst: {}: {}",
            registration.worst_mark,
            mm(registration.worst_mark_off_mm)
        ),
    ] {
        assert!(desk.says(&said), "{said}: {:?}", desk.texts());
    }
    let canal = &found.canals[0];
    assert!(canal.levels.len() >= 12, "{}", canal.levels.len());
    for level in &canal.levels {
        let at = fixed(level.from_end_mm, 1);
        for (name, quantity) in [
            ("width before", level.width_before_mm),
            ("width after", level.width_after_mm),
            ("removed left", level.removed_left_mm),
            ("removed right", level.removed_right_mm),
            ("transport", level.transport_mm),
        ] {
            let value = quantity.map_or("–".to_owned(), |q| with_u95(q, ""));
            let said = format!("{at} mm, {name}: {}", value.trim_end());
            assert!(desk.says(&said), "{said}");
        }
    }
    for finding in &canal.findings {
        assert!(desk.says(&finding.text), "{}", finding.text);
    }
    let change = with_u95(canal.length_change_mm.expect("traced twice"), "mm");
    assert!(desk.says(&format!("Change of length: {change}")));
    for (plot, count) in [
        (
            "Removed",
            canal
                .levels
                .iter()
                .filter(|l| l.removed_left_mm.is_some())
                .count(),
        ),
        (
            "Transport",
            canal
                .levels
                .iter()
                .filter(|l| l.transport_mm.is_some())
                .count(),
        ),
        (
            "Centring",
            canal
                .levels
                .iter()
                .filter(|l| l.centring_ratio.is_some())
                .count(),
        ),
    ] {
        let texts = desk.texts();
        let said = format!(", {count} levels of canal A");
        let is_plot =
            |text: &String| text.starts_with(&format!("Plot. {plot}")) && text.ends_with(&said);
        assert!(texts.iter().any(is_plot), "{plot} {count}: {texts:?}");
    }

    for (mode, shown) in [
        ("Overlay", "Shown: Before and after"),
        ("Split", "Shown: Before left, after right of the line"),
    ] {
        desk.click(mode);
        assert!(desk.says(shown), "{mode}");
    }
    desk.click("Side by side");
    assert!(desk.says("Shown: Before") && desk.says("Shown: After"));

    // Exchanged, what was removed has come back.
    desk.click("Exchange");
    desk.settle();
    let [before, after] = pair;
    let other = by_the_library(&[after, before]);
    let level = &other.canals[0].levels[3];
    let transport = with_u95(level.transport_mm.expect("walls"), "");
    let said = format!("3.0 mm, transport: {}", transport.trim_end());
    assert!(desk.says(&said), "{said}");
}

#[test]
fn records_are_those_of_the_command() {
    let folder = tempfile::tempdir().expect("a folder");
    let pair = write_pair(folder.path(), |_, _| {});
    let mut desk = compared(&pair);
    for (button, name) in [
        ("Save table (CSV)…", "levels.csv"),
        ("Save report (PDF)…", "shaping.pdf"),
    ] {
        desk.click(button);
        desk.key(Modifiers::COMMAND, Key::A);
        desk.type_text(name);
        desk.key(Modifiers::NONE, Key::Enter);
        desk.wait_until(name);
        let begun = std::time::Instant::now();
        while !folder.path().join(name).exists() {
            assert!(begun.elapsed().as_secs() < 20, "{name} is not written");
            std::thread::sleep(std::time::Duration::from_millis(20));
            desk.settle();
        }
    }
    let written = std::fs::read(folder.path().join("levels.csv")).expect("written");
    assert_eq!(written, shaping::csv(&by_the_library(&pair)));
    let pdf = std::fs::read(folder.path().join("shaping.pdf")).expect("written");
    assert!(pdf.starts_with(b"%PDF-"));
}

/// Why two films cannot be compared is said in plain words, without options of
/// a command.
#[test]
fn refusals_are_said_in_plain_words() {
    type Change = fn(&mut Case, bool);
    let cases: [(&str, Change); 5] = [
        ("2 marks on both; place at least three", |case, is_after| {
            if is_after {
                case.marks.truncate(2);
            }
        }),
        ("the marks lie in a line", |case, _| {
            for (i, mark) in case.marks.iter_mut().enumerate() {
                mark.px = FilmPoint::new(200.0 + 90.0 * i as f64, 300.0);
            }
        }),
        ("the marks do not fit", |case, is_after| {
            if is_after {
                case.marks[1].px.x += 180.0;
                case.marks[2].px.y -= 150.0;
            }
        }),
        ("the left and the right wall cross", |case, _| {
            let walls = case.canals[0].walls.as_mut().expect("walls");
            std::mem::swap(&mut walls.left_px, &mut walls.right_px);
        }),
        ("before and after do not overlap", |case, is_after| {
            if is_after {
                for p in &mut case.canals[0].trace_px {
                    p.x += 500.0;
                }
            }
        }),
    ];
    for (said, change) in cases {
        let folder = tempfile::tempdir().expect("a folder");
        let [before, after] = write_pair(folder.path(), change);
        let mut desk = Desk::start(Some(StartWith::Case(before)), None);
        desk.key(Modifiers::COMMAND, Key::B);
        desk.click("Quick (400 draws)");
        choose(&mut desk, &after, "After: after.case.json");
        assert!(desk.says("Not compared: "), "{said}: {:?}", desk.texts());
        assert!(desk.says(said), "{said}: {:?}", desk.texts());
        assert!(!desk.texts().iter().any(|text| text.contains("--")));
    }
}

/// Walls that no case has are followed only when that is ticked; on an even
/// film there are none, which is said.
#[test]
fn missing_walls_are_named_and_followed_on_request() {
    let folder = tempfile::tempdir().expect("a folder");
    let pair = write_pair(folder.path(), |case, _| case.canals[0].walls = None);
    let mut desk = compared(&pair);
    assert!(desk.says("walls are not traced on both films"));
    desk.click("Follow walls");
    desk.settle();
    assert!(desk.says("Not compared: canal A"), "{:?}", desk.texts());
    assert!(desk.says("trace them by hand"));
}

#[test]
fn a_film_is_no_case() {
    let folder = tempfile::tempdir().expect("a folder");
    let pair = write_pair(folder.path(), |_, _| {});
    let film = write_film(folder.path(), "other.png", 700, 700);
    let mut desk = Desk::start(Some(StartWith::Case(pair[0].clone())), None);
    desk.key(Modifiers::COMMAND, Key::B);
    choose(&mut desk, &film, "choose a case, not a film");
    assert!(desk.says("After: no case yet"));
}

/// Marks and walls are placed on the film by mouse, in the case as undoable
/// steps, and are what the comparison takes.
#[test]
fn marks_and_walls_are_placed_on_the_film() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "block.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.key(Modifiers::NONE, Key::P);
    assert!(desk.says("Click mark 1"));
    let marks = [
        (300.0, 200.0),
        (900.0, 210.0),
        (890.0, 1100.0),
        (310.0, 1090.0),
    ];
    for (x, y) in marks {
        desk.click_film(x, y);
    }
    assert!(desk.says("Click mark 5"));
    desk.key(Modifiers::NONE, Key::Escape);
    let case = desk.case();
    let names: Vec<&str> = case.marks.iter().map(|mark| mark.name.as_str()).collect();
    assert_eq!(names, ["1", "2", "3", "4"]);
    for (mark, (x, y)) in case.marks.iter().zip(marks) {
        assert!(mark.px.distance_px(FilmPoint::new(x, y)) < 0.05, "{mark:?}");
    }
    // Dragged like any point.
    desk.drag_film([300.0, 200.0], [320.0, 230.0]);
    assert!(
        desk.case().marks[0]
            .px
            .distance_px(FilmPoint::new(320.0, 230.0))
            < 0.05
    );

    desk.key(Modifiers::NONE, Key::T);
    for y in [300.0, 600.0, 900.0] {
        desk.click_film(600.0, y);
    }
    desk.key(Modifiers::NONE, Key::Enter);
    desk.key(Modifiers::NONE, Key::W);
    assert!(desk.says("click along the left wall"));
    // Down the film the left wall is at the greater x; it is drawn at the
    // lesser one here, and comes out right.
    for y in [310.0, 600.0, 890.0] {
        desk.click_film(570.0, y);
    }
    desk.key(Modifiers::NONE, Key::Enter);
    assert!(
        desk.says("click along the right wall"),
        "the other one is next"
    );
    for y in [310.0, 600.0, 890.0] {
        desk.click_film(630.0, y);
    }
    desk.key(Modifiers::NONE, Key::Enter);
    let walls = desk.case().canals[0].walls.clone().expect("two walls");
    assert!(
        walls.left_px.iter().all(|p| (p.x - 630.0).abs() < 0.05),
        "{walls:?}"
    );
    assert!(walls.right_px.iter().all(|p| (p.x - 570.0).abs() < 0.05));
    assert_eq!((walls.left_px.len(), walls.right_px.len()), (3, 3));

    desk.bring_into_sight("Marks and walls: hidden");
    desk.click("Marks and walls: hidden");
    for said in ["Marks: placed", "Left wall: placed", "Right wall: placed"] {
        assert!(desk.says(said), "{said}");
    }
    desk.bring_into_sight("Name of mark 2");
    desk.type_into("Name of mark 2", "rim");
    desk.key(Modifiers::NONE, Key::Enter);
    assert_eq!(desk.case().marks[1].name, "rim");
    desk.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(desk.case().marks[1].name, "2");
}

/// Both walls of a traced canal are followed at a click, as one undoable step, and
/// come out as the library follows them.
#[test]
fn walls_are_followed_into_the_case() {
    let folder = tempfile::tempdir().expect("a folder");
    let spec = BlockSpec::random(23);
    let [film, _] = scanned(&spec).expect("a scan");
    film.save_png16(&folder.path().join("block.png"))
        .expect("written");
    let [mut before, _] = clicked(&spec, 0.0, false);
    before.case.canals[0].walls = None;
    before.case.canals[0].root_outline = None;
    let path = folder.path().join("before.case.json");
    case::save(&before.case, &path).expect("saved");
    let mut desk = Desk::start(Some(StartWith::Case(path)), None);
    desk.bring_into_sight("Marks and walls: hidden");
    desk.click("Marks and walls: hidden");
    desk.bring_into_sight("Follow both walls");
    desk.click("Follow both walls");
    desk.wait_until("Both walls show on");
    let walls = desk.case().canals[0].walls.clone().expect("walls");
    let trace = &before.case.canals[0].trace_px;
    let by_library = shaping::follow_walls(&film, trace).expect("seen");
    assert_eq!(walls, by_library.walls);
    assert!(walls.followed.is_some() && walls.left_px.len() > 50);
    desk.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(desk.case().canals[0].walls, None);
}

/// The open case is one of both films: it can be saved here as on its own page.
#[test]
fn the_open_case_is_saved_on_this_page_too() {
    let folder = tempfile::tempdir().expect("a folder");
    let [before, _] = write_pair(folder.path(), |_, _| {});
    let mut desk = Desk::start(Some(StartWith::Case(before.clone())), None);
    desk.key(Modifiers::NONE, Key::P);
    desk.click_film(700.0, 700.0);
    desk.key(Modifiers::COMMAND, Key::B);
    assert!(desk.says("Before: before.case.json, 5 marks"));
    assert!(desk.says("Choose the case after shaping"));
    assert!(desk.app().is_unsaved());
    desk.key(Modifiers::COMMAND, Key::S);
    desk.wait_until("Saved as");
    assert!(!desk.app().is_unsaved());
    assert_eq!(case::load(&before).expect("a case").marks.len(), 5);
}

/// Other limits give other findings: those of the library under the same
/// limits; limits that contradict each other do not hold.
#[test]
fn own_limits_are_those_of_the_library() {
    let folder = tempfile::tempdir().expect("a folder");
    let pair = write_pair(folder.path(), |_, _| {});
    let mut desk = compared(&pair);
    let with = |short_mm: f64, zip_least_mm: f64| {
        let mut settings = ShapingSettings {
            draws: 400,
            ..ShapingSettings::default()
        };
        settings.measure.draws = 400;
        settings.limits.short_mm = short_mm;
        settings.limits.zip_least_mm = zip_least_mm;
        let found = shaping::compare_files(&pair[0], &pair[1], &settings, false);
        found
            .expect("comparable")
            .0
            .findings
            .canals
            .remove(0)
            .findings
    };
    let (usual, strict) = (with(0.5, 0.05), with(0.0, 0.0));
    assert_ne!(usual, strict, "the limits decide here");
    desk.bring_into_sight("Limits of the findings: hidden");
    desk.click("Limits of the findings: hidden");
    for name in [
        "Limit, Loss of length: more than",
        "Limit, Zip: end wider by at least",
    ] {
        desk.bring_into_sight(name);
        desk.type_into(name, "0");
        desk.key(Modifiers::NONE, Key::Tab);
    }
    desk.settle();
    for finding in &strict {
        assert!(
            desk.says(&finding.text),
            "{}: {:?}",
            finding.text,
            desk.texts()
        );
    }
    // No elbow can be looked for between 6 and 5 mm.
    desk.bring_into_sight("Limit, Elbow: looked for from");
    desk.type_into("Limit, Elbow: looked for from", "6");
    desk.key(Modifiers::NONE, Key::Tab);
    assert!(desk.says("the limits before hold"));
    for finding in &strict {
        assert!(desk.says(&finding.text), "{}", finding.text);
    }
    desk.bring_into_sight("Limits built in");
    desk.click("Limits built in");
    desk.settle();
    for finding in &usual {
        assert!(desk.says(&finding.text), "{}", finding.text);
    }
}

/// A comparison that is stopped leaves no number, and begins again when asked.
#[test]
fn a_comparison_is_stopped_and_begun_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let pair = write_pair(folder.path(), |_, _| {});
    let mut desk = Desk::start(Some(StartWith::Case(pair[0].clone())), None);
    desk.key(Modifiers::COMMAND, Key::B);
    desk.click("Choose the case after");
    desk.type_text(&pair[1].to_string_lossy());
    desk.harness.key_press(Key::Enter);
    // The full number of draws takes longer than these frames.
    let begun = std::time::Instant::now();
    loop {
        desk.harness.step();
        if let Some(stop) = desk.harness.query_by_label("Stop") {
            stop.click();
            desk.harness.step();
            desk.harness.step();
            break;
        }
        assert!(begun.elapsed().as_secs() < 60, "nothing can be stopped");
        std::thread::sleep(std::time::Duration::from_millis(1));
    }
    desk.settle();
    assert!(
        desk.says("Stopped: nothing is compared."),
        "{:?}",
        desk.texts()
    );
    assert!(!desk.says("Predicted error at the apex"));
    desk.click_button("Compare");
    desk.wait_until("Predicted error at the apex");
    assert!(!desk.says("Stopped"));
}

/// A canal whose name says that it is one is not called "Canal Canal 1".
#[test]
fn no_canal_is_called_so_twice() {
    let folder = tempfile::tempdir().expect("a folder");
    let pair = write_pair(folder.path(), |case, _| {
        case.canals[0].name = "Canal 1".into()
    });
    let desk = compared(&pair);
    assert!(desk.says("Canal 1"));
    assert!(!desk.says("Canal Canal"));
}
