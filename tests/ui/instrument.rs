//! The page of files in the canal and the shaping card.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::{Duration, Instant};

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use lengthfilm::desktop::StartWith;
use lengthfilm::film::FilmCache;
use lengthfilm::instrumentation::{self, FileRequest, Options};
use lengthfilm::measure::{self, MeasureSettings, Precision};
use lengthfilm::uncertainty::rounding::{fixed, with_u95};
use lengthfilm::units::Quantity;
use serde_json::Value;

use crate::desk::{Desk, write_film};

/// A sample with its film, changed by `change`, in a folder of its own.
fn sample(name: &str, change: impl FnOnce(&mut Value)) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().expect("a folder");
    let samples = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images");
    let text = std::fs::read_to_string(samples.join(format!("{name}.case.json")));
    let mut case: Value = serde_json::from_str(&text.expect("reads")).expect("JSON");
    let film = case["film"]["path"].as_str().expect("a film").to_owned();
    std::fs::copy(samples.join(&film), folder.path().join(&film)).expect("copied");
    change(&mut case);
    let path = folder.path().join("a.case.json");
    std::fs::write(&path, case.to_string()).expect("writes");
    (folder, path)
}

fn open_page(path: &Path) -> Desk {
    let mut desk = Desk::start(Some(StartWith::Case(path.to_owned())), None);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::I);
    desk
}

/// Works a widget that may have to be scrolled to.
fn work(desk: &mut Desk, label: &str) {
    desk.harness.get_by_label(label).click_accesskit();
    desk.settle();
}

/// Chooses in a list that opens.
fn choose(desk: &mut Desk, list: &str, entry: &str) {
    work(desk, list);
    work(desk, entry);
}

/// What the command prints for a case.
fn by_command(case: &Path, arguments: &[&str]) -> Value {
    let output = Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
        .args(["instrument", "--json"])
        .arg(case)
        .args(arguments)
        .output()
        .expect("runs");
    let problem = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{problem}");
    serde_json::from_slice(&output.stdout).expect("JSON")
}

fn quantity(found: &Value) -> Quantity {
    let number = |key: &str| found[key].as_f64().expect("a number");
    Quantity {
        value: number("value"),
        u95: number("u95"),
    }
}

/// The page says of a file what the command says.
fn says_as(desk: &Desk, found: &Value) {
    let name = found["file"].as_str().expect("a name");
    let number = |key: &str| found[key].as_f64().expect("a number");
    for said in [
        format!(
            "{name}, Bent to about: {}",
            with_u95(quantity(&found["peak_strain_percent"]), "%")
        ),
        format!(
            "{name}, Peak from tip, apex: {}, {} mm",
            fixed(number("peak_from_tip_mm"), 1),
            fixed(number("peak_from_apex_mm"), 1)
        ),
        format!(
            "{name}, Times the first: {}",
            with_u95(quantity(&found["times_first"]), "")
        ),
        format!(
            "{name}, Tip from apex: {} mm",
            fixed(number("tip_from_apex_mm"), 1)
        ),
        format!(
            "{name}, In the curve: {} mm",
            fixed(number("in_bend_mm"), 1)
        ),
    ] {
        assert!(desk.says(&said), "{said}: {:#?}", desk.texts());
    }
}

/// Files are chosen from the standard's sizes and typed, kept in the case,
/// undone as steps, and every number is the command's.
#[test]
fn numbers_are_those_of_the_command() {
    let (_folder, path) = sample("molar-36-short", |_| {});
    let mut desk = open_page(&path);
    assert!(desk.says("No files yet"));
    choose(&mut desk, "Size", "10 purple");
    choose(&mut desk, "Taper", "taper .02");
    work(&mut desk, "Add 10/.02");
    choose(&mut desk, "Size", "25 red");
    choose(&mut desk, "Taper", "taper .06");
    work(&mut desk, "Add 25/.06");
    desk.type_into("Own file", "0=0.3,4=0.5,16=0.9:1");
    work(&mut desk, "Add own file");
    let files = &desk.case().canals[0].shaping_files;
    assert_eq!(files.len(), 3);
    assert_eq!(files[2].step_back_mm, 1.0);
    desk.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(desk.case().canals[0].shaping_files.len(), 2);
    desk.key(Modifiers::COMMAND, Key::Y);
    desk.save_to(&path);

    let found = by_command(&path, &[]);
    let canal = &found["canals"][0];
    let files = canal["files"].as_array().expect("files");
    assert_eq!(files.len(), 3);
    for (file, line) in files.iter().zip(canal["card"].as_array().expect("a card")) {
        says_as(&desk, file);
        let stop = line["stop_mm"].as_f64().expect("a stop");
        let name = file["file"].as_str().expect("a name");
        let stop = fixed(stop, 2);
        let stop = stop.trim_end_matches('0').trim_end_matches('.');
        assert!(desk.says(&format!("{name}, stop: {stop}")), "{stop}");
        for level in line["diameter_left_mm"].as_array().expect("levels") {
            let from_apex = level["from_apex_mm"].as_f64().expect("a level");
            if from_apex <= 10.0 {
                let mm = fixed(level["mm"].as_f64().expect("a diameter"), 2);
                let said = format!("{name}, {from_apex} mm from the apex: {mm} mm");
                assert!(desk.says(&said), "{said}");
            }
        }
    }
    for caution in lengthfilm::instrumentation::words::NOTES {
        assert!(desk.says(caution), "{caution}");
    }
    // The chosen file's peak is on the film as well.
    let peak = &files[2]["peak_strain_percent"]["value"];
    let peak = fixed(peak.as_f64().expect("a peak"), 1);
    assert!(desk.says(&format!("in the canal, peak {peak} %")));
}

/// The slider and a drag of the tip on the film move the file; the numbers
/// follow.
#[test]
fn a_moved_tip_changes_the_numbers() {
    let (_folder, path) = sample("molar-36-short", |case| {
        case["canals"][0]["shaping_files"] = serde_json::json!([
            { "size": 25.0, "taper": 0.06 },
            { "size": 30.0, "taper": 0.02, "step_back_mm": 1.0 },
        ]);
    });
    let mut desk = open_page(&path);
    let role = egui::accesskit::Role::Slider;
    let slider = desk
        .harness
        .get_by_role_and_label(role, "Tip from the apex");
    slider.focus();
    desk.settle();
    for _ in 0..15 {
        let (none, right) = (Modifiers::NONE, Key::ArrowRight);
        desk.harness.key_press_modifiers(none, right);
    }
    desk.settle();
    let allowance = by_command(&path, &[])["canals"][0]["allowance_mm"]
        .as_f64()
        .expect("an allowance");
    let tip = format!("{:.1}", allowance + 1.5);
    let found = by_command(&path, &["--tip-from-apex-mm", &tip]);
    for file in found["canals"][0]["files"].as_array().expect("files") {
        says_as(&desk, file);
    }
    work(&mut desk, "Working length");
    for file in by_command(&path, &[])["canals"][0]["files"]
        .as_array()
        .expect("files")
    {
        says_as(&desk, file);
    }

    // On the film: along the line of the canal, coronally.
    let tip_at = |desk: &Desk| {
        let node = desk.harness.get_by_label_contains("Tip of 25/.06");
        let label = {
            use egui_kittest::kittest::NodeT;
            node.accesskit_node().label().expect("named")
        };
        let mm: f64 = label
            .split_whitespace()
            .find_map(|word| word.parse().ok())
            .expect("a distance");
        (node.rect().center(), mm)
    };
    let (from, before) = tip_at(&desk);
    desk.drag_screen(from, from - egui::vec2(0.0, 60.0));
    let (to, after) = tip_at(&desk);
    assert!(after > before + 0.5, "{before} to {after}");
    assert!((to.y - (from.y - 60.0)).abs() < 12.0, "{from} to {to}");
    assert!(desk.says(&format!("25/.06, Tip from apex: {after:.1} mm")));
    assert!(desk.says(&format!("30/.02, Tip from apex: {:.1} mm", after + 1.0)));
}

/// What is missing is said with the way on; a straight canal bends nothing.
#[test]
fn what_is_missing_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "plain.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::I);
    assert!(desk.says("Trace Canal 1 first"));

    let line = serde_json::json!([[600, 200], [600, 400], [600, 600], [600, 800], [600, 1000]]);
    let canal = |scale: bool| {
        let mut canal = serde_json::json!({
            "name": "P",
            "trace_px": line,
            "apex_px": [600, 1000],
            "shaping_files": [{ "size": 25.0, "taper": 0.06 }],
        });
        if scale {
            canal["reference_px"] = serde_json::json!([600, 100]);
        }
        canal
    };
    for scale in [false, true] {
        let path = folder.path().join(format!("{scale}.case.json"));
        let mut case = serde_json::json!({
            "format": "lengthfilm-case",
            "version": 1,
            "film": { "path": "plain.png" },
            "canals": [canal(scale)],
        });
        if scale {
            case["film"]["pixel_pitch_mm"] = serde_json::json!([0.025, 0.025]);
        }
        std::fs::write(&path, case.to_string()).expect("writes");
        let desk = open_page(&path);
        if scale {
            let file = &by_command(&path, &[])["canals"][0]["files"][0];
            let strain = quantity(&file["peak_strain_percent"]);
            assert_eq!(strain.value, 0.0);
            assert!(desk.says(&format!("Bent to about: {}", with_u95(strain, "%"))));
            assert!(desk.says("nothing bends it"));
        } else {
            assert!(desk.says("No strain: a radius in mm needs a scale."));
            assert!(desk.says("No stop settings: there is no working length."));
            assert!(desk.says("25/.06, Bent to about: –"));
        }
    }
}

/// A card saved from the page is the command's.
#[test]
fn the_card_is_saved_as_the_command_writes_it() {
    let (folder, path) = sample("molar-36-short", |case| {
        case["canals"][0]["shaping_files"] = serde_json::json!([
            { "size": 15.0, "taper": 0.02 },
            { "size": 25.0, "taper": 0.06 },
        ]);
    });
    let mut desk = open_page(&path);
    for (kind, ending) in [("CSV", "csv"), ("PDF", "pdf"), ("HTML", "html")] {
        work(&mut desk, &format!("Save card ({kind})…"));
        assert!(desk.says("Save the shaping card"));
        desk.key(Modifiers::COMMAND, Key::A);
        desk.type_text("mine");
        desk.key(Modifiers::NONE, Key::Enter);
        desk.wait_until(&format!("mine.{ending}"));
        let mine = folder.path().join(format!("mine.{ending}"));
        let theirs = folder.path().join(format!("theirs.{ending}"));
        let card = theirs.to_str().expect("UTF-8");
        by_command(&path, &["--card", card]);
        let [mine, theirs] = [mine, theirs].map(|path| std::fs::read(path).expect("a card"));
        assert!(mine == theirs, "{kind} differs from the command's");
    }
}

/// Walls of 60 points each beside the canal of a case, as following them gives
/// them.
fn add_walls(case: &mut Value) {
    let trace: Vec<[f64; 2]> =
        serde_json::from_value(case["canals"][0]["trace_px"].clone()).expect("a trace");
    let last = trace.len() - 1;
    let place = |i: u32, aside_px: f64| {
        let at = f64::from(i) / 59.0 * last as f64;
        let k = (at as usize).min(last - 1);
        let share = at - k as f64;
        let [x, y] = [0, 1].map(|c: usize| trace[k][c] + share * (trace[k + 1][c] - trace[k][c]));
        [x + aside_px, y]
    };
    let wall = |aside_px: f64| -> Vec<[f64; 2]> { (0..60).map(|i| place(i, aside_px)).collect() };
    // Seen from the orifice, the left of a root that points down is +x.
    case["canals"][0]["walls"] =
        serde_json::json!({"left_px": wall(8.0), "right_px": wall(-8.0), "u_px": 0.3});
}

/// What a frame works out while a tip is dragged takes less than a frame of
/// sixty a second, with walls as without: the best of several runs, as other
/// work may share the processor.
#[test]
fn a_drag_is_worked_out_within_a_frame() {
    for (words, walls) in [("no walls", false), ("walls of 60 points", true)] {
        let best = drag(walls);
        println!("four files at one place of the tip, {words}: {best:?}");
        assert!(best < Duration::from_millis(16), "{best:?}");
    }
}

/// Shortest time of twenty places of the tip.
fn drag(walls: bool) -> Duration {
    let (_folder, path) = sample("premolar-35-s-bend", |case| {
        if walls {
            add_walls(case);
        }
    });
    let settings = MeasureSettings {
        precision: Precision::ValuesOnly,
        ..MeasureSettings::default()
    };
    let (case, film) =
        measure::load_measurable(&path, &FilmCache::default()).expect("can be measured");
    let (findings, model) =
        measure::measure_with_model(&case, &film, "", &settings).expect("measures");
    let files = ["10/.02", "20/.04", "25/.06", "30/.02:1"];
    let files = files.map(|text| FileRequest::parse(text).expect("a file"));
    let times = (0..20).map(|step| {
        let options = Options {
            files: files.to_vec(),
            tip_from_apex_mm: Some(0.2 * f64::from(step)),
            settings: settings.clone(),
            ..Options::default()
        };
        let begun = Instant::now();
        let found = instrumentation::assess_measured(&case, &findings, &model, &options);
        let taken = begun.elapsed();
        let canal = &found.expect("assessed").findings.canals[0];
        assert_eq!(canal.files.len(), 4);
        assert_eq!(canal.files[0].binds.is_some(), walls);
        taken
    });
    times.min().expect("runs")
}

/// What is missing is said in the order of work: trace, scale, files.
#[test]
fn an_untraced_canal_is_to_be_traced_before_files_are_chosen() {
    let film = tempfile::tempdir().expect("a folder");
    let path = write_film(film.path(), "plain.png", 1200, 1250);
    let mut desk = Desk::with_film(&path);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::I);
    for said in [
        "Trace the canal: to do",
        "Scale of the film: to do",
        "Files: to do",
        "Trace Canal 1 first, from the orifice to the apex",
    ] {
        assert!(desk.says(said), "{said}: {:?}", desk.texts());
    }
    desk.click("Trace it on the film");
    assert!(
        desk.says("Canal 1: click along the canal, orifice to apex"),
        "{:?}",
        desk.texts()
    );
    for (x, y) in [(600.0, 300.0), (602.0, 600.0), (650.0, 900.0)] {
        desk.click_film(x, y);
    }
    desk.key(Modifiers::NONE, Key::Enter);
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::I);
    assert!(desk.says("Trace the canal: done"));
    assert!(desk.says("State the scale next"), "{:?}", desk.texts());

    // With both, a file is next; without a trace, files that are listed wait.
    let (_folder, path) = sample("premolar-35-s-bend", |_| {});
    let desk = open_page(&path);
    assert!(desk.says("Scale of the film: done"), "{:?}", desk.texts());
    assert!(desk.says("No files yet: choose size and taper"));
    let (_folder, path) = sample("premolar-35-s-bend", |case| {
        case["canals"][0]["shaping_files"] = serde_json::json!([{"size": 25, "taper": 0.06}]);
        case["canals"][0]["trace_px"] = serde_json::json!([]);
    });
    let desk = open_page(&path);
    assert!(desk.says("Trace the canal: to do"), "{:?}", desk.texts());
}
