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
        "input_file",
        "one_line",
        "cautions",
        "statistics",
        "progress",
        "clock",
        "spreadsheet",
    ],
    &["geometry", "registration"],
    &["film"],
    &[
        "film_check",
        "curvature",
        "calibration",
        "agreement",
        "uncertainty",
        "flatten",
        "archive",
    ],
    &["assessment"],
    &["case", "working_length", "learning"],
    &["assist", "phantom", "measure"],
    &["two_view"],
    &["grading", "instrumentation", "shaping"],
    &["report", "shaping_class"],
    &["feedback", "shaping_record"],
    &["practice"],
    &["cli", "desktop"],
];

pub fn source_files() -> Vec<PathBuf> {
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

/// Code without what is compiled for tests alone (which may reach up) and
/// without comments.
pub fn product_code(file: &Path) -> String {
    without_tests(&fs::read_to_string(file).unwrap())
}

/// The same of a text as rustfmt leaves it: an item under `#[cfg(test)]` ends
/// with the first line of its own indent that closes it.
fn without_tests(text: &str) -> String {
    let indent = |line: &str| line.len() - line.trim_start().len();
    let mut code = Vec::new();
    let mut skipped_to: Option<usize> = None;
    for line in text.lines() {
        match skipped_to {
            Some(depth) => {
                let ends =
                    indent(line) == depth && (line.trim() == "}" || line.trim_end().ends_with(';'));
                if ends {
                    skipped_to = None;
                }
            }
            None if line.trim() == "#[cfg(test)]" => skipped_to = Some(indent(line)),
            None if line.trim_start().starts_with("//") => {}
            None => code.push(line),
        }
    }
    code.join(
        "
",
    )
}

#[test]
pub fn product_code_goes_on_after_a_test_item() {
    let text = "use a;
#[cfg(test)]
mod tests;
use b;
    #[cfg(test)]
    fn c() {
        \
                d;
    }
// e
use f;
#[cfg(test)]
mod g {
    use h;
}";
    assert_eq!(
        without_tests(text),
        "use a;
use b;
use f;"
    );
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

/// Floors of the window from the bottom up; a part may use its own folder and
/// the floors below, no other part of its own floor.
const FLOORS: &[&[&str]] = &[
    &["view", "ui"],
    &["state"],
    &[
        "pages/assessment",
        "pages/case",
        "pages/class",
        "pages/exercise",
        "pages/instrument",
        "pages/two_films",
    ],
    &["pages"],
    &["shell"],
];

/// The part of the window a module path (below `desktop`) belongs to.
fn part_of(path: &[String]) -> Option<&'static str> {
    let named = |part: &str| {
        let mut names = part.split('/');
        names.all(|name| path.iter().any(|one| one == name))
            && path[0] == part.split('/').next().unwrap()
    };
    let parts = FLOORS.iter().flat_map(|floor| floor.iter().copied());
    parts
        .filter(|part| named(part))
        .max_by_key(|part| part.len())
}

fn floor(part: &str) -> usize {
    FLOORS
        .iter()
        .position(|floor| floor.contains(&part))
        .unwrap()
}

/// Names of a path from where it stands: `super::a::{b, c}` in a file whose
/// module is `module` leads to `a`, below `desktop`.
fn window_paths(code: &str, module: &[String]) -> Vec<Vec<String>> {
    let names = |text: &str| -> Vec<String> {
        let path: String = text
            .chars()
            .take_while(|c| c.is_alphanumeric() || matches!(c, '_' | ':'))
            .collect();
        path.split("::")
            .filter(|name| !name.is_empty())
            .map(str::to_owned)
            .collect()
    };
    let mut found: Vec<Vec<String>> = code.split("crate::desktop::").skip(1).map(names).collect();
    let mut rest = code;
    while let Some(at) = rest.find("super::") {
        let path = names(&rest[at..]);
        let up = path.iter().take_while(|name| *name == "super").count();
        rest = &rest[at + up * "super::".len()..];
        if up <= module.len() {
            let mut whole = module[..module.len() - up].to_vec();
            whole.extend(path[up..].iter().cloned());
            found.push(whole);
        }
    }
    found
}

#[test]
fn parts_of_the_window_use_only_the_floors_below_them() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/desktop");
    let (mut breaches, mut uses) = (Vec::new(), 0);
    for file in source_files().iter().filter(|file| file.starts_with(&root)) {
        let path = file.strip_prefix(&root).unwrap().with_extension("");
        let mut module: Vec<String> = path
            .components()
            .map(|name| name.as_os_str().to_str().unwrap().to_owned())
            .collect();
        module.pop_if(|name| name == "mod");
        // The head of the folder names all parts.
        let Some(part) = module.first().map(|_| part_of(&module)) else {
            continue;
        };
        let part = part.unwrap_or_else(|| panic!("{}: on no floor", file.display()));
        let code = product_code(file);
        assert!(
            !code.contains("use crate::{"),
            "{}: unseen here",
            file.display()
        );
        for used in window_paths(&code, &module) {
            let Some(other) = used.first().and_then(|_| part_of(&used)) else {
                continue;
            };
            uses += usize::from(other != part);
            if other != part && floor(other) >= floor(part) {
                breaches.push(format!("{}: uses {}", file.display(), used.join("::")));
            }
        }
    }
    assert!(uses > 100, "the search itself found only {uses} uses");
    assert!(breaches.is_empty(), "{breaches:#?}");
}

/// The case changes through the document alone: by an edit, or by a drag on
/// the film.
#[test]
fn only_the_state_of_the_window_changes_a_case() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/desktop");
    let changes = [
        "case_mut",
        "place",
        "move_to",
        "delete",
        "insert_near",
        "insert_next",
        "add_canal",
        "remove_canal",
        "rename_canal",
        "finish_trace",
        "set_length",
        "set_shaping_files",
        "set_step_back",
        "place_scale_length",
        "suggest_file",
        "suggest_tip",
        "suggest_trace",
    ];
    let mut breaches = Vec::new();
    for file in source_files().iter().filter(|file| file.starts_with(&root)) {
        let below = file.strip_prefix(&root).unwrap();
        if below.starts_with("state") {
            continue;
        }
        let code = product_code(file);
        let names = changes.iter().map(|name| format!("edit::{name}("));
        for name in names.chain([".edit(".to_owned(), "&mut Case".to_owned()]) {
            if code.contains(&name) {
                breaches.push(format!("{}: {name}", below.display()));
            }
        }
    }
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
        let has_dicom = module == "film" || module == "archive" || is_sr_export;
        for (needle, allowed) in [
            ("egui", module == "desktop"),
            ("eframe", module == "desktop"),
            ("dicom_core", has_dicom),
            ("dicom_object", has_dicom),
            ("dicom_dictionary_std", has_dicom),
            ("dicom_ul", module == "archive"),
            ("rustls", module == "archive"),
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

/// What is optimised fully is the same in both profiles, and part of the build.
#[test]
fn both_profiles_optimise_the_same_crates() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let manifest = fs::read_to_string(root.join("Cargo.toml")).unwrap();
    let lock = fs::read_to_string(root.join("Cargo.lock")).unwrap();
    let optimised = |profile: &str| -> Vec<&str> {
        let section = manifest
            .split_once(&format!("[profile.{profile}.package]\n"))
            .unwrap()
            .1;
        section
            .lines()
            .take_while(|line| !line.is_empty())
            .filter_map(|line| line.strip_suffix(".opt-level = 3"))
            .filter(|&name| name != env!("CARGO_PKG_NAME"))
            .collect()
    };
    let [dev, release] = ["dev", "release"].map(optimised);
    assert!(!dev.is_empty());
    assert_eq!(dev, release);
    for name in dev {
        assert!(lock.contains(&format!("name = \"{name}\"\n")), "{name}");
    }
}
