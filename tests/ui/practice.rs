//! Practice in the window: a set made, handed out, traced, graded; the truth
//! seen by nobody before that.

use std::fs;
use std::path::{Path, PathBuf};

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use lengthfilm::case;
use lengthfilm::desktop::{ClassRecord, StartWith};
use lengthfilm::phantom::Truth;
use lengthfilm::practice::{FilmTruth, OpenedSet};
use lengthfilm::units::FilmPoint;
use serde_json::json;

use crate::desk::Desk;

const PASSPHRASE: &str = "chalk and amalgam";

/// The page filled in for a set of `count` films in `folder`.
fn filled(count: &str, folder: &Path) -> Desk {
    let mut desk = Desk::start(None, None);
    desk.key(Modifiers::COMMAND, Key::M);
    desk.click("Number of films or blocks");
    desk.key(Modifiers::COMMAND, Key::A);
    desk.type_text(count);
    desk.click("Seed of the films");
    desk.type_text("8");
    desk.click("Folder to write into");
    desk.type_text(&folder.to_string_lossy());
    desk.click("New passphrase");
    desk.type_text(PASSPHRASE);
    desk.click("New passphrase again");
    desk.type_text(PASSPHRASE);
    desk
}

/// A folder with a set of two films in `set`, made in the window shown.
fn made() -> (tempfile::TempDir, Desk) {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = filled("2", &folder.path().join("set"));
    desk.click("Make the set");
    assert!(
        desk.says("Exercise set made: 2 films"),
        "{:?}",
        desk.texts()
    );
    (folder, desk)
}

fn truths(folder: &Path) -> Vec<FilmTruth> {
    let sealed = folder.join("set/truth.sealed");
    OpenedSet::open(&sealed, PASSPHRASE).expect("opens").films
}

/// Hands in a trace of the true canal, `shift_mm` to the right.
fn hand_in(folder: &Path, truth: &FilmTruth, student: &str, shift_mm: f64) {
    let film = &truth.film;
    let truth: &Truth = &truth.truth;
    let shifted = |p: &FilmPoint| [p.x + shift_mm / truth.mm_per_px[1], p.y];
    let last = truth.canal_px.len() - 1;
    let mut trace: Vec<_> = (0..=20)
        .map(|i| shifted(&truth.canal_px[(0.93 * f64::from(i) / 20.0 * last as f64) as usize]))
        .collect();
    trace.push(shifted(&truth.apex_px));
    let file = truth.file.as_ref().expect("every practice film has a file");
    let case = json!({
        "format": "lengthfilm-case", "version": 1, "film": {"path": format!("../set/{film}")},
        "student": {"name": student},
        "canals": [{"name": truth.spec.tooth.canal_name, "trace_px": trace,
                    "apex_px": shifted(&truth.apex_px),
                    "file": {"set_length_mm": file.stop_to_tip_mm, "tip_px": shifted(&file.tip_px)}}],
    });
    let class = folder.join("class");
    fs::create_dir_all(&class).expect("made");
    let name = format!("{student}-{}.case.json", film.trim_end_matches(".png"));
    fs::write(class.join(name), case.to_string()).expect("written");
}

/// Fills in what is to be graded, from the page that asks for it.
fn choose(desk: &mut Desk, sealed: Option<&Path>, traces: &Path, passphrase: &str) {
    let paths = sealed
        .map(|sealed| (sealed, "Take path as the sealed truth"))
        .into_iter()
        .chain([(traces, "Add path to traces")]);
    for (path, button) in paths {
        desk.click("Path of a case or a folder");
        desk.type_text(&path.to_string_lossy());
        desk.click(button);
    }
    desk.click("Passphrase of the set");
    desk.type_text(passphrase);
}

fn names_in(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("lists");
    let mut names: Vec<String> = entries
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .into_string()
                .expect("UTF-8")
        })
        .collect();
    names.sort();
    names
}

#[test]
fn a_set_is_made_traced_and_graded_over_all_its_films() {
    let (folder, mut desk) = made();
    let path = folder.path();
    assert_eq!(
        names_in(&path.join("set")),
        [
            "film-01.case.json",
            "film-01.png",
            "film-02.case.json",
            "film-02.png",
            "truth.sealed"
        ]
    );
    let truths = truths(path);
    for film in &truths {
        hand_in(path, film, "exact", 0.0);
        hand_in(path, film, "aside", 0.3);
    }
    let foreign = path.join("class/foreign.case.json");
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-images/premolar-35-s-bend.png");
    let mut case = case::load(&path.join("class/exact-film-01.case.json")).expect("reads");
    fs::copy(sample, path.join("class/foreign.png")).expect("copied");
    case.film.path = "foreign.png".to_owned();
    case::save(&case, &foreign).expect("writes");

    desk.click("Grade traces of this set…");
    choose(&mut desk, None, &path.join("class"), "wrong passphrase");
    desk.click("Grade");
    assert!(desk.says("passphrase is wrong"));
    desk.click("Dismiss");
    desk.click("Passphrase of the set");
    desk.key(Modifiers::COMMAND, Key::A);
    desk.type_text(PASSPHRASE);
    assert!(!desk.texts().iter().any(|text| text.contains(PASSPHRASE)));
    desk.click("Grade");
    assert!(
        desk.says("4 traces of 2 students on 2 films graded"),
        "{:?}",
        desk.texts()
    );
    assert!(desk.says("1 not graded"));

    // The shift itself is the distance on either film.
    desk.click("aside");
    assert!(desk.says("Film with 2 traces; chosen"));
    assert!(desk.says("distance between the apex marks: 0.30 mm"));
    desk.click("Film of the set");
    desk.click("film-02.png");
    assert!(desk.says("Choose a row to see"));
    desk.click("aside");
    assert!(desk.says("distance between the apex marks: 0.30 mm"));

    desk.click("Students");
    assert!(desk.says("exact: 2 traces, 2 passed, "));
    assert!(desk.says("aside: 2 traces, "));
    assert!(!desk.says("aside: 2 traces, 2 passed, 18/18 points"));
    assert!(desk.says("none of this exercise set"));

    desk.save_class_to(ClassRecord::Table, &path.join("set.csv"));
    let table = fs::read_to_string(path.join("set.csv")).expect("a table");
    let table = table.trim_start_matches('\u{feff}');
    let first: Vec<&str> = table.lines().filter_map(|l| l.split(',').next()).collect();
    let films = ["film-01.png", "film-02.png"];
    assert_eq!(first[0], "film");
    assert_eq!(
        first[1..],
        // The file of no film stands last.
        [films[0], films[0], films[1], films[1], ""],
        "{table}"
    );
    desk.click("Anonymise");
    desk.save_class_to(ClassRecord::Sheets, &path.join("sheets"));
    assert!(desk.says("4 sheets written into"));
    for sheet in ["film-01/student-1.pdf", "film-02/student-2.pdf"] {
        assert!(path.join("sheets").join(sheet).is_file(), "{sheet}");
    }
    assert!(!desk.texts().iter().any(|text| text.contains("aside")));
    // Nor does an error name a file, whose name may be a person's.
    fs::remove_file(path.join("set/film-01.png")).expect("removed");
    desk.click("Film of the set");
    desk.click("film-01.png");
    desk.wait_until("the film cannot be opened; without Anonymise the reason is told");
    let names_the_film = |text: &String| text.contains("set/film-01.png");
    assert!(!desk.texts().iter().any(names_the_film));
}

#[test]
fn the_truth_is_written_in_the_open_on_request() {
    let (folder, mut desk) = made();
    let truth = folder.path().join("truth");
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::G);
    choose(
        &mut desk,
        Some(&folder.path().join("set/truth.sealed")),
        &folder.path().join("set"),
        PASSPHRASE,
    );
    desk.open_truth_to(&truth);
    assert!(desk.says("Unsealed truth: 4 files written into"));
    assert_eq!(names_in(&truth).len(), 4);
    // Nobody has traced anything yet.
    desk.click("Grade");
    assert!(desk.says("nothing to grade: no canal is traced"));
}

#[test]
fn making_can_be_stopped_and_nothing_is_left_of_it() {
    let folder = tempfile::tempdir().expect("a folder");
    let set = folder.path().join("set");
    let mut desk = filled("500", &set);
    desk.harness.get_by_label("Make the set").click();
    desk.harness.step();
    desk.harness.step();
    assert!(desk.says("Making film"), "{:?}", desk.texts());
    // The window goes on working beside it.
    desk.harness.get_by_label("Back to the case").click();
    desk.harness.step();
    desk.harness.step();
    assert!(desk.says("Open film or case…"));
    desk.harness.get_by_label("Show").click();
    desk.harness.step();
    desk.harness.step();
    desk.harness.get_by_label("Stop").click();
    desk.harness.step();
    desk.settle();
    assert!(desk.says("Stopped: no set was made"), "{:?}", desk.texts());
    assert!(!set.exists());
}

#[test]
fn a_window_that_closes_leaves_no_half_set() {
    let folder = tempfile::tempdir().expect("a folder");
    let set = folder.path().join("set");
    let mut desk = filled("500", &set);
    desk.harness.get_by_label("Make the set").click();
    desk.harness.step();
    desk.harness.step();
    // 500 films take minutes; none has a name before all are made.
    std::thread::sleep(std::time::Duration::from_millis(500));
    desk.close();
    assert!(!set.exists());
}

#[test]
fn folders_that_cannot_be_used_are_refused_in_plain_words() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path();
    fs::write(path.join("film-02.png"), "mine").expect("written");
    let mut desk = filled("2", path);
    desk.click("Make the set");
    assert!(desk.says("film-02.png: exists already and is kept"));
    desk.click("Dismiss");
    assert_eq!(names_in(path), ["film-02.png"]);
    assert_eq!(fs::read(path.join("film-02.png")).expect("stays"), b"mine");

    let below_a_file = path.join("film-02.png/set");
    let mut desk = filled("2", &below_a_file);
    desk.click("Make the set");
    assert!(desk.says("film-02.png/set: "), "{:?}", desk.texts());
    assert!(!desk.says("Exercise set made"));
}

#[test]
fn other_files_in_the_folder_are_no_hindrance_and_stay() {
    let folder = tempfile::tempdir().expect("a folder");
    fs::write(folder.path().join("notes.txt"), "mine").expect("written");
    let mut desk = filled("1", folder.path());
    desk.click("Make the set");
    assert!(desk.says("Exercise set made: 1 film"));
    assert_eq!(
        names_in(folder.path()),
        [
            "film-01.case.json",
            "film-01.png",
            "notes.txt",
            "truth.sealed"
        ]
    );
}

#[test]
fn the_page_says_what_is_missing_and_escape_goes_back() {
    let mut desk = Desk::start(None, None);
    desk.click_button("Make an exercise set…");
    assert!(desk.says("Choose the folder to write into"));
    desk.click("Folder to write into");
    desk.type_text("some/set");
    assert!(desk.says("The passphrase needs at least 8 characters"));
    desk.click("New passphrase");
    desk.type_text(PASSPHRASE);
    assert!(desk.says("Type the same passphrase twice"));
    assert!(!desk.texts().iter().any(|text| text.contains(PASSPHRASE)));
    desk.click("films, hard: S-shaped or curved in the apical third, calcified over the last 2.5 mm, coarse trabeculae");
    desk.click("Number of films or blocks");
    desk.key(Modifiers::COMMAND, Key::A);
    desk.type_text("501");
    assert!(desk.says("Number: a whole number from 1 to 500"));
    // Out of the field, then out of the page.
    desk.key(Modifiers::NONE, Key::Escape);
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(desk.says("Open film or case…"));
}

/// What a student's window says of a film of the set is the same whether the
/// truth lies beside it or nowhere, and nothing is marked.
#[test]
fn a_student_sees_nothing_of_the_truth_and_traces_by_hand() {
    let (folder, _educator) = made();
    let path = folder.path();
    let truth = truths(path).swap_remove(0);
    let seen = |start: StartWith| {
        let mut desk = Desk::start(Some(start), None);
        for section in ["Input uncertainties: hidden", "Typed pixel pitch"] {
            desk.click(section);
        }
        (desk.texts(), desk)
    };
    let case = path.join("set/film-01.case.json");
    let film = path.join("set/film-01.png");
    let (with_truth, mut desk) = seen(StartWith::Case(case.clone()));
    let (film_with_truth, _) = seen(StartWith::Film(film.clone()));
    fs::rename(path.join("set/truth.sealed"), path.join("kept-away")).expect("moved");
    assert_eq!(seen(StartWith::Case(case)).0, with_truth);
    assert_eq!(seen(StartWith::Film(film)).0, film_with_truth);
    let canal = &desk.case().canals[0];
    assert!(canal.trace_px.is_empty() && canal.apex_px.is_none() && canal.reference_px.is_none());
    assert!(desk.case().scale.objects.is_empty());
    assert!(desk.case().film.pixel_pitch_mm.is_none() && desk.case().film.magnification.is_none());
    for words in ["truth", "seed", "Schneider:"] {
        let told = with_truth.iter().find(|text| text.contains(words));
        assert_eq!(told, None, "{words}");
    }

    // File, apex, canal: as any film is measured.
    let true_file = truth.truth.file.as_ref().expect("has a file");
    desk.key(Modifiers::NONE, Key::F);
    for end in [true_file.stop_px, true_file.tip_px] {
        desk.click_film(end.x, end.y);
    }
    desk.key(Modifiers::NONE, Key::A);
    desk.click_film(truth.truth.apex_px.x, truth.truth.apex_px.y);
    desk.key(Modifiers::NONE, Key::T);
    let canal = &truth.truth.canal_px;
    for i in 0..8 {
        let at = canal[(0.8 * f64::from(i) / 7.0 * (canal.len() - 1) as f64) as usize];
        desk.click_film(at.x, at.y);
    }
    desk.key(Modifiers::SHIFT, Key::Enter);
    assert_eq!(desk.case().canals[0].trace_px.len(), 9, "ends at the apex");
    fs::create_dir(path.join("class")).expect("made");
    desk.save_to(&path.join("class/by-hand.case.json"));
    fs::copy(path.join("set/film-01.png"), path.join("class/film-01.png")).expect("handed in");

    let mut desk = Desk::start(Some(StartWith::Film(path.join("kept-away"))), None);
    assert!(desk.says("kept-away"), "no film: an error that names it");
    desk.click("Dismiss");
    desk.key(Modifiers::COMMAND | Modifiers::SHIFT, Key::G);
    let sealed: PathBuf = path.join("kept-away");
    choose(&mut desk, Some(&sealed), &path.join("class"), PASSPHRASE);
    desk.click("Grade");
    assert!(
        desk.says("1 trace of 1 student on 1 film graded; "),
        "{:?}",
        desk.texts()
    );
}
