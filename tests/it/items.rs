//! Item analysis: shares and correlations of a class small enough to be worked
//! out by hand.

use lengthfilm::feedback::{self, Statistics, Summary};
use lengthfilm::grading::files::ClassGrade;
use lengthfilm::grading::items::Third;
use lengthfilm::grading::measures::Measure;
use lengthfilm::grading::rubric::Rubric;
use lengthfilm::report::model::Block;
use serde_json::{Value, json};

use crate::grading::{case, graded, workspace, write};

/// Two straight canals of 12 mm, each point so many mm to the right; at 0.1
/// mm/px.
fn canals(mb: [f64; 7], d: f64) -> Value {
    let line = |x: f64, aside_mm: [f64; 7]| -> Vec<[f64; 2]> {
        let points = aside_mm.iter().zip(0..);
        let points = points.map(|(aside, step)| [x + 10.0 * aside, 20.0 + 20.0 * f64::from(step)]);
        points.collect()
    };
    case(&[("MB", line(30.0, mb)), ("D", line(60.0, [d; 7]))])
}

/// Ann draws as the expert does; Ben bulges in the coronal third of MB; Cyd
/// lies beside all of MB, Dan beside both canals.
fn class(change: impl Fn(&mut Value)) -> ClassGrade {
    let folder = workspace();
    let written = |name: &str, mut case: Value| {
        change(&mut case);
        write(folder.path(), name, &case)
    };
    let bulge = [0.4, 0.4, 0.0, 0.0, 0.0, 0.0, 0.0];
    let reference = written("expert", canals([0.0; 7], 0.0));
    let traces = [
        written("ann", canals([0.0; 7], 0.0)),
        written("ben", canals(bulge, 0.0)),
        written("cyd", canals([0.3; 7], 0.0)),
        written("dan", canals([0.3; 7], 0.3)),
    ];
    let mut rubric = Rubric::default();
    let asked = [Measure::MeanDistanceMm, Measure::LengthErrorMm];
    rubric.lines.retain(|line| asked.contains(&line.measure));
    graded(&[reference], &traces, &rubric)
}

/// What is expected of one item: share met, and discrimination.
type Expected = (f64, Option<f64>);

#[test]
fn shares_and_discrimination_are_those_worked_out_by_hand() {
    let class = class(|_| {});
    let items: Vec<(&str, Measure, Expected)> = class
        .class
        .items
        .iter()
        .map(|item| {
            let answers = &item.answers;
            assert_eq!(answers.students, 4);
            let found = (answers.met_share, answers.discrimination);
            (item.canal.as_str(), item.measure, found)
        })
        .collect();
    // Met: MB by Ann and Ben, D by all but Dan. Of the other three lines they
    // met 3, 3, 3, 2, and 3, 3, 2, 2.
    let root_of_a_third = Some(1.0 / 3.0_f64.sqrt());
    let expected = [
        ("MB", Measure::MeanDistanceMm, (0.5, root_of_a_third)),
        ("D", Measure::MeanDistanceMm, (0.75, root_of_a_third)),
    ];
    for ((canal, measure, (share, discrimination)), one) in expected.into_iter().zip(&items) {
        assert_eq!((canal, measure, share), (one.0, one.1, one.2.0));
        let difference = one.2.1.unwrap() - discrimination.unwrap();
        assert!(difference.abs() < 1e-12, "{one:?}");
    }
    // All met the length: that tells nobody from another.
    assert_eq!(items.len(), 4);
    for (_, measure, found) in &items[2..] {
        assert_eq!((*measure, *found), (Measure::LengthErrorMm, (1.0, None)));
    }

    let levels: Vec<(&str, Third, f64)> = class
        .class
        .levels
        .iter()
        .map(|item| (item.canal.as_str(), item.third, item.answers.met_share))
        .collect();
    assert_eq!(
        levels,
        [
            ("MB", Third::Coronal, 0.25),
            ("MB", Third::Middle, 0.5),
            ("MB", Third::Apical, 0.5),
            ("D", Third::Coronal, 0.75),
            ("D", Third::Middle, 0.75),
            ("D", Third::Apical, 0.75),
        ]
    );
    // Of all four lines they met 4, 4, 3, 2.
    let coronal = class.class.levels[0].answers.discrimination.unwrap();
    let by_hand = 0.1875 / (0.75_f64 * 0.171875).sqrt();
    assert!((coronal - by_hand).abs() < 1e-12, "{coronal}");
}

#[test]
fn without_a_scale_there_are_no_thirds_within_millimetres() {
    let class = class(|case| case["scale"] = json!({}));
    assert!(class.class.levels.is_empty());
}

#[test]
fn the_summary_lists_the_hardest_lines_and_thirds() {
    let class = class(|_| {});
    let summary = feedback::summary(&Summary {
        title: "one film".to_owned(),
        facts: Vec::new(),
        rubric: &class.rubric,
        students: &class.students,
        refused: Vec::new(),
        statistics: Statistics::Class(&class.class),
    });
    let first_row = |heading: &str| {
        let mut sections = summary.sections.iter();
        let section = sections.find(|section| section.heading == heading).unwrap();
        let Block::Table(table) = &section.blocks[0] else {
            panic!("a table stands there");
        };
        table.rows[0].cells.clone()
    };
    let hardest = first_row("Hardest thirds of the canal");
    assert_eq!(
        hardest[..3],
        ["MB: within 0.2 mm, coronal third", "4", "25"]
    );
    assert_eq!(first_row("Hardest items")[1..3], ["4", "50"]);
}
