//! A class that shapes: rubric, groups and the command, on straight canals
//! whose removal is known in closed form and on clicked practice blocks.

use std::fs;
use std::path::Path;
use std::process::Command as Program;

use assert_cmd::Command;
use lengthfilm::grading::lines::Verdict;
use lengthfilm::grading::rubric::Judged;
use lengthfilm::shaping::{CanalShaping, compare};
use lengthfilm::shaping_class::{
    GradedPair, ShapingMeasure, ShapingRubric, compare_groups, grade_canal, read_pairs,
};
use lengthfilm::units::Quantity;

use crate::shaping::{compared, straight, write_pair};
use crate::support::block_pairs::settings;

fn verdict_of(rubric: &ShapingRubric, canal: &CanalShaping, measure: ShapingMeasure) -> Verdict {
    let grade = grade_canal(rubric, canal, None);
    let line = grade.lines.iter().find(|line| line.measure == measure);
    line.unwrap().verdict
}

/// Walls 0.2 mm from the line before. Alike on both sides after: no transport,
/// centring 1. Left by 0.6 and right by 0.05 mm: transport 0.55 mm, centring
/// 0.05/0.6.
#[test]
fn shaping_to_one_side_fails_where_even_shaping_passes() {
    let rubric = ShapingRubric::default();
    let before = straight(0.2, 0.2, 0.0);
    let even = compared(&before, &straight(0.35, 0.35, 0.0));
    let even = &even.findings.canals[0];
    let grade = grade_canal(&rubric, even, None);
    assert_eq!(grade.passed, Some(true), "{grade:?}");
    assert_eq!(grade.points, grade.points_possible);

    let uneven = compared(&before, &straight(0.8, 0.25, 0.0));
    let uneven = &uneven.findings.canals[0];
    let transport = ShapingMeasure::GreatestTransportMm
        .of(uneven, None)
        .unwrap();
    assert!((transport.value - 0.55).abs() < 1e-6, "{transport:?}");
    let centring = ShapingMeasure::MeanCentringRatio.of(uneven, None).unwrap();
    assert!((centring.value - 0.05 / 0.6).abs() < 1e-6, "{centring:?}");
    let of = |measure| verdict_of(&rubric, uneven, measure);
    assert_eq!(of(ShapingMeasure::GreatestTransportMm), Verdict::NotMet);
    assert_eq!(of(ShapingMeasure::MeanCentringRatio), Verdict::NotMet);
    let least = ShapingMeasure::LeastCentringRatio.of(uneven, None).unwrap();
    assert!(least.value <= centring.value);
}

/// Clicks of 0.3 mm cannot tell a transport of 0.3 mm from none: neither for
/// nor against the student.
#[test]
fn what_the_clicks_leave_open_is_not_held_against_the_student() {
    let rubric = ShapingRubric::default();
    let mut pictures = [straight(0.2, 0.2, 0.0), straight(0.4, 0.3, 0.0)];
    for picture in &mut pictures {
        picture.case.click_noise_mm = Some(0.3);
    }
    let [before, after] = pictures;
    let found = compare(&before, &after, &settings(400)).unwrap();
    let canal = &found.findings.canals[0];
    let measure = ShapingMeasure::GreatestTransportMm;
    let transport = measure.of(canal, None).unwrap();
    assert!(transport.u95.unwrap() > 0.3, "{transport:?}");
    let of = |measure| verdict_of(&rubric, canal, measure);
    assert_eq!(of(measure), Verdict::NotAssessable);
    // A line that must be met and cannot be assessed leaves the whole open.
    assert_eq!(of(ShapingMeasure::LengthChangeMm), Verdict::NotAssessable);
    assert_ne!(grade_canal(&rubric, canal, None).passed, Some(true));
}

/// A measure that is not there is said, and never met.
#[test]
fn without_walls_nothing_of_the_walls_is_judged() {
    let mut pictures = [straight(0.2, 0.2, 0.0), straight(0.3, 0.3, 0.0)];
    for picture in &mut pictures {
        picture.case.canals[0].walls = None;
    }
    let [before, after] = pictures;
    let found = compared(&before, &after);
    let grade = grade_canal(&ShapingRubric::default(), &found.findings.canals[0], None);
    for line in &grade.lines {
        let of_walls = !matches!(
            line.measure,
            ShapingMeasure::SchneiderStraighteningDeg | ShapingMeasure::LengthChangeMm
        );
        if of_walls {
            assert_eq!(line.verdict, Verdict::NotAssessed, "{line:?}");
            assert!(line.sentence.ends_with("not measured on these pictures"));
        }
    }
    // A perforation that nobody could see is not "no perforation".
    assert_eq!(grade.passed, None);
}

/// A student's block with these transports at 1 and 2 mm from the end.
fn block(student: &str, group: &str, transports_mm: [f64; 2]) -> GradedPair {
    let found = compared(&straight(0.2, 0.2, 0.0), &straight(0.3, 0.3, 0.0));
    let mut canal = found.findings.canals[0].clone();
    canal.levels.retain(|l| [1.0, 2.0].contains(&l.from_end_mm));
    for (level, value) in canal.levels.iter_mut().zip(transports_mm) {
        level.transport_mm = Some(Quantity { value, u95: 0.05 });
    }
    GradedPair {
        student: student.to_owned(),
        group: Some(group.to_owned()),
        block: None,
        before: String::new(),
        after: String::new(),
        canals: Vec::new(),
        points: 0.0,
        points_possible: 0.0,
        passed: None,
        shaping: vec![canal],
        warnings: Vec::new(),
    }
}

/// Welch's intervals of SciPy's `ttest_ind(equal_var=False)` at 95 % and at
/// 97.5 % (two levels), p adjusted by statsmodels' `multipletests` (Holm). The
/// last student of the first group shaped two blocks, whose mean counts once.
#[test]
fn groups_are_compared_as_general_statistics_compare_them() {
    let pairs = [
        block("a", "hand", [0.10, 0.05]),
        block("b", "hand", [0.14, 0.07]),
        block("c", "hand", [0.09, 0.02]),
        block("d", "hand", [0.11, 0.08]),
        block("d", "hand", [0.15, 0.04]),
        block("e", "rotary", [0.25, 0.06]),
        block("f", "rotary", [0.18, 0.09]),
        block("g", "rotary", [0.30, 0.03]),
    ];
    let found = compare_groups(&pairs).unwrap();
    assert_eq!(found.groups, ["hand", "rotary"]);
    let of = |from_end_mm: f64| {
        found
            .levels
            .iter()
            .find(|l| l.quantity == "transport_mm" && l.from_end_mm == from_end_mm)
            .unwrap()
    };
    let near = |found: f64, expected: f64| {
        assert!((found - expected).abs() < 1e-9, "{found} {expected}");
    };
    let level = of(1.0);
    assert_eq!(level.students, [4, 3]);
    near(level.difference, 0.1283333333333333);
    near(level.ci95.low, -0.004187320540989692);
    near(level.ci95.high, 0.2608539872076563);
    near(level.ci95_all_levels.low, -0.05242974577789161);
    near(level.ci95_all_levels.high, 0.3090964124445586);
    near(level.p.unwrap(), 0.05357897671813091);
    assert!((level.p_all_levels.unwrap() - 0.10715795).abs() < 1e-8);
    let level = of(2.0);
    near(level.difference, 0.01);
    near(level.ci95_all_levels.high, 0.08680975074335481);
    assert!((level.p_all_levels.unwrap() - 0.65326478).abs() < 1e-8);
    // Three groups are no comparison of two.
    let mut three = pairs.to_vec();
    three.push(block("h", "third", [0.1, 0.1]));
    assert!(compare_groups(&three).is_none());
}

#[test]
fn tables_of_pairs_are_read_or_refused_by_line() {
    let folder = Path::new("class");
    let text =
        "before;after;student;group\nb.case.json;a.case.json;Ann;hand\n\nb.case.json;;Ben;\n";
    let error = read_pairs(text, folder).unwrap_err().to_string();
    assert_eq!(error, "line 4: no case under \"after\"");
    let rows = read_pairs("After,Before\nx,y\n", folder).unwrap();
    assert_eq!(rows[0].before, folder.join("y"));
    assert_eq!(rows[0].student, None);
    for (text, words) in [
        ("student,after\nA,b\n", "no column \"before\""),
        ("before,after\n", "no pairs"),
    ] {
        let error = read_pairs(text, folder).unwrap_err().to_string();
        assert!(error.contains(words), "{error}");
    }
}

#[test]
fn faults_of_a_rubric_are_named() {
    let fault = |change: fn(&mut ShapingRubric)| {
        let mut rubric = ShapingRubric::default();
        assert_eq!(rubric.fault(), None);
        change(&mut rubric);
        rubric.fault().unwrap()
    };
    assert!(fault(|r| r.format = "lengthfilm-rubric".to_owned()).contains("not a rubric"));
    assert!(fault(|r| r.pass_share = 1.5).contains("pass_share"));
    assert!(fault(|r| r.lines[0].points = 0.0).contains("line 1 (greatest_transport_mm)"));
    assert!(fault(|r| r.lines[1] = r.lines[0].clone()).contains("has a line already"));
    let keys: Vec<&str> = ShapingMeasure::ALL.map(Judged::key).to_vec();
    for (measure, key) in ShapingMeasure::ALL.iter().zip(keys) {
        assert_eq!(serde_json::to_value(measure).unwrap(), key);
    }
}

fn grade_shaping(folder: &Path, table: &str) -> Command {
    let pairs = folder.join("pairs.csv");
    fs::write(&pairs, table).unwrap();
    let mut command = Command::cargo_bin("lengthfilm").unwrap();
    command.arg("grade-shaping").arg(&pairs);
    command.args(["--draws", "200"]);
    command
}

#[test]
fn the_command_grades_names_refusals_and_writes_sheets() {
    let folder = tempfile::tempdir().unwrap();
    write_pair(folder.path());
    let table = "before,after,student,group\n\
                 before.case.json,after.case.json,Ann,first\n\
                 before.case.json,missing.case.json,Ben,second\n";
    let sheets = folder.path().join("sheets");
    let run = || grade_shaping(folder.path(), table);
    let done = run()
        .args(["--json", "--sheets"])
        .arg(&sheets)
        .assert()
        .code(1);
    let output = done.get_output();
    let class: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(class["pairs"][0]["student"], "Ann");
    let lines = class["pairs"][0]["canals"][0]["lines"].as_array().unwrap();
    assert_eq!(lines.len(), ShapingRubric::default().lines.len());
    assert_eq!(class["refused"][0]["student"], "Ben");
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(errors.contains("Ben") && errors.contains("missing.case.json"));
    // Nobody who handed in nothing usable has passed.
    assert_eq!(class["students"], 1);

    let sheet = sheets.join("Ann.pdf");
    match Program::new("pdftotext").arg(&sheet).arg("-").output() {
        Ok(text) => {
            let text = String::from_utf8_lossy(&text.stdout).into_owned();
            for words in ["Ann", "greatest transport", "Change of length"] {
                assert!(text.contains(words), "{words}: {text}");
            }
        }
        Err(_) => println!("skipped: pdftotext is not installed"),
    }

    let csv = run().arg("--csv").assert().code(1);
    let csv = String::from_utf8_lossy(&csv.get_output().stdout).into_owned();
    assert_eq!(csv.lines().count(), 1 + lines.len() + 1, "{csv}");
    assert!(csv.lines().last().unwrap().contains("refused"));
}

#[test]
fn a_film_outside_the_hand_in_is_not_opened() {
    let folder = tempfile::tempdir().unwrap();
    let [_, after] = write_pair(folder.path());
    let inner = folder.path().join("inner");
    fs::create_dir(&inner).unwrap();
    let mut case: serde_json::Value = serde_json::from_slice(&fs::read(&after).unwrap()).unwrap();
    case["film"]["path"] = "../block.png".into();
    fs::write(inner.join("after.case.json"), case.to_string()).unwrap();
    let table = "before,after\nbefore.case.json,inner/after.case.json\n";
    let done = grade_shaping(folder.path(), table)
        .arg("--json")
        .assert()
        .code(1);
    let errors = String::from_utf8_lossy(&done.get_output().stderr).into_owned();
    assert!(errors.contains("outside its own folder"), "{errors}");
}

/// As with the rubric for traces: `MB` and ` mb ` are one canal.
#[test]
fn a_line_of_a_canal_holds_for_its_name_in_any_case() {
    let mut rubric = ShapingRubric::default();
    let mut own = rubric.lines[0].clone();
    own.canal = Some("MB".to_owned());
    own.at_most = Some(0.1);
    rubric.lines.push(own);
    assert_eq!(rubric.fault(), None);
    let limit_of = |canal: &str| {
        let lines = rubric.lines_for(canal);
        let found = lines
            .iter()
            .filter(|line| line.measure == rubric.lines[0].measure);
        found.map(|line| line.at_most).collect::<Vec<_>>()
    };
    assert_eq!(limit_of(" mb "), [Some(0.1)]);
    assert_eq!(limit_of("DL"), [Some(0.3)]);
}
