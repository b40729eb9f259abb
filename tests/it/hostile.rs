//! Inputs and surroundings that mean harm: output that nobody takes, names
//! that forge lines, sizes without end, films elsewhere.

use std::fs::{self, File};
use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::grading::{by, case, workspace, write};

/// Longest that refusing anything may take, on a busy machine, unoptimised.
const PATIENCE: Duration = Duration::from_secs(20);

fn lengthfilm(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_lengthfilm"));
    command.current_dir(folder).args(arguments);
    command.env_remove("DISPLAY").env_remove("WAYLAND_DISPLAY");
    command
}

fn run(folder: &Path, arguments: &[&str]) -> Output {
    lengthfilm(folder, arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

/// A traced canal named `name`.
fn canal(name: &str, points: usize) -> (&str, Vec<[f64; 2]>) {
    let step = 120.0 / points as f64;
    let points = (0..points).map(|i| [50.0, 20.0 + step * i as f64]);
    (name, points.collect())
}

/// A folder with a film, an expert's case and a class of one.
fn class() -> tempfile::TempDir {
    let folder = workspace();
    let traced = case(&[canal("MB", 5)]);
    write(folder.path(), "expert", &traced);
    fs::create_dir(folder.path().join("class")).unwrap();
    fs::copy(
        folder.path().join("film.png"),
        folder.path().join("class/film.png"),
    )
    .unwrap();
    write(&folder.path().join("class"), "anna", &traced);
    folder
}

const GRADE: [&str; 5] = [
    "grade",
    "--reference",
    "expert.case.json",
    "--traces",
    "class",
];

/// A full disk behind an output is said, a closed one is no fault; neither
/// panics, and what was to be written besides is there.
#[cfg(target_os = "linux")]
#[test]
fn full_and_closed_outputs_neither_panic_nor_lose_work() {
    let folder = class();
    let full = || Stdio::from(File::options().write(true).open("/dev/full").unwrap());
    let graded = [&GRADE[..], &["--json", "--sheets", "sheets"]].concat();
    let reported = ["report", "expert.case.json", "--out", "r.html"];
    let printing = [
        &["measure", "expert.case.json"][..],
        &["info", "film.png", "--json"],
        &graded[..],
        &reported[..],
        &["--help"][..],
    ];
    for arguments in printing {
        let child = lengthfilm(folder.path(), arguments)
            .stdout(full())
            .stderr(Stdio::piped())
            .spawn();
        let output = child.unwrap().wait_with_output().unwrap();
        let said = text(&output.stderr);
        assert!(!said.contains("panicked"), "{arguments:?}: {said}");
        assert!(!output.status.success(), "{arguments:?}");
        if arguments[0] != "--help" {
            assert_eq!(said.lines().count(), 1, "{arguments:?}: {said}");
            assert!(said.contains("standard output"), "{said}");
        }
    }
    assert!(folder.path().join("sheets/anna.pdf").exists());
    assert!(folder.path().join("r.html").exists());
    fs::remove_dir_all(folder.path().join("sheets")).unwrap();
    fs::remove_file(folder.path().join("r.html")).unwrap();
    for arguments in printing {
        // The reader goes away before anything is printed.
        let mut child = lengthfilm(folder.path(), arguments)
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        drop(child.stdout.take());
        let output = child.wait_with_output().unwrap();
        assert_eq!(text(&output.stderr), "", "{arguments:?}");
    }
    assert!(folder.path().join("sheets/anna.pdf").exists());
    assert!(folder.path().join("r.html").exists());
    // Messages that nobody takes.
    for arguments in [
        &["measure", "absent.case.json"][..],
        &["measure"],
        &["info", "a"],
    ] {
        let status = lengthfilm(folder.path(), arguments)
            .stderr(full())
            .stdout(Stdio::null())
            .status()
            .unwrap();
        assert!(matches!(status.code(), Some(1 | 2)), "{arguments:?}");
    }
}

/// Names that would end a line, move the cursor or turn the order of reading.
const UNRULY: [&str; 4] = [
    "MB\nlengthfilm: all is well",
    "MB\r\u{1b}[2J",
    "MB\u{2028}x\u{202e}y",
    "MB\u{9b}31m\0",
];

fn is_ruly(c: char) -> bool {
    c == '\n' || !(c.is_control() || ('\u{2028}'..='\u{202e}').contains(&c))
}

#[test]
fn one_line_stays_one_line_whatever_the_names() {
    let folder = class();
    for name in UNRULY {
        let traced = by(name, case(&[canal(name, 5)]));
        write(folder.path(), "expert", &traced);
        write(&folder.path().join("class"), "anna", &traced);
        let ordinary = by("Anna", case(&[canal("MB", 5)]));
        write(folder.path(), "ordinary", &ordinary);
        let lines = |case: &str, command: &[&str]| -> Vec<String> {
            let output = run(folder.path(), &[command, &[case]].concat());
            let said = text(&output.stdout) + &text(&output.stderr);
            assert!(said.chars().all(is_ruly), "{command:?}: {said:?}");
            said.lines().map(str::to_owned).collect()
        };
        let unruly = lines("expert.case.json", &["measure"]);
        let usual = lines("ordinary.case.json", &["measure"]);
        assert_eq!(unruly.len(), usual.len(), "{unruly:#?}");
        assert!(!unruly.iter().any(|line| line.starts_with("lengthfilm:")));

        let table = run(folder.path(), &[&GRADE[..], &["--csv"]].concat());
        let table = text(&table.stdout);
        assert_eq!(table.split("\r\n").filter(|l| !l.is_empty()).count(), 2);
        assert!(
            table.replace("\r\n", "\n").chars().all(is_ruly),
            "{table:?}"
        );
        let out = ["report", "expert.case.json", "--replace", "--out", "r.csv"];
        let written = run(folder.path(), &out);
        assert!(written.status.success(), "{}", text(&written.stderr));
        let table = fs::read_to_string(folder.path().join("r.csv")).unwrap();
        assert!(
            table.replace("\r\n", "\n").chars().all(is_ruly),
            "{table:?}"
        );
    }
}

#[cfg(unix)]
#[test]
fn errors_about_unruly_paths_are_one_line() {
    let folder = class();
    for name in UNRULY {
        let name = name.replace(['\0', '/'], "");
        let file = folder.path().join(&name);
        fs::write(
            &file,
            "{\"format\": \"lengthfilm-case\",\n \"version\": 1,\n\"\u{1b}[2J\": 1",
        )
        .unwrap();
        for command in ["measure", "info"] {
            let output = run(folder.path(), &[command, &name]);
            let said = text(&output.stderr);
            assert_eq!(output.status.code(), Some(1));
            assert_eq!(said.lines().count(), 1, "{said:?}");
            assert!(said.chars().all(is_ruly), "{said:?}");
        }
    }
}

/// Measuring a case is refused in time, in one line that says `what`.
fn refused(folder: &Path, case: &Value, what: &str) {
    write(folder, "large", case);
    let begun = Instant::now();
    let output = run(folder, &["measure", "large.case.json"]);
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{what}: {said}");
    assert_eq!(said.lines().count(), 1, "{said}");
    assert!(said.contains(what) && said.len() < 1000, "{what}: {said}");
    assert!(begun.elapsed() < PATIENCE, "{what}: {:?}", begun.elapsed());
}

#[test]
fn every_count_of_a_case_has_a_limit_with_a_clear_error() {
    let folder = workspace();
    let folder = folder.path();
    let names: Vec<String> = (0..65).map(|i| format!("canal {i}")).collect();
    let canals: Vec<_> = names.iter().map(|name| canal(name, 5)).collect();
    refused(folder, &case(&canals), "65 canals");
    refused(folder, &case(&[canal("MB", 2001)]), "2001 points");
    refused(folder, &case(&[canal(&"x".repeat(201), 5)]), "201");
    let mut objects = case(&[canal("MB", 5)]);
    let ruler = objects["scale"]["objects"][0].clone();
    objects["scale"]["objects"] = json!(vec![ruler; 65]);
    refused(folder, &objects, "65");
    let mut large = case(&[canal("MB", 5)]);
    large["padding"] = json!("x".repeat(16 << 20));
    refused(folder, &large, "too large for a case file");

    // At the limit, everything works; a name of 200 letters stays short.
    write(folder, "large", &case(&[canal(&"x".repeat(200), 60)]));
    let output = run(folder, &["measure", "large.case.json"]);
    assert!(output.status.success(), "{}", text(&output.stderr));
}

#[test]
fn a_table_of_too_many_raters_is_refused_at_once() {
    let folder = tempfile::tempdir().unwrap();
    let table = |raters: usize| {
        let heading: String = (0..raters).map(|i| format!(",r{i}")).collect();
        let row = |n: usize| format!("\n{n}{}", format!(",{n}.5").repeat(raters));
        format!("subject{heading}{}\n", (0..3).map(row).collect::<String>())
    };
    fs::write(folder.path().join("t.csv"), table(101)).unwrap();
    let begun = Instant::now();
    let output = run(folder.path(), &["agreement", "t.csv", "--json"]);
    let said = text(&output.stderr);
    assert_eq!(output.status.code(), Some(1));
    assert!(said.contains("101 rater columns") && said.lines().count() == 1);
    assert!(begun.elapsed() < PATIENCE);
}

/// A picture of more pixels than may be opened is refused before its pixels
/// are unpacked; the limit can be set.
#[test]
fn too_many_pixels_are_refused_before_they_are_unpacked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("bomb.png");
    // 20,000 × 20,000 of one bit, all zero: some 50 kB.
    let mut encoder = png::Encoder::new(File::create(&path).unwrap(), 20_000, 20_000);
    encoder.set_color(png::ColorType::Grayscale);
    encoder.set_depth(png::BitDepth::One);
    let mut writer = encoder.write_header().unwrap();
    writer.write_image_data(&vec![0; 2_500 * 20_000]).unwrap();
    writer.finish().unwrap();
    let begun = Instant::now();
    let output = run(folder.path(), &["info", "bomb.png"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(text(&output.stderr).contains("20000 × 20000 px"));
    assert!(begun.elapsed() < PATIENCE);
}

/// A case that was handed in cannot name a film elsewhere; one that lies
/// beside the reference's film is found by its name.
#[test]
fn a_graded_case_opens_no_film_outside() {
    let folder = class();
    let outside = tempfile::tempdir().unwrap();
    let elsewhere = outside.path().join("secret.png");
    fs::copy(folder.path().join("film.png"), &elsewhere).unwrap();
    let up = format!(
        "../../{}/secret.png",
        outside.path().file_name().unwrap().to_str().unwrap()
    );
    let named = |film: &str| {
        let mut handed_in = case(&[canal("MB", 5)]);
        handed_in["film"]["path"] = json!(film);
        write(&folder.path().join("class"), "anna", &handed_in);
        run(folder.path(), &[&GRADE[..], &["--json"]].concat())
    };
    for film in [
        elsewhere.to_str().unwrap(),
        &up,
        "/dev/zero",
        "//host/share/secret.png",
        "\\\\host\\share\\secret.png",
        "..",
    ] {
        let output = named(film);
        assert_eq!(output.status.code(), Some(1), "{film}");
        let found: Value = serde_json::from_slice(&output.stdout).unwrap();
        assert_eq!(found["traces"].as_array().unwrap().len(), 0, "{film}");
        let reason = found["refused"][0]["reason"].as_str().unwrap();
        let is_clear = reason.contains("outside its own folder") || reason.contains("is missing");
        assert!(is_clear, "{reason}");
    }
    // The reference's own film, however it is named, and its name elsewhere.
    let own = folder.path().join("film.png");
    for film in [
        "film.png",
        "../film.png",
        own.to_str().unwrap(),
        "C:\\films\\film.png",
        "/home/anna/film.png",
    ] {
        let output = named(film);
        assert!(output.status.success(), "{film}: {}", text(&output.stderr));
    }
}

/// A disk that is full after so many kilobytes, at every size up to what is
/// written: the old file is whole, or the new one is, and nothing else is left.
#[cfg(target_os = "linux")]
#[test]
fn a_disk_that_fills_at_any_moment_leaves_the_old_file_or_the_new() {
    let folder = class();
    let out = folder.path().join("out");
    fs::create_dir(&out).unwrap();
    let program = env!("CARGO_BIN_EXE_lengthfilm");
    let mut refused = 0;
    for ending in ["html", "csv", "png", "pdf", "dcm"] {
        let file = out.join(format!("r.{ending}"));
        let mut kilobytes = 0;
        loop {
            fs::write(&file, "as it was").unwrap();
            // A limit on the size of files stands for the disk; the signal that
            // would end the program is ignored, so that writing fails.
            let limited = Command::new("bash")
                .current_dir(folder.path())
                .args(["-c", "trap '' XFSZ; ulimit -f \"$0\"; exec \"$@\""])
                .arg(kilobytes.to_string())
                .arg(program)
                .args(["report", "expert.case.json", "--replace", "--out"])
                .arg(&file)
                .output()
                .unwrap();
            let said = text(&limited.stderr);
            let left: Vec<_> = fs::read_dir(&out)
                .unwrap()
                .map(|e| e.unwrap().path())
                .collect();
            if limited.status.success() {
                assert_ne!(fs::read(&file).unwrap(), b"as it was");
                break;
            }
            refused += 1;
            assert!(
                said.contains("no room left") && said.lines().count() == 1,
                "{said}"
            );
            assert_eq!(fs::read(&file).unwrap(), b"as it was");
            assert!(
                left.iter()
                    .all(|path| !path.to_string_lossy().ends_with(".part"))
            );
            kilobytes = 2 * kilobytes + 1;
        }
        for left in fs::read_dir(&out).unwrap() {
            fs::remove_file(left.unwrap().path()).unwrap();
        }
    }
    println!("{refused} writes that found no room");
    assert!(refused > 5);
}
