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
                scale: Default::default(), sha256: String::new(),
            };
            let _ = measure(&case, &film, "t", &MeasureSettings::default());
        }
    }
}
