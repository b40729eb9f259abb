//! The design as a test: which module may use which, and where the window
//! toolkit and the DICOM crates may appear.

use std::fs;
use std::path::{Path, PathBuf};

/// Layers from the bottom up; a module may use its own layer and those below.
const LAYERS: &[&[&str]] = &[
    &[
        "units",
        "tooth",
        "atomic_file",
        "cautions",
        "statistics",
        "spreadsheet",
    ],
    &["geometry", "registration"],
    &["film"],
    &[
        "curvature",
        "calibration",
        "agreement",
        "uncertainty",
        "flatten",
    ],
    &["case", "working_length"],
    &["trace", "phantom", "measure"],
    &["grading", "shaping"],
    &["report"],
    &["feedback", "shaping_record"],
    &["practice"],
    &["cli", "desktop"],
];

fn source_files() -> Vec<PathBuf> {
    let mut files = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|e| e == "rs") {
                files.push(path);
            }
        }
    }
    files
}

/// The top module a source file belongs to: `src/film/raster.rs` → `film`.
fn module_of(file: &Path) -> String {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let first = file.strip_prefix(src).unwrap().components().next().unwrap();
    let name = first.as_os_str().to_str().unwrap();
    name.trim_end_matches(".rs").to_owned()
}

/// Code without test modules (which may reach up) and without comments.
fn product_code(file: &Path) -> String {
    let text = fs::read_to_string(file).unwrap();
    let product = text.split("#[cfg(test)]").next().unwrap().to_owned();
    let code = product
        .lines()
        .filter(|l| !l.trim_start().starts_with("//"));
    code.collect::<Vec<_>>().join("\n")
}

fn layer(module: &str) -> usize {
    LAYERS
        .iter()
        .position(|layer| layer.contains(&module))
        .unwrap_or_else(|| panic!("module {module} has no layer in tests/it/architecture.rs"))
}

#[test]
fn modules_use_only_what_lies_below_them() {
    let mut breaches = Vec::new();
    let mut uses = 0;
    for file in source_files() {
        let module = module_of(&file);
        if matches!(module.as_str(), "lib" | "main") {
            continue;
        }
        for used in product_code(&file).split("crate::").skip(1) {
            let used: String = used
                .chars()
                .take_while(|c| c.is_alphanumeric() || *c == '_')
                .collect();
            let is_module = LAYERS.iter().any(|layer| layer.contains(&used.as_str()));
            if !is_module {
                continue;
            }
            uses += 1;
            if layer(&used) > layer(&module) {
                breaches.push(format!("{}: uses crate::{used}", file.display()));
            }
        }
    }
    assert!(uses > 20, "the search itself found only {uses} uses");
    assert!(breaches.is_empty(), "{breaches:#?}");
}

#[test]
fn toolkits_stay_in_their_layers() {
    let mut breaches = Vec::new();
    for file in source_files() {
        let module = module_of(&file);
        let code = product_code(&file);
        let is_sr_export = file
            .parent()
            .is_some_and(|folder| folder.ends_with("report/dicom"));
        for (needle, allowed) in [
            ("egui", module == "desktop"),
            ("eframe", module == "desktop"),
            ("dicom_core", module == "film" || is_sr_export),
            ("dicom_object", module == "film" || is_sr_export),
            ("dicom_dictionary_std", module == "film" || is_sr_export),
            ("unsafe ", false),
        ] {
            if code.contains(needle) && !allowed {
                breaches.push(format!("{}: {needle}", file.display()));
            }
        }
    }
    assert!(breaches.is_empty(), "{breaches:#?}");
}

#[test]
fn the_top_level_holds_what_it_should() {
    const ALLOWED: &[&str] = &[
        "Cargo.toml",
        "Cargo.lock",
        "README.md",
        "DEVELOPERS.md",
        "src",
        "tests",
        "sample-images",
        "docs",
        "target",
        "rustfmt.toml",
        "clippy.toml",
        "build.rs",
    ];
    for entry in fs::read_dir(env!("CARGO_MANIFEST_DIR")).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            name.starts_with('.') || ALLOWED.contains(&name.as_str()),
            "{name}"
        );
    }
}
