//! The class on paper: every student's total, what is hard, the agreement.

use crate::cautions::CAUTIONS;
use crate::clock::today;
use crate::grading::class::Refused;
use crate::grading::items::{Answers, LevelItem};
use crate::grading::rubric::Rubric;
use crate::grading::set_statistics::SetStatistics;
use crate::grading::statistics::{ClassStatistics, LengthIcc, Statistic};
use crate::grading::totals::StudentTotal;
use crate::report::model::{Align, Block, Column, Report, Section, Table};
use crate::report::numbers::ABSENT;
use crate::uncertainty::rounding::fixed;

/// What a summary is made of.
pub struct Summary<'a> {
    /// What was graded, in words.
    pub title: String,
    pub facts: Vec<(String, String)>,
    pub rubric: &'a Rubric,
    pub students: &'a [StudentTotal],
    pub refused: Vec<&'a Refused>,
    pub statistics: Statistics<'a>,
}

/// Those of one film, or of a set.
pub enum Statistics<'a> {
    Class(&'a ClassStatistics),
    Set(&'a SetStatistics),
}

/// Hardest items that are listed.
const ITEMS_SHOWN: usize = 15;

/// The summary as a document.
pub fn of(summary: &Summary) -> Report {
    let passed = summary
        .students
        .iter()
        .filter(|s| s.has_passed == Some(true))
        .count();
    let mut sections = vec![Section {
        heading: "Students".to_owned(),
        blocks: vec![Block::Table(students(summary.students))],
    }];
    if !summary.refused.is_empty() {
        let lines = summary.refused.iter();
        let lines = lines.map(|refused| format!("{}: {}", refused.student, refused.reason));
        sections.push(Section {
            heading: "Not graded".to_owned(),
            blocks: vec![Block::Bullets(lines.collect())],
        });
    }
    let (agreement, items, levels) = match summary.statistics {
        Statistics::Class(class) => (
            agreement(
                &class.length_bland_altman,
                &class.length_icc,
                class.length_unit,
            ),
            &class.items,
            &class.levels,
        ),
        Statistics::Set(set) => (
            agreement(&set.length_bland_altman, &set.length_icc, set.length_unit),
            &set.items,
            &set.levels,
        ),
    };
    if let Statistics::Class(class) = summary.statistics
        && !class.most_got_wrong.is_empty()
    {
        sections.push(Section {
            heading: "What most of the class got wrong".to_owned(),
            blocks: vec![Block::Bullets(class.most_got_wrong.clone())],
        });
    }
    sections.push(Section {
        heading: "Hardest items".to_owned(),
        blocks: vec![Block::Table(item_table(
            items.iter().map(|item| (item.words(), &item.answers)),
        ))],
    });
    if !levels.is_empty() {
        let words = |item: &LevelItem| item.words(summary.rubric.stray_mm);
        let rows = levels.iter().map(|item| (words(item), &item.answers));
        sections.push(Section {
            heading: "Hardest thirds of the canal".to_owned(),
            blocks: vec![Block::Table(item_table(rows))],
        });
    }
    sections.push(Section {
        heading: "Agreement of the lengths".to_owned(),
        blocks: vec![Block::Bullets(agreement)],
    });
    sections.push(Section {
        heading: "Cautions".to_owned(),
        blocks: vec![Block::SmallPrint(
            CAUTIONS
                .iter()
                .map(|caution| caution.text.to_owned())
                .collect(),
        )],
    });
    let mut facts = summary.facts.clone();
    facts.push(("Rubric".to_owned(), summary.rubric.name.clone()));
    facts.push((
        "Attempt that counts".to_owned(),
        summary.rubric.attempt.words().to_owned(),
    ));
    facts.push(("Date".to_owned(), today()));
    Report {
        title: "Summary of a class".to_owned(),
        subtitle: format!(
            "{} · {} students, {passed} passed",
            summary.title,
            summary.students.len()
        ),
        facts,
        sections,
        footer: format!(
            "Lengthfilm {} · for teaching: limits are conventions; confirm every length electronically and clinically",
            env!("CARGO_PKG_VERSION")
        ),
    }
}

fn right(heading: &str) -> Column {
    Column {
        heading: heading.to_owned(),
        align: Align::Right,
    }
}

fn students(students: &[StudentTotal]) -> Table {
    let mut table = Table::of_text(
        "Films without a graded trace count unless excused.",
        &["Student"],
    );
    for heading in ["Traces", "Passed", "Points", "Percent", "Undone", "Result"] {
        table.columns.push(right(heading));
    }
    for student in students {
        let cells = vec![
            student.student.clone(),
            student.traces.to_string(),
            format!("{} of {}", student.passed, student.films),
            format!(
                "{} of {}",
                fixed(student.points, 1),
                fixed(student.points_possible, 1)
            ),
            student.percent.map_or(ABSENT.to_owned(), |p| fixed(p, 0)),
            student.undone.to_string(),
            match student.has_passed {
                Some(true) => "passed".to_owned(),
                Some(false) => "not passed".to_owned(),
                None => "not assessed".to_owned(),
            },
        ];
        match student.has_passed {
            Some(false) => table.strong_row(cells),
            _ => table.row(cells),
        }
    }
    table
}

fn item_table<'a>(items: impl Iterator<Item = (String, &'a Answers)>) -> Table {
    let caption = "Discrimination: correlation of meeting the item with the share met of all others; below 0.2 it tells the good from the weak poorly (common practice, no source).";
    let mut table = Table::of_text(caption, &["Item"]);
    for heading in ["Students", "Met, %", "95 % CI", "Discrimination"] {
        table.columns.push(right(heading));
    }
    for (item, answers) in items.take(ITEMS_SHOWN) {
        table.row(vec![
            item,
            answers.students.to_string(),
            fixed(100.0 * answers.met_share, 0),
            format!(
                "{} to {}",
                fixed(100.0 * answers.met_share_ci95.low, 0),
                fixed(100.0 * answers.met_share_ci95.high, 0)
            ),
            answers
                .discrimination
                .map_or(ABSENT.to_owned(), |r| fixed(r, 2)),
        ]);
    }
    table
}

fn agreement(
    limits: &Statistic<crate::agreement::clustered::ClusteredBlandAltman>,
    icc: &Statistic<LengthIcc>,
    unit: &str,
) -> Vec<String> {
    let of_limits = match limits {
        Statistic::Known(found) => format!(
            "Length, student − reference: bias {} {unit} (95 % CI {} to {}), limits of agreement {} to {} {unit}; {} pairs of {} students taken together by student",
            fixed(found.bias, 2),
            fixed(found.bias_ci95.low, 2),
            fixed(found.bias_ci95.high, 2),
            fixed(found.lower_limit, 2),
            fixed(found.upper_limit, 2),
            found.pairs,
            found.clusters
        ),
        Statistic::Refused { refused } => format!("Limits of agreement: not available: {refused}"),
    };
    let of_icc = match icc {
        Statistic::Known(found) => format!(
            "Students among themselves: ICC(2,1) {} (95 % CI {} to {}), {} subjects × {} complete students",
            fixed(found.icc.icc_2_1.value, 2),
            fixed(found.icc.icc_2_1.ci95.low, 2),
            fixed(found.icc.icc_2_1.ci95.high, 2),
            found.canals,
            found.students
        ),
        Statistic::Refused { refused } => {
            format!("Intraclass correlation: not available: {refused}")
        }
    };
    vec![of_limits, of_icc]
}
