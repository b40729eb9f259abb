//! A class as a teacher meets it: wrong working lengths, short and long
//! traces, hand-ins as they are collected, attempts, copies, who is missing.

use std::fs;
use std::path::{Path, PathBuf};

use assert_cmd::Command;
use lengthfilm::grading::files::{ClassGrade, GradeError, grade_hand_ins};
use lengthfilm::grading::grade::{TraceGrade, Verdict};
use lengthfilm::grading::measures::Measure;
use lengthfilm::grading::roster::Roster;
use lengthfilm::grading::rubric::{Attempt, Rubric};
use lengthfilm::progress::Progress;
use serde_json::{Value, json};

use crate::grading::{by, case, graded, workspace, write};

/// A straight canal of `length_mm` at x = 50 px, its orifice at y = 20 px.
fn canal(length_mm: f64) -> Value {
    canal_beside(0.0, length_mm)
}

fn canal_beside(right_mm: f64, length_mm: f64) -> Value {
    let x = 50.0 + 10.0 * right_mm;
    let at = |share: f64| [x, 20.0 + 10.0 * length_mm * share];
    case(&[("MB", [0.0, 0.3, 0.6, 1.0].map(at).to_vec())])
}

/// The same with a file whose tip stands on the apex: set length − 1 mm is
/// what the chart says.
fn with_file(set_length_mm: f64) -> Value {
    let mut case = canal(12.0);
    case["canals"][0]["apex_px"] = json!([50.0, 140.0]);
    case["canals"][0]["file"] = json!({"set_length_mm": set_length_mm, "tip_px": [50.0, 140.0]});
    case
}

fn line(trace: &TraceGrade, measure: Measure) -> (Option<f64>, Verdict) {
    let lines = &trace.canals[0].lines;
    let line = lines
        .iter()
        .find(|line| line.measure == measure)
        .expect("a line");
    (line.value, line.verdict)
}

fn one(reference: &Value, trace: &Value) -> (tempfile::TempDir, ClassGrade) {
    let folder = workspace();
    let expert = write(folder.path(), "expert", reference);
    let student = write(folder.path(), "ann", trace);
    let class = graded(&[expert], &[student], &Rubric::default());
    assert_eq!(class.refused, []);
    (folder, class)
}

/// A set length of 25 instead of 22 mm charts 24 against 21 mm: a file set to
/// it ends 2 mm beyond the apex.
#[test]
fn a_wrong_set_length_loses_the_working_length_and_does_not_pass() {
    let (_folder, class) = one(&with_file(22.0), &with_file(25.0));
    let trace = &class.traces[0];
    let (chart_error, verdict) = line(trace, Measure::ChartErrorMm);
    assert!((chart_error.unwrap() - 3.0).abs() < 1e-9);
    assert_eq!(verdict, Verdict::NotMet);
    let (end, verdict) = line(trace, Measure::WorkingEndToApexMm);
    assert!((end.unwrap() + 2.0).abs() < 1e-9, "{end:?}");
    assert_eq!(verdict, Verdict::NotMet);
    assert_eq!(trace.canals[0].chart_mm, Some(24.0));
    assert!(trace.points < trace.points_possible);
    assert_eq!(trace.passed, Some(false), "whatever else it earns");
    let warnings = trace.canals[0].warnings.join("\n");
    assert!(
        warnings.contains("set on the file is given as 25.0 mm, in the reference 22.0 mm"),
        "{warnings}"
    );
    assert!(
        warnings.contains("for the chart is 24.0 mm, in the reference 21.0 mm"),
        "{warnings}"
    );

    let (_folder, class) = one(&with_file(22.0), &with_file(22.0));
    let trace = &class.traces[0];
    assert_eq!(
        line(trace, Measure::ChartErrorMm),
        (Some(0.0), Verdict::Met)
    );
    // The apex less the allowance of 1 mm.
    assert_eq!(line(trace, Measure::WorkingEndToApexMm).1, Verdict::Met);
    assert_eq!(
        (trace.points, trace.passed),
        (trace.points_possible, Some(true))
    );
    assert_eq!(trace.canals[0].warnings, [""; 0]);
}

/// No working length at all is a missing one.
#[test]
fn a_working_length_not_worked_out_is_missing() {
    let (_folder, class) = one(&with_file(22.0), &canal(12.0));
    let trace = &class.traces[0];
    assert_eq!(line(trace, Measure::ChartErrorMm), (None, Verdict::Missing));
    assert_eq!(
        line(trace, Measure::WorkingEndToApexMm),
        (None, Verdict::Missing)
    );
    assert_eq!(trace.passed, Some(false));
}

/// A ruler of 10 mm typed as 12: everything 20 % larger; the wrong tooth.
#[test]
fn another_scale_and_another_tooth_are_told() {
    let (mut expert, mut student) = (canal(12.0), canal(12.0));
    expert["tooth"] = json!({"notation": "fdi", "number": "36"});
    student["tooth"] = json!({"notation": "universal", "number": "18"});
    student["scale"]["objects"][0]["true_length_mm"] = json!(12.0);
    let (_folder, class) = one(&expert, &student);
    let trace = &class.traces[0];
    let (error, verdict) = line(trace, Measure::ScaleErrorPercent);
    assert!((error.unwrap() - 20.0).abs() < 1e-6);
    assert_eq!(verdict, Verdict::NotMet);
    // The trace itself is held by the reference's scale.
    assert_eq!(line(trace, Measure::LengthErrorMm).1, Verdict::Met);
    let warnings = trace.warnings.join("\n");
    assert!(
        warnings.contains("makes everything 20.0 % larger"),
        "{warnings}"
    );
    assert!(
        warnings.contains("the tooth is given as 37, in the reference as 36 (FDI)"),
        "{warnings}"
    );
}

#[test]
fn short_and_long_traces_are_told_by_their_end_and_not_sideways() {
    for (length_mm, sentence) in [
        (10.7, "the trace ends 1.3 mm short of the apex"),
        (13.3, "the trace ends 1.3 mm beyond the apex"),
    ] {
        let (_folder, class) = one(&canal(12.0), &canal(length_mm));
        let canal = &class.traces[0].canals[0];
        assert_eq!(canal.strays, [sentence]);
        assert!(canal.picture.strays_px.is_empty(), "nothing lies beside");
        let offsets = canal.deviations.offset_mm.as_ref().unwrap();
        let unknown = offsets.iter().filter(|offset| offset.is_none()).count();
        // 1.3 of 12 mm at 101 places: the last eleven lie past a short end.
        assert_eq!(unknown, if length_mm < 12.0 { 11 } else { 0 });
    }
    let late = case(&[(
        "MB",
        vec![[50.0, 50.0], [50.0, 80.0], [50.0, 110.0], [50.0, 140.0]],
    )]);
    let (_folder, class) = one(&canal(12.0), &late);
    assert_eq!(
        class.traces[0].canals[0].strays,
        ["the trace begins 3.0 mm apical to the start of the reference"]
    );
}

#[test]
fn sides_are_mesial_and_distal_once_the_reference_says_so() {
    let side = |right_is: Option<&str>, right_mm: f64| {
        let mut expert = canal(12.0);
        if let Some(right_is) = right_is {
            expert["second_film"] =
                json!({"case": "b.case.json", "angle_deg": 20.0, "right_is": right_is});
        }
        let (_folder, class) = one(&expert, &canal_beside(right_mm, 12.0));
        class.traces[0].canals[0].strays[0].clone()
    };
    for (right_is, right_mm, words) in [
        (None, 0.4, "0.4 mm to the right on the film"),
        (None, -0.4, "0.4 mm to the left on the film"),
        (Some("mesial"), 0.4, "0.4 mm to the mesial"),
        (Some("mesial"), -0.4, "0.4 mm to the distal"),
        (Some("distal"), 0.4, "0.4 mm to the distal"),
    ] {
        let found = side(right_is, right_mm);
        assert!(found.ends_with(words), "{found}");
    }
}

/// Ten points of a bend of 30° in 12 mm, each moved by the click noise that is
/// assumed (0.05 mm): an exact retracing must not lose a line that such clicks
/// alone decide.
#[test]
fn a_line_that_clicks_decide_is_not_assessable() {
    let bent = |noise: &[f64]| {
        let points = noise.iter().enumerate().map(|(i, off)| {
            let down = i as f64;
            [
                50.0 + 0.35 * (down - 4.0).max(0.0).powi(2) + off,
                20.0 + 13.0 * down,
            ]
        });
        case(&[("MB", points.collect())])
    };
    let still = [0.0; 10];
    let shaken = [0.4, -0.5, 0.6, -0.3, 0.5, -0.6, 0.4, -0.4, 0.6, -0.5];
    let schneider = |class: &ClassGrade| {
        let lines = class.traces[0].canals[0].lines.iter();
        let mut own = lines.filter(|l| l.measure.key() == "schneider_error_deg");
        own.next().expect("in the built-in rubric").clone()
    };
    let (_folder, class) = one(&bent(&still), &bent(&shaken));
    let line = schneider(&class);
    assert!(
        line.u95.unwrap() > 5.0,
        "clicks move it by more than the limit: {line:?}"
    );
    assert_eq!(line.verdict, Verdict::NotAssessable);
    assert!(
        line.sentence
            .contains("not assessable: clicks alone move it by ±"),
        "{}",
        line.sentence
    );
    let total: f64 = class.traces[0].canals[0].points_possible;
    let counted = class.traces[0].canals[0]
        .lines
        .iter()
        .filter(|l| l.verdict.counts());
    assert_eq!(total, counted.count() as f64, "left out of the total");

    // Outside by more than the clicks can do: that is assessable. A trace that
    // turns the other way is off by about twice the bend.
    let mirrored: Vec<[f64; 2]> = (0..10)
        .map(|i| {
            let down = f64::from(i);
            [
                50.0 - 1.2 * (down - 4.0).max(0.0).powi(2),
                20.0 + 13.0 * down,
            ]
        })
        .collect();
    let (_folder, class) = one(&bent(&still), &case(&[("MB", mirrored)]));
    let line = schneider(&class);
    assert!(
        line.value.unwrap().abs() > 5.0 + line.u95.unwrap(),
        "{line:?}"
    );
    assert_eq!(line.verdict, Verdict::NotMet);

    // With a wide limit the same clicks are met.
    let folder = workspace();
    let expert = write(folder.path(), "expert", &bent(&still));
    let student = write(folder.path(), "ann", &bent(&shaken));
    let mut rubric = Rubric::default();
    let own = rubric
        .lines
        .iter_mut()
        .find(|l| l.measure.key() == "schneider_error_deg");
    let own = own.unwrap();
    (own.at_least, own.at_most) = (Some(-60.0), Some(60.0));
    let class = graded(&[expert], &[student], &rubric);
    assert_eq!(schneider(&class).verdict, Verdict::Met);
}

/// Everything a class came in: the expert's folder, hand-ins in folders.
struct Collection(tempfile::TempDir);

impl Collection {
    fn new() -> Self {
        let collection = Self(workspace());
        fs::create_dir(collection.path().join("class")).unwrap();
        collection
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn expert(&self, case: &Value) -> PathBuf {
        write(self.path(), "expert", case)
    }

    fn hand_in(&self, place: &str, case: &Value) {
        let path = self.path().join("class").join(format!("{place}.case.json"));
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, case.to_string()).unwrap();
    }

    fn film_hash(&self) -> String {
        lengthfilm::film::hex_digest(&fs::read(self.path().join("film.png")).unwrap())
    }

    fn grade(&self, expert: PathBuf, roster: &str, rubric: &Rubric) -> ClassGrade {
        let roster = match roster {
            "" => Roster::default(),
            text => Roster::parse(text).unwrap(),
        };
        self.try_grade(expert, &roster, rubric).unwrap()
    }

    fn try_grade(
        &self,
        expert: PathBuf,
        roster: &Roster,
        rubric: &Rubric,
    ) -> Result<ClassGrade, GradeError> {
        grade_hand_ins(
            &[expert],
            &[self.path().join("class")],
            roster,
            rubric,
            &Progress::unwatched(),
        )
    }

    fn command(&self, arguments: &[&str]) -> std::process::Output {
        Command::cargo_bin("lengthfilm")
            .unwrap()
            .current_dir(self.path())
            .args([
                "grade",
                "--reference",
                "expert.case.json",
                "--traces",
                "class",
            ])
            .args(arguments)
            .output()
            .unwrap()
    }
}

fn students(class: &ClassGrade) -> Vec<&str> {
    class
        .traces
        .iter()
        .map(|trace| trace.student.as_str())
        .collect()
}

#[test]
fn cases_without_their_film_are_matched_by_hash_or_by_name() {
    let collection = Collection::new();
    let expert = collection.expert(&canal(12.0));
    let mut by_hash = canal(12.0);
    by_hash["film"] = json!({"path": "C:\\Users\\ann\\scan.png", "sha256": collection.film_hash()});
    collection.hand_in("ann", &by_hash);
    let mut by_name = canal(12.0);
    by_name["film"] = json!({"path": "/home/ben/Film.png"});
    collection.hand_in("ben", &by_name);
    let mut other = canal(12.0);
    other["film"] = json!({"path": "film.png", "sha256": "00".repeat(32)});
    collection.hand_in("cyd", &other);
    let mut unknown = canal(12.0);
    unknown["film"] = json!({"path": "other.png"});
    collection.hand_in("dee", &unknown);
    let class = collection.grade(expert, "", &Rubric::default());
    assert_eq!(students(&class), ["ann", "ben"]);
    assert_eq!(class.traces[0].warnings, [""; 0]);
    assert!(class.traces[1].warnings[0].contains("taken for the reference's film by its name"));
    let refused: Vec<&str> = class.refused.iter().map(|r| r.student.as_str()).collect();
    assert_eq!(refused, ["cyd", "dee"], "another hash is another film");
}

#[test]
fn folders_in_folders_and_empty_ones_are_gone_through() {
    let collection = Collection::new();
    let expert = collection.expert(&canal(12.0));
    let film = collection.path().join("film.png");
    let mut case = canal(12.0);
    case["film"]["path"] = json!(film);
    // Everyone called the file the same: the folder says whose it is.
    collection.hand_in("Anna Adler/round 1/trace", &case);
    collection.hand_in("Ben Bach/trace", &case);
    collection.hand_in("Cyd/.hidden/trace", &case);
    collection.hand_in("__MACOSX/Ben Bach/._trace", &case);
    collection.hand_in("dora", &by("Dora  Dahl", case.clone()));
    fs::create_dir_all(collection.path().join("class/Emil Eck")).unwrap();
    let class = collection.grade(expert, "", &Rubric::default());
    assert_eq!(students(&class), ["Anna Adler", "Ben Bach", "Dora Dahl"]);
    let refused: Vec<_> = class
        .refused
        .iter()
        .map(|r| (r.student.as_str(), r.status()))
        .collect();
    assert_eq!(
        refused,
        [("Cyd", "not handed in"), ("Emil Eck", "not handed in")]
    );

    // A folder without any case at all is an error in plain words.
    let empty = Collection::new();
    let expert = empty.expert(&canal(12.0));
    let error = empty.try_grade(expert, &Roster::default(), &Rubric::default());
    assert!(
        error
            .unwrap_err()
            .to_string()
            .contains("no *.case.json to grade")
    );
}

#[test]
fn canal_names_are_the_same_in_any_case_and_with_blanks() {
    let two = |names: [&str; 2]| {
        case(&[
            (names[0], vec![[30.0, 20.0], [30.0, 60.0], [30.0, 140.0]]),
            (names[1], vec![[70.0, 20.0], [70.0, 60.0], [70.0, 120.0]]),
        ])
    };
    let (_folder, class) = one(&two(["MB", "ML"]), &two(["ml", " mb "]));
    // As named, not as placed: MB is drawn where ML lies.
    let names: Vec<_> = class.traces[0]
        .canals
        .iter()
        .map(|c| c.name.as_str())
        .collect();
    assert_eq!(names, ["ML", "MB"]);
    let (_folder, class) = one(&two(["MB", "ML"]), &two([" MB ", "ml"]));
    let trace = &class.traces[0];
    assert_eq!(
        (trace.missing_canals.len(), trace.unmatched_canals.len()),
        (0, 0)
    );
    assert!(
        trace.canals.iter().all(|c| c.passed == Some(true)),
        "{trace:?}"
    );
}

/// File names say z, y, x; dates say otherwise; attempt numbers win over both.
#[test]
fn attempts_are_in_order_of_number_or_date_and_the_last_counts() {
    let collection = Collection::new();
    let expert = collection.expert(&canal(12.0));
    let film = collection.path().join("film.png");
    let attempt = |length_mm: f64, student: Value| {
        let mut case = canal(length_mm);
        case["film"]["path"] = json!(film);
        case["student"] = student;
        case
    };
    for (file, length_mm, date) in [
        ("a", 12.0, "2026-03-09"),
        ("b", 9.0, "2026-03-01"),
        ("c", 10.0, "2026-03-05T08:00"),
    ] {
        let student = json!({"name": "Ann", "date": date});
        collection.hand_in(file, &attempt(length_mm, student));
    }
    for (file, length_mm, number) in [("x", 9.0, 2), ("y", 12.0, 1)] {
        let student =
            json!({"name": "Ben", "attempt": number, "date": format!("2026-01-0{number}")});
        collection.hand_in(file, &attempt(length_mm, student));
    }
    let class = collection.grade(expert.clone(), "", &Rubric::default());
    let lengths = |student: &str| -> Vec<(usize, f64, bool)> {
        let own = class.traces.iter().filter(|trace| trace.student == student);
        own.map(|t| {
            (
                t.attempt,
                t.canals[0].curved_length_mm.unwrap().round(),
                t.counts,
            )
        })
        .collect()
    };
    assert_eq!(
        lengths("Ann"),
        [(1, 9.0, false), (2, 10.0, false), (3, 12.0, true)]
    );
    assert_eq!(lengths("Ben"), [(1, 12.0, false), (2, 9.0, true)]);
    // Five traces, two of them passed; of two students one has passed.
    assert_eq!((class.class.traces, class.class.traces_passed), (5, 2));
    assert_eq!((class.class.students, class.class.passed), (2, 1));
    let passed: Vec<_> = class.students.iter().map(|s| s.has_passed).collect();
    assert_eq!(passed, [Some(true), Some(false)]);

    let mut rubric = Rubric::default();
    for (counting, passes) in [
        (Attempt::First, [false, true]),
        (Attempt::Best, [true, true]),
    ] {
        rubric.attempt = counting;
        let class = collection.grade(expert.clone(), "", &rubric);
        let passed: Vec<_> = class
            .students
            .iter()
            .map(|s| s.has_passed.unwrap())
            .collect();
        assert_eq!(passed, passes, "{counting:?}");
    }
}

#[test]
fn refused_and_missing_hand_ins_have_rows_and_totals() {
    let collection = Collection::new();
    collection.expert(&canal(12.0));
    let mut good = canal(12.0);
    good["film"]["path"] = json!(collection.path().join("film.png"));
    collection.hand_in("1", &by("Ann Adler", good.clone()));
    let mut lost = by("Ben Bach", canal(12.0));
    lost["film"]["path"] = json!("nowhere.png");
    collection.hand_in("2", &lost);
    fs::write(
        collection.path().join("list.csv"),
        "student;excused\nAnn Adler;\nBen Bach;\nCyd Cox;\nDee Dorn;all\n",
    )
    .unwrap();
    let output = collection.command(&["--csv", "--students", "list.csv"]);
    assert_eq!(output.status.code(), Some(1), "one file could not be used");
    let errors = String::from_utf8(output.stderr).unwrap();
    assert!(errors.contains("Cyd Cox: nothing handed in"), "{errors}");
    let mut table = csv::Reader::from_reader(output.stdout.as_slice());
    let headers = table.headers().unwrap().clone();
    let column = |name: &str| headers.iter().position(|h| h == name).unwrap();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let cells: Vec<[&str; 2]> = rows
        .iter()
        .map(|row| [&row[0], &row[column("status")]])
        .collect();
    assert_eq!(
        cells,
        [
            ["Ann Adler", "graded"],
            ["Ben Bach", "not graded"],
            ["Cyd Cox", "not handed in"],
            ["Dee Dorn", "not handed in"],
        ]
    );
    assert!(rows[1][column("remarks")].contains("nowhere.png"));

    let output = collection.command(&["--totals", "--students", "list.csv"]);
    let mut table = csv::Reader::from_reader(output.stdout.as_slice());
    let headers = table.headers().unwrap().clone();
    let column = |name: &str| headers.iter().position(|h| h == name).unwrap();
    let rows: Vec<csv::StringRecord> = table.records().map(Result::unwrap).collect();
    let cell = |row: usize, name: &str| rows[row][column(name)].to_owned();
    let names: Vec<&str> = rows.iter().map(|row| &row[0]).collect();
    assert_eq!(names, ["Ann Adler", "Ben Bach", "Cyd Cox", "Dee Dorn"]);
    assert_eq!([cell(0, "percent"), cell(0, "passed")], ["100", "yes"]);
    // Refused and missing are undone and count with what they are worth.
    for row in [1, 2] {
        assert_eq!([cell(row, "percent"), cell(row, "passed")], ["0", "no"]);
        assert_eq!(cell(row, "undone"), "1");
        assert_eq!(cell(row, "points_possible"), cell(0, "points_possible"));
    }
    assert_eq!([cell(1, "refused"), cell(2, "refused")], ["1", "0"]);
    assert_eq!(
        [cell(3, "excused"), cell(3, "undone"), cell(3, "passed")],
        ["1", "0", ""]
    );

    // With numbers no name is left; the key tells whose they are.
    let arguments = [
        "--json",
        "--numbers-for-names",
        "--students",
        "list.csv",
        "--key",
        "key.csv",
    ];
    let output = collection.command(&arguments);
    let said = String::from_utf8([output.stdout, output.stderr].concat()).unwrap();
    for name in [
        "Ann",
        "Adler",
        "Ben",
        "Bach",
        "Cyd",
        "Dee",
        "nowhere",
        "expert.case",
    ] {
        assert!(!said.contains(name), "{name}: {said}");
    }
    let key = fs::read_to_string(collection.path().join("key.csv")).unwrap();
    assert!(
        key.starts_with("\u{feff}number,student\r\n1,Ann Adler\r\n"),
        "{key}"
    );
}

#[test]
fn tables_for_spreadsheets_have_a_mark_and_no_endless_digits() {
    let collection = Collection::new();
    collection.expert(&canal(12.0));
    let mut trace = canal_beside(0.1, 12.0);
    trace["film"]["path"] = json!(collection.path().join("film.png"));
    collection.hand_in("Zoë", &trace);
    let plain = String::from_utf8(collection.command(&["--csv"]).stdout).unwrap();
    assert!(plain.starts_with("student,"), "{plain}");
    let output = collection.command(&["--csv", "--semicolons", "--out", "class.csv"]);
    assert!(output.status.success() && output.stdout.is_empty());
    let saved = fs::read_to_string(collection.path().join("class.csv")).unwrap();
    assert!(saved.starts_with("\u{feff}student;file;"), "{saved}");
    assert!(saved.contains("Zoë") && saved.contains(";0,1;"), "{saved}");
    let cells = saved.split([';', '\r', '\n']);
    let numbers = cells.filter(|cell| {
        cell.bytes()
            .all(|b| b.is_ascii_digit() || b",-".contains(&b))
    });
    for number in numbers {
        let decimals = number
            .split_once(',')
            .map_or(0, |(_, decimals)| decimals.len());
        assert!(decimals <= 6, "{number}");
    }
    assert!(!saved.contains("e-1"), "{saved}");
}

#[test]
fn copied_and_assisted_traces_are_shown_and_can_be_forbidden() {
    let collection = Collection::new();
    let expert = collection.expert(&canal(12.0));
    let film = collection.path().join("film.png");
    let with_film = |mut case: Value| {
        case["film"]["path"] = json!(film);
        case
    };
    collection.hand_in("ann", &with_film(canal_beside(0.05, 12.0)));
    collection.hand_in("ben", &with_film(canal_beside(0.05, 12.0)));
    collection.hand_in("cyd", &with_film(canal_beside(0.06, 12.0)));
    let mut assisted = with_film(canal_beside(0.07, 12.0));
    assisted["canals"][0]["assisted"] = json!(true);
    collection.hand_in("dee", &assisted);
    collection.hand_in("eve", &with_film(canal(12.0)));
    let class = collection.grade(expert.clone(), "", &Rubric::default());
    let of = |class: &ClassGrade, student: &str| {
        let own = class.traces.iter().find(|trace| trace.student == student);
        own.unwrap().canals[0].clone()
    };
    assert_eq!(of(&class, "ann").same_points_as, ["ben"]);
    assert_eq!(of(&class, "ben").same_points_as, ["ann"]);
    assert!(of(&class, "cyd").same_points_as.is_empty());
    assert!(of(&class, "eve").same_points_as_reference);
    assert!(of(&class, "dee").assisted);
    assert!(of(&class, "dee").warnings[0].contains("suggested by the program"));
    assert!(
        class.traces.iter().all(|trace| trace.passed == Some(true)),
        "shown, not judged"
    );

    let rubric = Rubric {
        forbid_assisted: true,
        forbid_copied: true,
        ..Rubric::default()
    };
    let class = collection.grade(expert, "", &rubric);
    let passed: Vec<_> = class.traces.iter().map(|trace| trace.passed).collect();
    let [no, yes] = [Some(false), Some(true)];
    assert_eq!(passed, [no, no, yes, no, no]);
    assert_eq!(class.traces[0].points, 0.0);
    assert!(class.traces[0].points_possible > 0.0);
}

#[test]
fn a_rubric_can_have_lines_of_a_canal_partial_points_and_required_lines() {
    let folder = workspace();
    let path = folder.path().join("rubric.json");
    let rubric = |lines: Value| {
        let rubric = json!({"format": "lengthfilm-rubric", "version": 1, "name": "n",
            "pass_share": 0.5, "stray_mm": 0.2, "lines": lines});
        fs::write(&path, rubric.to_string()).unwrap();
        Rubric::load(&path)
    };
    let line = |measure: &str, most: f64| json!({"measure": measure, "at_least": -most, "at_most": most, "points": 4, "source": "test"});
    let mut partial = line("length_error_mm", 0.5);
    partial["partial_over"] = json!(1.0);
    let mut of_mb = line("length_error_mm", 2.0);
    of_mb["canal"] = json!("mb");
    let two = |long_mm: f64| {
        let canal = |x: f64| vec![[x, 20.0], [x, 60.0], [x, 140.0 + 10.0 * long_mm]];
        case(&[("MB", canal(30.0)), ("ML", canal(70.0))])
    };
    let expert = write(folder.path(), "expert", &two(0.0));
    let student = write(folder.path(), "ann", &two(0.8));
    let rubric_of = rubric(json!([partial, of_mb])).unwrap();
    let class = graded(
        std::slice::from_ref(&expert),
        std::slice::from_ref(&student),
        &rubric_of,
    );
    let canals = &class.traces[0].canals;
    // 0.8 mm: within MB's own limit; outside ML's by 0.3 of the 1.0 mm over
    // which its points fall to none.
    assert_eq!((canals[0].points, canals[0].points_possible), (4.0, 4.0));
    assert!(
        (canals[1].points - 4.0 * 0.7).abs() < 1e-6,
        "{}",
        canals[1].points
    );
    assert_eq!(canals[1].points_possible, 4.0);
    assert_eq!(canals[0].lines[0].verdict, Verdict::NotApplicable);
    assert_eq!(canals[1].passed, Some(true));
    // The same required: part of the points is not enough.
    let mut required = partial.clone();
    required["required"] = json!(true);
    let rubric_of = rubric(json!([required, of_mb])).unwrap();
    let class = graded(&[expert], &[student], &rubric_of);
    assert_eq!(class.traces[0].canals[1].passed, Some(false));

    let twice = rubric(json!([of_mb, of_mb])).unwrap_err().to_string();
    assert!(twice.contains("has a line already"), "{twice}");
    partial["partial_over"] = json!(0.0);
    let none = rubric(json!([partial])).unwrap_err().to_string();
    assert!(none.contains("partial_over must be above 0"), "{none}");
}
