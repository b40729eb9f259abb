//! A class graded in the window: files chosen and dropped, the table sorted
//! and filtered, rows chosen, work stopped, bad files listed, records saved.

use std::fs;
use std::path::PathBuf;
use std::sync::Arc;

use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use lengthfilm::desktop::{ClassRecord, StartWith};
use serde_json::json;

use crate::desk::{Desk, Dropped, write_film};

/// A folder with a film, an expert and a folder of three traces: `ann` 0.1 mm
/// and `ben` 0.3 mm to the right, `cyd` 1 mm too long; and one torn file.
struct Class {
    folder: tempfile::TempDir,
}

impl Class {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        write_film(folder.path(), "film.png", 400, 800);
        let class = Self { folder };
        fs::create_dir(class.traces()).expect("made");
        class.write("expert", "expert", 0.0, 12.0);
        class.write("class/ann", "ann", 0.1, 12.0);
        class.write("class/ben", "ben", 0.3, 12.0);
        class.write("class/cyd", "cyd", 0.0, 13.0);
        fs::write(class.traces().join("torn.case.json"), "{").expect("written");
        class
    }

    fn expert(&self) -> PathBuf {
        self.folder.path().join("expert.case.json")
    }

    fn traces(&self) -> PathBuf {
        self.folder.path().join("class")
    }

    /// A straight canal at 0.1 mm/px.
    fn write(&self, file: &str, student: &str, shift_mm: f64, length_mm: f64) {
        let x = 200.0 + 10.0 * shift_mm;
        let points: Vec<[f64; 2]> = (0..4)
            .map(|i| [x, 100.0 + 10.0 * length_mm * f64::from(i) / 3.0])
            .collect();
        let case = json!({
            "format": "lengthfilm-case", "version": 1,
            "film": {"path": self.folder.path().join("film.png")},
            "scale": {"objects": [{"kind": "ruler", "true_length_mm": 10.0,
                                   "points_px": [[300, 100], [300, 200]]}]},
            "student": {"name": student},
            "canals": [{"name": "MB", "trace_px": points}],
        });
        let path = self.folder.path().join(format!("{file}.case.json"));
        fs::write(path, case.to_string()).expect("written");
    }

    fn graded(&self) -> Desk {
        let mut desk = Desk::start(None, None);
        desk.grade_class(vec![self.expert()], vec![self.traces()]);
        desk.settle();
        desk
    }
}

/// Names of students in the order their rows stand in.
fn order(desk: &Desk) -> Vec<&'static str> {
    let mut rows: Vec<(f32, &str)> = ["ann", "ben", "cyd", "torn"]
        .into_iter()
        .filter_map(|name| {
            let node = desk.harness.query_by_label(name)?;
            Some((node.rect().top(), name))
        })
        .collect();
    rows.sort_by(|a, b| a.0.total_cmp(&b.0));
    rows.into_iter().map(|(_, name)| name).collect()
}

#[test]
fn files_are_chosen_by_path_and_graded_and_a_bad_one_is_listed() {
    let class = Class::new();
    let mut desk = Desk::start(None, None);
    desk.key(Modifiers::COMMAND, Key::G);
    assert!(desk.says("Choose a reference first"));
    for (path, button) in [
        (class.expert(), "Add path to reference"),
        (class.traces(), "Add path to traces"),
    ] {
        desk.click("Path of a case or a folder");
        desk.type_text(&path.to_string_lossy());
        desk.click(button);
    }
    desk.click("Grade");
    assert!(desk.says("3 traces of 3 students graded; 2 students passed; 1 not graded"));
    assert!(desk.says("torn.case.json: not valid JSON"));
    assert_eq!(order(&desk), ["ann", "ben", "cyd", "torn"]);
    // Back and forth, nothing is lost.
    desk.click("Change files…");
    desk.click("Back to the class");
    desk.click("Back to the case");
    assert!(desk.says("Open film or case…"));
    desk.key(Modifiers::COMMAND, Key::G);
    assert!(desk.says("2 students passed"));
}

#[test]
fn a_reference_that_cannot_be_used_is_an_error_in_plain_words() {
    let class = Class::new();
    let mut desk = Desk::start(None, None);
    let torn = class.traces().join("torn.case.json");
    desk.grade_class(vec![torn], vec![class.traces()]);
    desk.settle();
    assert!(desk.says("not valid JSON"));
    assert!(desk.says("Grade a class"), "the files stay chosen");
    desk.click("Dismiss");
}

#[test]
fn the_table_is_sorted_both_ways_and_filtered_by_text_and_verdict() {
    let class = Class::new();
    let mut desk = class.graded();
    desk.click("Sort by error of the canal's length, mm");
    assert_eq!(order(&desk).first(), Some(&"ann"));
    desk.click("Sort by error of the canal's length, mm");
    assert_eq!(order(&desk).first(), Some(&"cyd"));
    assert_eq!(order(&desk).last(), Some(&"torn"));
    desk.click("Sort by mean distance, mm");
    desk.click("Sort by mean distance, mm");
    assert_eq!(order(&desk), ["ben", "ann", "cyd", "torn"]);

    desk.click("Find a student or canal");
    desk.type_text("BE");
    assert_eq!(order(&desk), ["ben"]);
    assert!(desk.says("1 of 4 rows"));
    desk.click("Show all");
    desk.click("Filter by verdict");
    desk.click_button("not graded");
    assert_eq!(order(&desk), ["torn"]);
}

#[test]
fn a_chosen_row_says_where_it_went_wrong_in_words_and_on_the_picture() {
    let class = Class::new();
    let mut desk = class.graded();
    assert!(desk.says("Choose a row to see"));
    desk.click("ben");
    assert!(desk.says(
        "between 0.0 and 12.0 mm from the apex the trace lies up to 0.3 mm to the right on the film"
    ));
    assert!(desk.says("mean distance: 0.30 mm, outside the limit (at most 0.2 mm)"));
    assert!(desk.says("Film with 3 traces; chosen: canal MB, strays in 1 place"));
    // The keys of the canals go through the rows.
    desk.key(Modifiers::NONE, Key::PageUp);
    assert!(desk.says("Within tolerance throughout"));
    assert!(desk.says("strays in 0 places"));
    desk.click("torn");
    assert!(desk.says("Film with 3 traces"));
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(desk.says("Choose a row to see"));
}

/// Lengths 12, 12, 13 mm against 12 mm: bias ⅓ mm, standard deviation 1/√3,
/// limits ⅓ ± 1.96/√3 mm, Dahlberg √(1/6) mm.
#[test]
fn distribution_limits_of_agreement_and_agreement_are_shown() {
    let class = Class::new();
    let mut desk = class.graded();
    desk.click("Distribution");
    assert!(desk.says("3 traces: mean 0."));
    assert!(desk.says("limits of the rubric, met by 2 of 3"));
    desk.click("Bland–Altman");
    assert!(desk.says("Bias +0.33 mm"));
    assert!(desk.says("standard deviation of the differences 0.58 mm, 3 pairs"));
    assert!(desk.says("Limits of agreement −0.80"));
    assert!(desk.says("to +1.46 mm"));
    desk.click("Agreement");
    assert!(desk.says("Dahlberg's error 0.408 mm"));
    assert!(desk.says("Intraclass correlation: not available: one canal has no correlation"));
    assert!(desk.says("Repeatability: not available: no student traced twice"));
    assert!(desk.says("Nothing: no limit was missed by more than half"));
    desk.click("Items");
    // Beside the canal: Ann by 0.1 mm, Ben by 0.3 mm, Cyd not at all.
    let found = desk.says("MB: within 0.2 mm, apical third: met by 67 %, discrimination");
    assert!(found, "{:?}", desk.texts());
}

#[test]
fn grading_can_be_stopped() {
    let class = Class::new();
    for i in 0..400 {
        class.write(&format!("class/s{i}"), &format!("s{i}"), 0.1, 12.0);
    }
    let mut desk = Desk::start(None, None);
    desk.grade_class(vec![class.expert()], vec![class.traces()]);
    desk.harness.step();
    assert!(desk.says("Grading"), "progress shows");
    // Frames, not the job's end, until the first of the traces are graded.
    for _ in 0..10_000 {
        if desk.says("of 404") {
            break;
        }
        desk.harness.step();
    }
    desk.harness.get_by_label("Stop").click();
    desk.harness.step();
    desk.settle();
    assert!(desk.says("stopped before the end"));

    // Stopped at once, before the reference was read.
    let mut desk = Desk::start(None, None);
    desk.grade_class(vec![class.expert()], vec![class.traces()]);
    desk.harness.step();
    desk.harness.get_by_label("Stop").click();
    desk.harness.step();
    desk.settle();
    assert!(desk.says("stopped before"));
}

#[test]
fn table_and_sheets_are_saved_with_names_or_numbers() {
    let class = Class::new();
    let mut desk = class.graded();
    let folder = class.folder.path();
    desk.save_class_to(ClassRecord::Table, &folder.join("names.csv"));
    assert!(desk.says("Saved as"));
    desk.save_class_to(ClassRecord::Sheets, &folder.join("sheets"));
    assert!(desk.says("3 sheets written into"));
    let students = |name: &str| -> Vec<String> {
        let mut table = csv::Reader::from_path(folder.join(name)).expect("a table");
        let rows = table.records().map(|row| row.expect("a row")[0].to_owned());
        rows.collect()
    };
    assert_eq!(students("names.csv"), ["ann", "ben", "cyd", "torn"]);
    for name in ["ann", "ben", "cyd"] {
        let sheet = fs::read(folder.join(format!("sheets/{name}.pdf"))).expect("a sheet");
        assert!(sheet.starts_with(b"%PDF-"));
    }
    // What is there is kept, and said so.
    desk.save_class_to(ClassRecord::Sheets, &folder.join("sheets"));
    assert!(desk.says("3 sheets could not be written"));
    desk.click("Dismiss");

    desk.click("Anonymise");
    assert!(
        order(&desk).is_empty(),
        "no name is left: {:?}",
        order(&desk)
    );
    desk.save_class_to(ClassRecord::Table, &folder.join("numbers.csv"));
    desk.save_class_to(ClassRecord::Sheets, &folder.join("numbered"));
    assert_eq!(students("numbers.csv"), ["1", "2", "3", "4"]);
    assert!(folder.join("numbered/student-2.pdf").is_file());
    desk.click("Anonymise");
    assert_eq!(order(&desk), ["ann", "ben", "cyd", "torn"]);
}

#[test]
fn several_dropped_cases_are_a_class_and_one_is_made_its_reference() {
    let class = Class::new();
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    let before = desk.case().clone();
    let files = [class.expert(), class.traces()];
    for path in files {
        let dropped = Arc::new(Dropped(path));
        desk.harness.input_mut().dropped_files.push(dropped);
    }
    desk.settle();
    assert!(desk.says("Grade a class"));
    desk.click("Make expert.case.json a reference");
    desk.click("Grade");
    assert!(desk.says("3 traces of 3 students graded"));
    // The case behind is as it was; its keys did nothing to it.
    desk.key(Modifiers::NONE, Key::Delete);
    desk.key(Modifiers::COMMAND, Key::N);
    desk.click("Back to the case");
    assert_eq!(desk.case(), &before);
}

#[test]
fn the_open_case_is_made_the_reference_by_one_click() {
    let class = Class::new();
    let mut desk = Desk::start(Some(StartWith::Case(class.expert())), None);
    let dropped = Arc::new(Dropped(class.traces()));
    desk.harness.input_mut().dropped_files.push(dropped);
    desk.settle();
    desk.click("The open case is a reference");
    assert!(!desk.says("The open case is a reference"), "once");
    desk.click("Grade");
    assert!(desk.says("3 traces of 3 students graded"));
}

#[test]
fn students_have_totals_and_curves_and_the_class_a_summary() {
    let class = Class::new();
    let mut desk = class.graded();
    desk.click("Students");
    assert!(desk.says("ann: 1 trace, 1 passed, "));
    // The torn file is an undone film of its student.
    assert!(desk.says("torn: 0 traces, 0 passed, "));
    assert!(desk.says("0 %, 1 undone"));
    desk.click("Progress");
    assert!(desk.says("ann: 1 of 1 passed, competence not shown"));
    assert!(desk.says("Of 3 students, 0 have shown competence"));
    assert!(desk.says("one who fails 30 % is called competent with a probability of 87.5 %"));

    let folder = class.folder.path();
    desk.save_class_to(ClassRecord::Totals, &folder.join("totals.csv"));
    let totals = fs::read_to_string(folder.join("totals.csv")).expect("a table");
    let names: Vec<&str> = totals.lines().filter_map(|l| l.split(',').next()).collect();
    assert_eq!(names, ["\u{feff}student", "ann", "ben", "cyd", "torn"]);
    desk.save_class_to(ClassRecord::Summary, &folder.join("class.pdf"));
    let summary = fs::read(folder.join("class.pdf")).expect("a summary");
    assert!(summary.starts_with(b"%PDF-"));
}

#[test]
fn a_case_is_opened_from_its_row() {
    let class = Class::new();
    let mut desk = class.graded();
    desk.click("ben");
    desk.click("Open this case");
    desk.settle();
    assert_eq!(desk.case().canals[0].trace_px[0].x, 203.0, "ben's trace");
}

/// Opened, a case shows the name of its file, and with it the student's.
#[test]
fn no_case_is_opened_while_numbers_stand_for_names() {
    let class = Class::new();
    let mut desk = class.graded();
    desk.click("ben");
    desk.click("Anonymise");
    assert!(desk.is_disabled("Open this case"));
    desk.click("Open this case");
    assert!(desk.says("Change files…"), "still the class");
    assert!(!desk.says("ben"), "{:?}", desk.texts());
    desk.click("Anonymise");
    desk.click("Open this case");
    desk.settle();
    assert_eq!(desk.case().canals[0].trace_px[0].x, 203.0, "ben's trace");
}

#[test]
fn the_tabs_stand_in_one_row_on_a_screen_1280_wide() {
    let class = Class::new();
    let desk = class.graded();
    let names = [
        "Film",
        "Distribution",
        "Bland–Altman",
        "Agreement",
        "Items",
        "Students",
        "Progress",
    ];
    let rects = names.map(|name| desk.rect_of(name));
    for (name, rect) in names.iter().zip(&rects) {
        assert_eq!(rect.top(), rects[0].top(), "{name}: {rects:?}");
        assert!(rect.right() <= 1280.0, "{name}: {rects:?}");
    }
}

/// Hand-ins often come without their film: it is that of the reference.
#[test]
fn a_case_without_its_film_opens_on_the_references() {
    let class = Class::new();
    let path = class.traces().join("ben.case.json");
    let mut case = lengthfilm::case::load(&path).expect("reads");
    case.film.path = "film.png".to_owned();
    lengthfilm::case::save(&case, &path).expect("saved");
    let mut desk = class.graded();
    desk.click("ben");
    desk.click("Open this case");
    desk.settle();
    assert_eq!(desk.case().canals[0].trace_px[0].x, 203.0, "ben's trace");
    assert!(!desk.says("Dismiss"), "{:?}", desk.texts());
}

#[test]
fn the_rubric_is_changed_in_the_window() {
    let class = Class::new();
    let mut desk = class.graded();
    desk.click("Change files…");
    desk.click("Change the rubric…");
    assert!(desk.says("error of the working length for the chart, mm"));
    desk.click("Forbid copied traces");
    assert!(desk.says("as in this window, not saved"));
    desk.click("Grade");
    assert!(desk.says("3 traces of 3 students graded"));
}
