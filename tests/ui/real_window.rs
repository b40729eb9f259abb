//! The real program on a real screen: what a hand does, and what other
//! programs then find on the clipboard and on disk.

use std::path::{Path, PathBuf};
use std::process::Command;

use serde_json::Value;

use crate::desk::write_film;
use crate::screen::{RealWindow, Screen, wait_for};

/// Film of the tests: its file runs from 100 to 900 px at this x, the apex is
/// at 956 px.
const FILM_PX: [f64; 2] = [1200.0, 1250.0];
const FILE_X: f64 = 600.0;

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/molar-36-short.case.json")
}

/// Where a film point shows in the window: the panels' sizes at normal text.
fn on_screen(window: &RealWindow<'_>, [x, y]: [f64; 2]) -> [f64; 2] {
    let [width, height] = window.size();
    let (left, right) = (244.0, width - 330.0);
    let (top, bottom) = (70.0, height - 28.0);
    let zoom = 0.96 * f64::min((right - left) / FILM_PX[0], (bottom - top) / FILM_PX[1]);
    [
        (left + right) / 2.0 + zoom * (x - FILM_PX[0] / 2.0),
        (top + bottom) / 2.0 + zoom * (y - FILM_PX[1] / 2.0),
    ]
}

#[test]
fn other_programs_paste_the_chart_note_and_the_picture() {
    let Some(screen) = Screen::start(1280, 720) else {
        return;
    };
    screen.copy_elsewhere("what was there before");
    let window = RealWindow::open(&screen, &sample());
    let note = wait_for("the chart note", || {
        window.key("c");
        let pasted = String::from_utf8(screen.pasted(None)).expect("text");
        pasted.contains("working length").then_some(pasted)
    });
    assert!(note.starts_with("Tooth 36"), "{note}");
    assert!(note.contains("confirm the length electronically"), "{note}");

    let png = wait_for("the picture", || {
        window.key("shift+c");
        Some(screen.pasted(Some("image/png"))).filter(|png| !png.is_empty())
    });
    let picture = image::load_from_memory_with_format(&png, image::ImageFormat::Png)
        .expect("a PNG picture")
        .to_luma8();
    let [width, height] = window.size();
    // The film's view, without the panels beside it.
    assert_eq!(f64::from(picture.width()), width - 244.0 - 330.0);
    assert_eq!(f64::from(picture.height()), height - 70.0 - 28.0);
    let greys: std::collections::BTreeSet<u8> = picture.pixels().map(|p| p.0[0]).collect();
    assert!(greys.len() > 60, "{} greys are no film", greys.len());
}

#[test]
fn by_hand_a_length_film_takes_three_clicks_the_number_and_one_key() {
    let Some(screen) = Screen::start(1280, 720) else {
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    screen.copy_elsewhere("what was there before");
    let window = RealWindow::open(&screen, &film);
    for y in [100.0, 900.0] {
        window.click(on_screen(&window, [FILE_X, y]));
    }
    window.type_text("20");
    window.click(on_screen(&window, [FILE_X, 956.0]));
    let note = wait_for("the chart note", || {
        window.key("c");
        let pasted = String::from_utf8(screen.pasted(None)).expect("text");
        pasted.contains("working length").then_some(pasted)
    });
    assert!(note.contains("file set at 20.0 mm"), "{note}");
    assert!(note.contains("1.4 mm short of the apex"), "{note}");
}

#[test]
fn ctrl_s_saves_a_case_that_another_program_reads() {
    let Some(screen) = Screen::start(1280, 720) else {
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let window = RealWindow::open(&screen, &film);
    for y in [100.0, 900.0] {
        window.click(on_screen(&window, [FILE_X, y]));
    }
    window.type_text("20");
    window.click(on_screen(&window, [FILE_X, 956.0]));
    window.key("ctrl+s");
    window.type_text("tooth 36");
    window.key("Return");
    // The film's own folder is offered; the ending is added.
    let case = folder.path().join("tooth 36.case.json");
    wait_for("the case file", || case.is_file().then_some(()));
    wait_for("the new title", || {
        window.title().contains("tooth 36.case.json").then_some(())
    });
    let measured = Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
        .args(["measure", "--json"])
        .arg(&case)
        .output()
        .expect("measures");
    assert!(measured.status.success());
    let found: Value = serde_json::from_slice(&measured.stdout).expect("JSON");
    let tip = found["canals"][0]["tip_to_apex_mm"]["value"].as_f64();
    assert!(tip.is_some_and(|tip| (tip - 1.4).abs() < 0.06), "{found}");
    assert!(!window.home().join("tooth 36.case.json").exists());
}

#[test]
fn the_report_is_handed_to_the_systems_print_command() {
    use std::os::unix::fs::PermissionsExt;
    let Some(screen) = Screen::start(1280, 720) else {
        return;
    };
    let folder = tempfile::tempdir().expect("a folder");
    let printed = folder.path().join("printed.pdf");
    let printer = folder.path().join("lp");
    let script = format!("#!/bin/sh\nexec cp \"$1\" \"{}\"\n", printed.display());
    std::fs::write(&printer, script).expect("writes");
    std::fs::set_permissions(&printer, PermissionsExt::from_mode(0o755)).expect("may run");
    let path = format!("{}:/usr/bin:/bin", folder.path().display());
    let window = RealWindow::open_with(&screen, &sample(), &[("PATH", &path)]);
    // From the list of commands, as it has no key of its own.
    window.key("F1");
    window.type_text("Print report");
    window.key("Tab");
    window.key("Return");
    let bytes = wait_for("the printed report", || {
        std::fs::read(&printed)
            .ok()
            .filter(|bytes| bytes.ends_with(b"%%EOF") || bytes.len() > 20_000)
    });
    assert!(bytes.starts_with(b"%PDF"));
}
