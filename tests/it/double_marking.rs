//! Hand-ins marked twice without names: what markers get says nobody's name,
//! the key is kept apart, and marks come together by it.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use lengthfilm::case;
use lengthfilm::grading::double_marking::{FOLDERS, MARKS_FILE, MarkingError, compare, prepare};
use lengthfilm::progress::Progress;
use serde_json::json;

const STUDENTS: [&str; 5] = ["Quillon", "Zzyzx", "Vexley", "Wobham", "Yarrow"];
const TABLES: [&str; 3] = ["key", "first", "second"];

/// Hand-ins that name their student wherever a case can.
fn write_class(folder: &Path) -> PathBuf {
    let class = folder.join("class");
    for (number, student) in STUDENTS.iter().enumerate() {
        let own = class.join(student);
        fs::create_dir_all(&own).unwrap();
        let film = own.join(format!("{student}.png"));
        image::GrayImage::from_pixel(40, 60, image::Luma([90]))
            .save(film)
            .unwrap();
        let case = json!({
            "format": "lengthfilm-case", "version": 1,
            "film": {"path": format!("{student}.png"), "pixel_pitch_mm": [0.03, 0.03],
                     "date": "2026-02-03", "taken_by": student},
            "tooth": {"notation": "fdi", "number": "36", "of": student},
            "observer": student,
            "student": {"name": student, "attempt": 1, "date": "2026-03-04"},
            "remark": student,
            "scale": {"by": student, "objects": [{"kind": "ruler", "true_length_mm": 1.0,
                "points_px": [[5, 5], [5, 38]], "of": student}]},
            "canals": [{"name": "MB", "remark": student, "apex_px": [20, 50],
                "file": {"set_length_mm": 20.0, "tip_px": [20, 45], "by": student},
                "trace_px": [[20, 10], [20, 30], [20 + number, 50]]}],
        });
        fs::write(own.join(format!("{student}.case.json")), case.to_string()).unwrap();
    }
    class
}

fn refusal(class: &Path, copies: &Path, key: &Path) -> MarkingError {
    let class = [class.to_owned()];
    prepare(&class, None, copies, key, 1, &Progress::unwatched()).unwrap_err()
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .collect();
    found.sort();
    found
}

fn prepared(folder: &Path, seed: u64) -> (PathBuf, PathBuf) {
    let class = write_class(folder);
    let (copies, key) = (folder.join("copies"), folder.join("key.csv"));
    let done = prepare(&[class], None, &copies, &key, seed, &Progress::unwatched()).unwrap();
    assert_eq!(done.hand_ins, STUDENTS.len());
    assert!(done.refused.is_empty(), "{:?}", done.refused);
    (copies, key)
}

#[test]
fn copies_name_nobody_and_can_be_measured() {
    let folder = tempfile::tempdir().unwrap();
    let (copies, key) = prepared(folder.path(), 7);
    let mut traces = Vec::new();
    for name in FOLDERS {
        let own = files(&copies.join(name));
        // A case and a film for each, and the table of marks.
        assert_eq!(own.len(), 2 * STUDENTS.len() + 1, "{own:?}");
        let mut ends = BTreeSet::new();
        for path in own {
            let bytes = fs::read(&path).unwrap();
            for student in STUDENTS {
                let has = |bytes: &[u8]| bytes.windows(5).any(|w| w == &student.as_bytes()[..5]);
                assert!(!has(&bytes), "{student} stands in {}", path.display());
                assert!(!has(path.file_name().unwrap().as_encoded_bytes()));
            }
            if path.to_string_lossy().ends_with(".case.json") {
                let case = case::load(&path).unwrap();
                assert!(case::existing_film_path(&case, &path).unwrap().is_file());
                assert!(!fs::read_to_string(&path).unwrap().contains("2026"));
                ends.insert(case.canals[0].trace_px[2].x as u32);
            }
        }
        traces.push(ends);
    }
    assert_eq!(traces[0], traces[1], "both get every hand-in");
    assert_eq!(traces[0].len(), STUDENTS.len());
    let key = fs::read_to_string(key).unwrap();
    assert!(
        STUDENTS.iter().all(|student| key.contains(student)),
        "{key}"
    );
    // No code of one marker is one of the other.
    assert!(key.contains("A01") && key.contains("B01"));
}

#[test]
fn codes_are_in_no_order_of_the_names() {
    let orders: BTreeSet<String> = (0..6)
        .map(|seed| {
            let folder = tempfile::tempdir().unwrap();
            let (_, key) = prepared(folder.path(), seed);
            let text = fs::read_to_string(key).unwrap();
            let codes = text
                .lines()
                .skip(1)
                .map(|line| line.rsplit(',').nth(1).unwrap());
            codes.collect::<Vec<_>>().join(" ")
        })
        .collect();
    assert!(orders.len() >= 4, "{orders:?}");
}

#[test]
fn the_key_never_lies_with_the_copies_and_nothing_is_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let class = write_class(folder.path());
    let copies = folder.path().join("copies");
    fs::create_dir(&copies).unwrap();
    for key in [
        "copies/key.csv",
        "copies/marker-1/../key.csv",
        "copies/./key.csv",
    ] {
        let key = folder.path().join(key);
        let refused = refusal(&class, &copies, &key);
        let is_beside = matches!(refused, MarkingError::KeyBeside(_));
        assert!(is_beside || !key.parent().unwrap().exists(), "{refused}");
        assert!(files(&copies).is_empty(), "nothing is written");
    }
    let key = folder.path().join("key.csv");
    fs::write(&key, "mine").unwrap();
    let refused = refusal(&class, &copies, &key);
    assert!(matches!(refused, MarkingError::KeyExists(_)), "{refused}");
    assert_eq!(fs::read(&key).unwrap(), b"mine");
    let other = folder.path().join("other.csv");
    fs::write(copies.join("a"), "mine").unwrap();
    let refused = refusal(&class, &copies, &other);
    assert!(matches!(refused, MarkingError::NotEmpty(_)), "{refused}");
    assert!(!other.exists());
}

/// Copies without their key are of no use to anybody.
#[test]
fn what_was_copied_is_taken_back_when_it_is_stopped() {
    let folder = tempfile::tempdir().unwrap();
    let class = write_class(folder.path());
    let copies = folder.path().join("copies");
    let key = folder.path().join("key.csv");
    let cancel = AtomicBool::new(false);
    let told = AtomicUsize::new(0);
    let stop_after_seven = |done: usize, total: usize| {
        assert_eq!(total, 2 * STUDENTS.len());
        told.store(done, Ordering::Relaxed);
        cancel.store(done == 7, Ordering::Relaxed);
    };
    let progress = Progress::new(&cancel, &stop_after_seven);
    let stopped = prepare(&[class], None, &copies, &key, 1, &progress).unwrap_err();
    assert!(matches!(stopped, MarkingError::Stopped(_)), "{stopped}");
    assert_eq!(told.load(Ordering::Relaxed), 7);
    assert!(files(&copies).is_empty() && !key.exists());
    // The same folders serve again.
    prepared(folder.path(), 1);
    assert!(key.exists());
}

/// Marks go to the students that the key says, whatever their order. ICC and
/// limits are those of the same numbers without codes.
#[test]
fn marks_come_together_by_the_key() {
    let folder = tempfile::tempdir().unwrap();
    let (copies, key) = prepared(folder.path(), 3);
    let key = fs::read_to_string(key).unwrap();
    let given = [[6.0, 8.5, 4.0, 7.0, 9.5], [6.5, 8.0, 5.0, 7.0, 9.0]];
    let codes = |marker: usize| -> Vec<String> {
        let lines = key.trim_start_matches('\u{feff}').lines().skip(1);
        let row = |line: &str| line.split(',').map(str::to_owned).collect::<Vec<_>>();
        lines.map(|line| row(line)[2 + marker].clone()).collect()
    };
    let marked = |marker: usize| {
        let text = fs::read_to_string(copies.join(FOLDERS[marker]).join(MARKS_FILE)).unwrap();
        let codes = codes(marker);
        text.lines()
            .map(
                |line| match codes.iter().position(|code| line.starts_with(code)) {
                    Some(at) => format!("{line}{}\n", given[marker][at]),
                    None => format!("{line}\n"),
                },
            )
            .collect::<String>()
    };
    let tables = [marked(0), marked(1)];
    let found = compare(&key, [&tables[0], &tables[1]], TABLES).unwrap();
    // The key stands in the order of the hand-ins collected: by folder.
    for (index, one) in found.hand_ins.iter().enumerate() {
        for (mark, given) in one.marks.iter().zip(&given) {
            let mark: f64 = mark.as_ref().unwrap().parse().unwrap();
            assert_eq!(mark, given[index], "{one:?}");
        }
    }
    let agreement = found.agreement.unwrap();
    let plain = (0..5).fold("subject,a,b\n".to_owned(), |text, i| {
        format!("{text}{i},{},{}\n", given[0][i], given[1][i])
    });
    let expected = lengthfilm::agreement::analysis::analyse_table(
        &plain,
        Default::default(),
        lengthfilm::agreement::bland_altman::LimitConvention::Normal196,
    )
    .unwrap();
    let value = |found: &lengthfilm::agreement::analysis::AgreementAnalysis| {
        found.icc.as_ref().unwrap().icc_2_1.value
    };
    assert!((value(&agreement) - value(&expected)).abs() < 1e-12);
    assert_eq!(agreement.subjects, 5);

    // One mark is missing: left out of the agreement, and seen to be.
    let first = tables[0].replace("4\n", "\n");
    let found = compare(&key, [&first, &tables[1]], TABLES).unwrap();
    let missing: Vec<_> = found
        .hand_ins
        .iter()
        .filter(|one| one.marks[0].is_none())
        .collect();
    assert_eq!(missing.len(), 1);
    assert_eq!(found.agreement.unwrap().subjects, 4);

    // Tables exchanged, or a code twice: refused, not guessed.
    let error = compare(&key, [&tables[1], &tables[0]], TABLES).unwrap_err();
    assert!(matches!(error, MarkingError::UnknownCode { .. }), "{error}");
    let twice = format!("{}{}", tables[0], tables[0].lines().last().unwrap());
    let error = compare(&key, [&twice, &tables[1]], TABLES).unwrap_err();
    assert!(matches!(error, MarkingError::CodeTwice { .. }), "{error}");
    let error = compare(&tables[0], [&tables[0], &tables[1]], TABLES).unwrap_err();
    assert!(
        error.to_string().contains("no column \"student\""),
        "{error}"
    );
}
