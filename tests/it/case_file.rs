//! The case file: unknown keys, the schema in docs, garbage.

use std::path::Path;

use lengthfilm::case::{self, Case};
use proptest::prelude::*;
use serde_json::{Value, json};

fn parse(text: &str) -> Result<Case, case::CaseError> {
    case::parse(text.as_bytes(), Path::new("t.case.json"))
}

#[test]
fn unknown_keys_survive_loading_and_saving_at_every_level() {
    let original = json!({
        "format": "lengthfilm-case", "version": 1, "later": {"a": [1, 2]},
        "film": {"path": "film.png", "sha256": null, "later": true},
        "scale": {"later": 1, "objects": [{"kind": "ruler", "true_length_mm": 10.0,
                  "points_px": [[1.0, 2.0], [3.0, 4.0]], "later": "x"}]},
        "tooth": {"notation": "fdi", "number": "36", "later": 2},
        "canals": [{"name": "MB", "later": [], "file": {"set_length_mm": 20.0, "later": {}}}]
    });
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("t.case.json");
    case::save(&parse(&original.to_string()).unwrap(), &path).unwrap();
    let saved: Value = serde_json::from_slice(&std::fs::read(&path).unwrap()).unwrap();
    assert_contains(&saved, &original, "");
    assert_eq!(
        case::load(&path).unwrap(),
        parse(&original.to_string()).unwrap()
    );
}

/// Every key and value of `expected` is in `found`.
fn assert_contains(found: &Value, expected: &Value, at: &str) {
    match expected {
        Value::Object(map) => map.iter().for_each(|(key, value)| {
            let inner = found
                .get(key)
                .unwrap_or_else(|| panic!("{at}.{key} is gone"));
            assert_contains(inner, value, &format!("{at}.{key}"));
        }),
        Value::Array(items) => items
            .iter()
            .enumerate()
            .for_each(|(i, value)| assert_contains(&found[i], value, &format!("{at}[{i}]"))),
        _ => assert_eq!(found, expected, "{at}"),
    }
}

/// docs/case.schema.json is what the types say. `LENGTHFILM_BLESS=1` rewrites
/// it.
#[test]
fn the_schema_in_docs_is_the_one_of_the_types() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/case.schema.json");
    let mut current = serde_json::to_string_pretty(&schemars::schema_for!(Case)).unwrap();
    current.push('\n');
    if std::env::var_os("LENGTHFILM_BLESS").is_some() {
        std::fs::write(&path, &current).unwrap();
    }
    let stored = std::fs::read_to_string(&path).unwrap();
    assert_eq!(
        stored, current,
        "run the tests once with LENGTHFILM_BLESS=1"
    );
}

/// RFC 8259, 8.1: a reader may ignore a byte order mark.
#[test]
fn a_byte_order_mark_is_ignored() {
    let text = r#"{"format": "lengthfilm-case", "version": 1, "film": {"path": "f.png"}}"#;
    let marked = format!("\u{feff}{text}");
    assert_eq!(
        case::parse(marked.as_bytes(), Path::new("t")).unwrap(),
        case::parse(text.as_bytes(), Path::new("t")).unwrap()
    );
}

/// What is saved comes back the same to the last bit: case, coordinates and
/// typed lengths.
fn saved_and_loaded(x: f64, y: f64, length_mm: f64) -> (Case, Case) {
    let mut case = case::Case::on_film("film.png");
    case.canals.push(case::Canal {
        name: "MB".to_owned(),
        trace_px: vec![[x, y].into(), [y, x].into()],
        file: Some(case::CanalFile {
            set_length_mm: Some(length_mm),
            ..case::CanalFile::default()
        }),
        ..case::Canal::default()
    });
    let back = parse(&case::to_json(&case)).unwrap();
    (case, back)
}

/// Sums that are no short decimals, and the ends of the range.
#[test]
fn known_numbers_come_back_the_same() {
    for hard in [
        0.1 + 0.2,
        1e-7 + 1.0,
        2f64.powi(-30) * 3.3,
        5e-324,
        f64::MAX,
    ] {
        let (saved, back) = saved_and_loaded(hard, -hard, hard);
        assert_eq!(saved, back);
    }
}

proptest! {
    #[test]
    fn saved_numbers_come_back_the_same(
        x in proptest::num::f64::NORMAL,
        y in -1e5..1e5_f64,
        length_mm in 0.0..60.0_f64,
    ) {
        let (saved, back) = saved_and_loaded(x, y, length_mm);
        prop_assert_eq!(saved, back);
    }

    #[test]
    fn garbage_never_panics(bytes in proptest::collection::vec(any::<u8>(), 0..300)) {
        prop_assert!(case::parse(&bytes, Path::new("t")).is_err());
    }

    /// A sound case with one byte changed parses or is refused, and what
    /// parses is measured or refused.
    #[test]
    fn damaged_cases_never_panic(at in 0usize..400, byte in any::<u8>()) {
        use lengthfilm::measure::{FilmSummary, MeasureSettings, measure};
        let sound = json!({
            "format": "lengthfilm-case", "version": 1, "film": {"path": "f.png",
            "pixel_pitch_mm": [0.025, 0.03]},
            "scale": {"objects": [{"kind": "file", "canal": "MB", "true_length_mm": 20.0,
                      "points_px": [[51.0, 14.0], [51.5, 40.0], [53.0, 90.0]]}]},
            "canals": [{"name": "MB", "reference_px": [51.0, 14.0],
                        "trace_px": [[51, 42], [51.6, 60], [52, 80], [54, 94]],
                        "file": {"set_length_mm": 20.0, "tip_px": [53.0, 90.0]}}]
        });
        let mut bytes = sound.to_string().into_bytes();
        let at = at % bytes.len();
        bytes[at] = byte;
        if let Ok(case) = case::parse(&bytes, Path::new("t")) {
            let film = FilmSummary {
                width_px: 100, height_px: 100,
                ..FilmSummary::default()
            };
            let _ = measure(&case, &film, "t", &MeasureSettings::default());
        }
    }
}

#[test]
fn saving_over_a_file_that_has_changed_is_refused_and_keeps_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.case.json");
    let mut case = Case::on_film("film.png");
    let first = case::save_over(&case, &path, None).unwrap();
    case.seed = 2;
    let second = case::save_over(&case, &path, Some(&first)).unwrap();
    assert_eq!(case::load_with_hash(&path).unwrap(), (case.clone(), second));
    case.seed = 3;
    for known in [Some(first.as_str()), None] {
        let refused = case::save_over(&case, &path, known).unwrap_err();
        assert!(matches!(refused, case::CaseError::ChangedOnDisk { .. }));
        assert_eq!(case::load(&path).unwrap().seed, 2);
    }
    for number in 2..5 {
        let beside = case::save_beside(&case, &path).unwrap();
        assert_eq!(beside, folder.path().join(format!("a-{number}.case.json")));
        assert_eq!(case::load(&beside).unwrap(), case);
    }
    let plain = folder.path().join("b.json");
    let beside = case::save_beside(&case, &plain).unwrap();
    assert_eq!(beside, folder.path().join("b-2.json"));
}

/// Of many that save over one file at the same moment exactly one succeeds in
/// each round, and what it reports is there.
#[test]
fn of_two_that_save_at_once_one_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.case.json");
    let mut case = Case::on_film("film.png");
    let mut known = case::save_over(&case, &path, None).unwrap();
    for round in 0..50_u64 {
        let saved: Vec<(u64, String)> = std::thread::scope(|scope| {
            let writers: Vec<_> = (0..4)
                .map(|writer| {
                    let mut case = case.clone();
                    case.seed = 10 * round + writer + 2;
                    let (path, known) = (&path, &known);
                    scope.spawn(move || {
                        let saved = case::save_over(&case, path, Some(known));
                        saved.ok().map(|sha256| (case.seed, sha256))
                    })
                })
                .collect();
            let ends = writers.into_iter().map(|writer| writer.join().unwrap());
            ends.flatten().collect()
        });
        assert_eq!(saved.len(), 1, "round {round}");
        let (seed, sha256) = saved.into_iter().next().unwrap();
        assert_eq!(case::load(&path).unwrap().seed, seed);
        case.seed = seed;
        known = sha256;
    }
}

/// Environment of a child: the case file it shares with another.
const CHILD_CASE: &str = "LENGTHFILM_TEST_SHARED_CASE";
const ROUNDS: usize = 100;

/// Two windows count up the seed of one case, each reading it anew when the
/// other was first; both are killed at a random moment, 100 times. Every save
/// that was reported is in the count: none was lost or overwritten unseen.
#[cfg(unix)]
#[test]
fn two_windows_on_one_case_lose_nothing_to_200_kills() {
    use rand::{RngExt, SeedableRng};
    use std::io::{BufRead, BufReader};
    use std::process::{Command, Stdio};
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.case.json");
    case::save(&Case::on_film("film.png"), &path).unwrap();
    let mut random = rand_chacha::ChaCha8Rng::seed_from_u64(5);
    let (mut reported, mut refused, mut kills) = (0_u64, 0_u64, 0_u64);
    let first = case::load(&path).unwrap().seed;
    for round in 0..ROUNDS {
        let mut windows: Vec<_> = (0..2)
            .map(|_| {
                Command::new(std::env::current_exe().unwrap())
                    .args(["--ignored", "--exact", "--nocapture"])
                    .arg("case_file::child_counts_in_a_shared_case")
                    .env(CHILD_CASE, &path)
                    .stdout(Stdio::piped())
                    .stderr(Stdio::null())
                    .spawn()
                    .unwrap()
            })
            .collect();
        // Both are busy before the first is killed.
        let mut outputs = Vec::new();
        for window in &mut windows {
            let mut lines = BufReader::new(window.stdout.take().unwrap()).lines();
            let mut said = Vec::new();
            while let Some(Ok(line)) = lines.next() {
                said.push(line);
                if said.last().is_some_and(|line| line.contains("saved")) {
                    break;
                }
            }
            outputs.push((said, lines));
        }
        for window in &mut windows {
            std::thread::sleep(std::time::Duration::from_micros(
                random.random_range(0..5_000),
            ));
            window.kill().unwrap();
            window.wait().unwrap();
            kills += 1;
        }
        for (mut said, lines) in outputs {
            said.extend(lines.map_while(Result::ok));
            // The last line may have been cut by the kill.
            let count = |word: &str| said.iter().filter(|line| line.ends_with(word)).count() as u64;
            reported += count("saved.");
            refused += count("refused.");
        }
        let counted = case::load(&path).expect("the file is whole").seed - first;
        assert!(
            (reported..=reported + kills).contains(&counted),
            "round {round}: {reported} saves reported, {counted} counted"
        );
    }
    println!("{kills} kills, {reported} saves, {refused} refused because the other was first");
    assert!(refused > 0, "the windows met");
}

/// The child of the test above, at most a minute.
#[test]
#[ignore = "run by another test"]
fn child_counts_in_a_shared_case() {
    use std::io::Write;
    let path = std::path::PathBuf::from(std::env::var_os(CHILD_CASE).expect("run by another test"));
    let begun = std::time::Instant::now();
    let mut stdout = std::io::stdout();
    let (mut case, mut known) = case::load_with_hash(&path).unwrap();
    while begun.elapsed() < std::time::Duration::from_secs(60) {
        case.seed += 1;
        let word = match case::save_over(&case, &path, Some(&known)) {
            Ok(sha256) => {
                known = sha256;
                "saved."
            }
            Err(case::CaseError::ChangedOnDisk { .. }) => {
                (case, known) = case::load_with_hash(&path).unwrap();
                "refused."
            }
            Err(error) => panic!("{error}"),
        };
        writeln!(stdout, "{word}").unwrap();
        stdout.flush().unwrap();
    }
}
