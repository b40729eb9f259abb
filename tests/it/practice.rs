//! Practice end to end: films without their truth, the truth sealed, traces
//! graded against it after it was opened.

use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};

use assert_cmd::Command;
use lengthfilm::case::{self, Case};
use lengthfilm::grading::hand_ins::{CollectError, collect};
use lengthfilm::grading::roster::Roster;
use lengthfilm::grading::rubric::Rubric;
use lengthfilm::phantom::Truth;
use lengthfilm::practice::{self, Difficulty, OpenedSet, PracticeError, SetOf, SetRequest};
use lengthfilm::progress::Progress;
use lengthfilm::shaping::ShapingSettings;
use lengthfilm::shaping_class::{ClassSettings, ShapingRubric};
use lengthfilm::units::FilmPoint;
use serde_json::{Value, json};

use crate::support::names_in;

const PASSPHRASE: &str = "chalk and amalgam";

fn practice(folder: &Path, arguments: &[&str]) -> std::process::Output {
    Command::cargo_bin("lengthfilm")
        .unwrap()
        .current_dir(folder)
        .arg("practice")
        .args(arguments)
        .args(["--passphrase-file", "passphrase"])
        .output()
        .unwrap()
}

/// A folder with a set of two films in `set`.
fn set(difficulty: &str, seed: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("passphrase"), format!("{PASSPHRASE}\n")).unwrap();
    let made = practice(
        folder.path(),
        &[
            "make",
            "--count",
            "2",
            "--difficulty",
            difficulty,
            "--seed",
            seed,
            "--out",
            "set",
        ],
    );
    assert!(
        made.status.success(),
        "{}",
        String::from_utf8_lossy(&made.stderr)
    );
    folder
}

fn opened(folder: &Path) -> OpenedSet {
    OpenedSet::open(&folder.join("set/truth.sealed"), PASSPHRASE).unwrap()
}

/// The types of a PNG's chunks (its specification, 5.3).
fn chunk_types(png: &[u8]) -> Vec<String> {
    let mut types = Vec::new();
    let mut at = 8;
    while at + 8 <= png.len() {
        let length = u32::from_be_bytes(png[at..at + 4].try_into().unwrap()) as usize;
        types.push(String::from_utf8_lossy(&png[at + 4..at + 8]).into_owned());
        at += 12 + length;
    }
    types.dedup();
    types
}

#[test]
fn films_and_cases_hold_nothing_of_the_truth() {
    let folder = set("moderate", "5");
    let set = folder.path().join("set");
    assert_eq!(
        names_in(&set),
        [
            "film-01.case.json",
            "film-01.png",
            "film-02.case.json",
            "film-02.png",
            "truth.sealed"
        ]
    );
    let truth = opened(folder.path());
    for film in &truth.films {
        let png = fs::read(set.join(&film.film)).unwrap();
        let types = chunk_types(&png);
        assert!(
            types
                .iter()
                .all(|t| ["IHDR", "IDAT", "IEND"].contains(&t.as_str())),
            "{types:?}"
        );
        let start = case::load(&set.join(film.film.replace("png", "case.json"))).unwrap();
        let canal = &start.canals[0];
        assert!(canal.trace_px.is_empty() && canal.apex_px.is_none());
        assert!(canal.reference_px.is_none() && start.scale.objects.is_empty());
        assert!(canal.file.as_ref().unwrap().tip_px.is_none());
        assert_ne!(start.seed, film.truth.spec.seed);
    }
    let sealed = fs::read_to_string(set.join("truth.sealed")).unwrap();
    for told in ["apex", "canal", "film-01", &truth.films[0].sha256] {
        assert!(!sealed.contains(told), "{told}");
    }
    assert_ne!(truth.films[0].sha256, truth.films[1].sha256);
}

/// A trace of the true canal, everything `shift_mm` to the right, its scale by
/// the true file.
fn traced(truth: &Truth, film: &str, student: &str, shift_mm: f64) -> Value {
    let shifted = |p: &FilmPoint| [p.x + shift_mm / truth.mm_per_px[1], p.y];
    let last = truth.canal_px.len() - 1;
    let mut trace: Vec<_> = (0..=20)
        .map(|i| shifted(&truth.canal_px[(0.93 * f64::from(i) / 20.0 * last as f64) as usize]))
        .collect();
    trace.push(shifted(&truth.apex_px));
    let file = truth.file.as_ref().unwrap();
    json!({
        "format": "lengthfilm-case", "version": 1, "film": {"path": format!("../set/{film}")},
        "student": {"name": student},
        "canals": [{"name": truth.spec.tooth.canal_name, "trace_px": trace,
                    "apex_px": shifted(&truth.apex_px),
                    "file": {"set_length_mm": file.stop_to_tip_mm, "tip_px": shifted(&file.tip_px)}}],
    })
}

fn grade(folder: &Path, arguments: &[&str]) -> std::process::Output {
    let fixed = ["grade", "set/truth.sealed", "--traces", "class"];
    practice(folder, &[&fixed, arguments].concat())
}

#[test]
fn traces_are_graded_against_the_truth_of_their_own_film() {
    let folder = set("hard", "8");
    let path = folder.path();
    let class = path.join("class");
    fs::create_dir(&class).unwrap();
    let truth = opened(path);
    for (index, film) in truth.films.iter().enumerate() {
        for (student, shift_mm) in [("exact", 0.0), ("aside", 0.3)] {
            let case = traced(&film.truth, &film.film, student, shift_mm);
            let name = format!("{student}-{index}.case.json");
            fs::write(class.join(name), case.to_string()).unwrap();
        }
    }
    // Not begun: left out. Another film: listed.
    let mut untouched: Case = truth.films[0].starting_case();
    untouched.film.path = format!("../set/{}", truth.films[0].film);
    case::save(&untouched, &class.join("untouched.case.json")).unwrap();
    let mut foreign = traced(&truth.films[0].truth, "film-01.png", "lost", 0.0);
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/premolar-35-s-bend.png");
    assert!(sample.exists());
    fs::copy(sample, class.join("foreign.png")).unwrap();
    foreign["film"]["path"] = json!("foreign.png");
    fs::write(class.join("foreign.case.json"), foreign.to_string()).unwrap();

    let output = grade(path, &["--json"]);
    assert_eq!(output.status.code(), Some(1), "one file is refused");
    let found: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(found["refused"].as_array().unwrap().len(), 1);
    let reason = found["refused"][0]["reason"].as_str().unwrap();
    assert!(reason.contains("none of this exercise set"), "{reason}");
    assert_eq!(found["films"].as_array().unwrap().len(), 2);
    for (film, truth) in found["films"].as_array().unwrap().iter().zip(&truth.films) {
        assert_eq!(film["film"], truth.film.as_str());
        let of = |student: &str| {
            let traces = film["traces"].as_array().unwrap().iter();
            let mut own = traces.filter(|t| t["student"] == student);
            let measures = own.next().unwrap()["canals"][0]["measures"].clone();
            assert!(own.next().is_none(), "one trace of {student}");
            move |measure: &str| measures[measure].as_f64().unwrap()
        };
        // A shifted curve: ends are matched with ends, so the Fréchet
        // distance is the shift itself, and so are the marks' distances. The
        // curves go through other true points of the canal than the truth's
        // trace does: apart by less than half of a careful click (0.05 mm).
        let (exact, aside) = (of("exact"), of("aside"));
        for (measure, tolerance_mm) in [
            ("frechet_mm", 0.02),
            ("apex_error_mm", 1e-9),
            ("tip_error_mm", 1e-9),
        ] {
            assert!(
                exact(measure) < tolerance_mm,
                "{measure}: {}",
                exact(measure)
            );
            let off = (aside(measure) - 0.3).abs();
            assert!(off < tolerance_mm, "{measure}: {}", aside(measure));
        }
        // The reference's length is the projected truth: orifice to foramen,
        // then straight to the apex on the film.
        let t = &truth.truth;
        let [dy, dx] = [t.apex_px.y - t.foramen_px.y, t.apex_px.x - t.foramen_px.x];
        let to_apex_mm = (dx * t.mm_per_px[1]).hypot(dy * t.mm_per_px[0]);
        let true_mm = t.canal_length_as_projected_mm + to_apex_mm;
        let found_mm = film["reference"]["canals"][0]["values"]["length_error_mm"]
            .as_f64()
            .unwrap();
        assert!(
            (found_mm - true_mm).abs() < 0.05,
            "{found_mm}, truly {true_mm}"
        );
    }
    let students = found["students"].as_array().unwrap();
    let exact = students.iter().find(|s| s["student"] == "exact").unwrap();
    assert_eq!((&exact["traces"], &exact["passed"]), (&json!(2), &json!(2)));
    assert_eq!(exact["points"], exact["points_possible"]);

    // One number per student over both films, and no name left.
    let output = grade(path, &["--json", "--numbers-for-names"]);
    let numbered: Value = serde_json::from_slice(&output.stdout).unwrap();
    let of = |film: usize| {
        let traces = numbered["films"][film]["traces"].as_array().unwrap().iter();
        let pairs = traces.map(|t| {
            (
                t["student"].clone(),
                t["canals"][0]["measures"]["apex_error_mm"]
                    .as_f64()
                    .unwrap()
                    > 0.1,
            )
        });
        let mut pairs: Vec<_> = pairs.collect();
        pairs.sort_by_key(|(_, aside)| *aside);
        pairs
    };
    assert_eq!(of(0), of(1));
    let all = [output.stdout, output.stderr].concat();
    let all = String::from_utf8(all).unwrap();
    // "exact" alone is part of a key of the limits of agreement.
    for name in [
        "\"exact",
        "exact-",
        "aside",
        "lost",
        "foreign",
        "premolar-35",
    ] {
        assert!(!all.contains(name), "{name}");
    }

    let sheets = grade(path, &["--sheets", "sheets"]);
    let listed = String::from_utf8(sheets.stdout).unwrap();
    assert_eq!(listed.lines().count(), 4, "{listed}");
    assert!(path.join("sheets/film-01/exact.pdf").is_file());
}

/// A set length that is 3 mm too long on every film fails what is required
/// there; the points for everything else do not make up for it.
#[test]
fn who_passes_no_film_does_not_pass_the_set() {
    let folder = set("moderate", "5");
    let path = folder.path();
    for (film, number) in opened(path).films.iter().zip(1..) {
        for (student, longer_mm) in [("right", 0.0), ("wrong", 3.0)] {
            let mut case = traced(&film.truth, &film.film, student, 0.0);
            let length = &mut case["canals"][0]["file"]["set_length_mm"];
            *length = json!(length.as_f64().unwrap() + longer_mm);
            let hand_in = path.join("class");
            fs::create_dir_all(&hand_in).unwrap();
            fs::write(
                hand_in.join(format!("{student}-{number}.case.json")),
                case.to_string(),
            )
            .unwrap();
        }
    }
    let found: Value = serde_json::from_slice(&grade(path, &["--json"]).stdout).unwrap();
    let total = |student: &str| {
        let students = found["students"].as_array().unwrap();
        students
            .iter()
            .find(|one| one["student"] == student)
            .cloned()
    };
    let (right, wrong) = (total("right").unwrap(), total("wrong").unwrap());
    assert_eq!(
        (&right["passed"], &right["has_passed"]),
        (&json!(2), &json!(true))
    );
    assert_eq!(wrong["passed"], 0, "{wrong:#}");
    assert!(wrong["percent"].as_f64().unwrap() >= 70.0, "{wrong:#}");
    assert_eq!(wrong["has_passed"], false);
}

#[test]
fn the_opened_truth_is_a_reference_for_grade() {
    let folder = set("easy", "3");
    let path = folder.path();
    let output = practice(path, &["open", "set/truth.sealed", "--out", "truth"]);
    assert!(output.status.success());
    let film = &opened(path).films[1];
    fs::create_dir(path.join("class")).unwrap();
    let case = traced(&film.truth, &film.film, "aside", 0.1);
    fs::write(path.join("class/a.case.json"), case.to_string()).unwrap();
    let graded = Command::cargo_bin("lengthfilm")
        .unwrap()
        .current_dir(path)
        .args(["grade", "--json", "--traces", "class"])
        .args(["--reference", "truth/film-02.truth.case.json"])
        .output()
        .unwrap();
    assert!(
        graded.status.success(),
        "{}",
        String::from_utf8_lossy(&graded.stderr)
    );
    let found: Value = serde_json::from_slice(&graded.stdout).unwrap();
    let apex_mm = found["traces"][0]["canals"][0]["measures"]["apex_error_mm"].as_f64();
    assert!((apex_mm.unwrap() - 0.1).abs() < 1e-9);
    // Easy is at most one bend of 20°.
    for film in &opened(path).films {
        assert!(
            film.truth.curves.len() <= 1
                || film.truth.curves.iter().all(|c| c.turn_deg.abs() < 8.0)
        );
        assert!(
            film.truth
                .curves
                .iter()
                .all(|c| c.turn_deg.abs() <= 20.0 + 1e-9)
        );
    }
}

#[test]
fn wrong_passphrases_and_existing_files_are_refused() {
    let folder = set("easy", "1");
    let path = folder.path();
    let again = practice(path, &["make", "--count", "2", "--out", "set"]);
    assert_eq!(again.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&again.stderr).contains("exists already"));
    fs::write(path.join("passphrase"), "another one").unwrap();
    let wrong = practice(path, &["open", "set/truth.sealed", "--out", "truth"]);
    assert_eq!(wrong.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&wrong.stderr).contains("passphrase is wrong"));
    assert!(!path.join("truth").exists());
    fs::write(path.join("passphrase"), "short").unwrap();
    let short = practice(path, &["make", "--out", "other"]);
    assert!(String::from_utf8_lossy(&short.stderr).contains("at least 8 characters"));
    assert!(!path.join("other").exists());
}

/// A folder on a drive that has gone may never answer.
#[test]
fn grading_that_is_stopped_waits_for_no_folder() {
    let folder = tempfile::tempdir().unwrap();
    let traces = [PathBuf::from(folder.path())];
    let cancel = AtomicBool::new(false);
    let progress = Progress::new(&cancel, &|_, _| {});
    let (set, roster) = (OpenedSet::default(), Roster::default());
    let films = || {
        let rubric = Rubric::default();
        practice::grade(&set, folder.path(), &traces, &roster, &rubric, &progress).unwrap_err()
    };
    let blocks = || {
        let settings = ClassSettings {
            rubric: ShapingRubric::default(),
            shaping: ShapingSettings::default(),
            follow_walls: false,
        };
        let graded = practice::grade_blocks(
            &set,
            folder.path(),
            &traces,
            &roster,
            &settings,
            &progress,
            |_, _, _| {},
        );
        graded.unwrap_err()
    };
    // Looked into, the folder holds nothing to grade.
    for found in [films(), blocks()] {
        assert!(matches!(found, PracticeError::Grade(_)), "{found}");
    }
    cancel.store(true, Ordering::Relaxed);
    for found in [films(), blocks()] {
        assert!(matches!(found, PracticeError::GradingStopped), "{found}");
    }
    let collected = collect(&traces, &[], &progress);
    assert!(matches!(collected, Err(CollectError::Stopped(_))));
}

#[test]
fn a_set_that_is_stopped_leaves_the_folder_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let set = folder.path().join("set");
    fs::create_dir(&set).unwrap();
    fs::write(set.join("notes.txt"), "mine").unwrap();
    let cancel = AtomicBool::new(false);
    let told = Mutex::new(Vec::new());
    let tell = |done, total| {
        told.lock().unwrap().push((done, total));
        cancel.store(done == 2, Ordering::Relaxed);
    };
    let progress = Progress::new(&cancel, &tell);
    let request = SetRequest {
        count: 4,
        of: SetOf::Films(Difficulty::Easy),
        seed: 1,
    };
    let made = lengthfilm::practice::make(request, &set, PASSPHRASE, &progress);
    assert!(matches!(made, Err(PracticeError::Stopped)), "{made:?}");
    assert_eq!(*told.lock().unwrap(), [(1, 4), (2, 4)]);
    assert_eq!(names_in(&set), ["notes.txt"]);
}

/// Killed at any moment, making a set leaves no film whose truth is not
/// sealed beside it.
#[test]
fn a_set_killed_while_being_made_leaves_no_unsealed_films() {
    use rand::{RngExt, SeedableRng};
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(17);
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("passphrase"), format!("{PASSPHRASE}\n")).unwrap();
    let program = env!("CARGO_BIN_EXE_lengthfilm");
    let (mut nothing, mut sealed_alone, mut whole) = (0, 0, 0);
    let begun = std::time::Instant::now();
    let mut longest = std::time::Duration::ZERO;
    for round in 0..24 {
        let set = folder.path().join(format!("set-{round}"));
        let mut child = std::process::Command::new(program)
            .current_dir(folder.path())
            .args(["practice", "make", "--count", "2", "--seed", "3"])
            .args(["--passphrase-file", "passphrase", "--out"])
            .arg(&set)
            .stdout(std::process::Stdio::null())
            .spawn()
            .unwrap();
        if round == 0 {
            // One is let to its end, to know how long that is.
            assert!(child.wait().unwrap().success());
            longest = begun.elapsed();
        } else {
            // Every other kill falls into the last part, where files are written.
            let share = random.random_range(if round % 2 == 0 { 0.8..1.05 } else { 0.0..1.0 });
            std::thread::sleep(longest.mul_f64(share));
            child.kill().unwrap();
            child.wait().unwrap();
        }
        let names: Vec<String> = fs::read_dir(&set)
            .map(|entries| entries.map(|e| e.unwrap().file_name().into_string().unwrap()))
            .into_iter()
            .flatten()
            .filter(|name| !name.ends_with(".part"))
            .collect();
        let sealed = set.join("truth.sealed");
        if names.is_empty() {
            nothing += 1;
            continue;
        }
        let truth = OpenedSet::open(&sealed, PASSPHRASE).expect("no film without its sealed truth");
        assert_eq!(truth.films.len(), 2);
        match names.len() {
            5 => whole += 1,
            _ => sealed_alone += 1,
        }
    }
    println!("{nothing} left nothing, {sealed_alone} a sealed part, {whole} a whole set");
    assert!(nothing > 0 && whole > 0, "kills fell before and after");
}
