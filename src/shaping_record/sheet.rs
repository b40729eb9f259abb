//! The record's text: registration, levels, straightening, findings, cautions.

use super::{picture, plot};
use crate::film::OpenedFilm;
use crate::report::film_for_viewing;
use crate::report::model::{Block, Report, Section, Table};
use crate::report::numbers::{ABSENT, or_absent};
use crate::shaping::{CanalShaping, Comparison, method_name};
use crate::shaping_class::{GradedPair, line_words};
use crate::uncertainty::rounding::{fixed, with_u95};

/// The record of one comparison.
pub fn sheet(comparison: &Comparison, films: &[OpenedFilm; 2]) -> Report {
    let sections = vec![registration(comparison)];
    let findings = &comparison.findings;
    let names = [&findings.before, &findings.after].map(|path| file_name(path));
    with_canals(comparison, films, names, sections)
}

/// The same for a student: the grade first.
pub fn graded_sheet(comparison: &Comparison, films: &[OpenedFilm; 2], pair: &GradedPair) -> Report {
    let sections = vec![grade(pair), registration(comparison)];
    let names = [&pair.before, &pair.after].map(|path| file_name(path));
    let mut report = with_canals(comparison, films, names, sections);
    report.title = "Shaping, graded".to_owned();
    let stated = [
        ("Student", Some(&pair.student)),
        ("Group", pair.group.as_ref()),
        ("Block", pair.block.as_ref()),
    ];
    let stated = stated
        .into_iter()
        .filter_map(|(name, value)| Some((name.to_owned(), value?.clone())));
    report.facts.splice(0..0, stated);
    report
}

/// What the rubric says, line by line.
fn grade(pair: &GradedPair) -> Section {
    let outcome = match pair.passed {
        Some(true) => "passed",
        Some(false) => "not passed",
        None => "open: something required could not be assessed",
    };
    let mut blocks = Vec::new();
    for canal in &pair.canals {
        blocks.push(Block::Paragraph(format!(
            "Canal {}: {} of {} points",
            canal.name,
            fixed(canal.points, 1),
            fixed(canal.points_possible, 1)
        )));
        blocks.push(Block::Bullets(line_words(canal)));
    }
    Section {
        heading: format!(
            "{} of {} points, {outcome}",
            fixed(pair.points, 1),
            fixed(pair.points_possible, 1)
        ),
        blocks,
    }
}

fn with_canals(
    comparison: &Comparison,
    films: &[OpenedFilm; 2],
    [before, after]: [String; 2],
    mut sections: Vec<Section>,
) -> Report {
    let findings = &comparison.findings;
    let film = film_for_viewing(&films[0].film);
    for canal in &findings.canals {
        let mut blocks = Vec::new();
        if let Some(figure) = picture::figure(&comparison.pair, canal, &film) {
            blocks.push(Block::FigureBeside {
                figure,
                table: angles(canal),
                notes: canal.findings.iter().map(|f| f.text.clone()).collect(),
            });
        }
        blocks.push(Block::TableBeside {
            table: levels(canal),
            figures: plot::figures(canal),
        });
        let notes = canal.levels.iter().filter(|l| !l.note.is_empty());
        let notes: Vec<String> = notes
            .map(|l| format!("{} mm from the end: {}", fixed(l.from_end_mm, 1), l.note))
            .collect();
        if !notes.is_empty() {
            blocks.push(Block::Bullets(notes));
        }
        sections.push(Section {
            heading: format!("Canal {}", canal.name),
            blocks,
        });
    }
    if !findings.warnings.is_empty() {
        let words = findings.warnings.iter().map(|w| match &w.canal {
            Some(canal) => format!("{canal}: {}", w.text),
            None => w.text.clone(),
        });
        sections.push(Section {
            heading: "Warnings".to_owned(),
            blocks: vec![Block::Bullets(words.collect())],
        });
    }
    sections.push(Section {
        heading: "How to read this".to_owned(),
        blocks: vec![Block::SmallPrint(
            SMALL_PRINT.iter().map(|&s| s.to_owned()).collect(),
        )],
    });
    let names: Vec<&str> = findings.canals.iter().map(|c| c.name.as_str()).collect();
    Report {
        title: "Before and after shaping".to_owned(),
        subtitle: format!("canal {}", names.join(", ")),
        facts: vec![
            ("Before".to_owned(), before),
            ("After".to_owned(), after),
            ("Film before".to_owned(), short_hash(&films[0])),
            ("Film after".to_owned(), short_hash(&films[1])),
            (
                "Software".to_owned(),
                format!("Lengthfilm {}", env!("CARGO_PKG_VERSION")),
            ),
        ],
        sections,
        footer: format!(
            "Lengthfilm {} · films {} and {} · for teaching and research: limits are conventions",
            env!("CARGO_PKG_VERSION"),
            short_hash(&films[0]),
            short_hash(&films[1])
        ),
    }
}

const SMALL_PRINT: [&str; 5] = [
    "Left and right as seen from the orifice towards the end, on the film before. Levels are \
     counted along the centre line before, from its end; sections are normal to it.",
    "Transport: removed left less removed right (Gambill et al. 1996); the canal's centre moves \
     by half of it. Centring ratio: the smaller removal over the greater; 1 is centred.",
    "An error of the registration enters transport twice and the width not at all: the width is \
     the robust number. ± is U for 95 %, from Monte Carlo draws of marks, walls, centre line and \
     scale.",
    "Zip, elbow, ledge, thin wall and perforation by own rules after Weine's words, with own \
     limits; the share of the draws in which a rule holds says how sure it is.",
    "One film is one projection: what is removed buccally or lingually does not show.",
];

fn file_name(path: &str) -> String {
    let name = std::path::Path::new(path).file_name();
    name.map_or_else(
        || path.to_owned(),
        |name| name.to_string_lossy().into_owned(),
    )
}

fn short_hash(film: &OpenedFilm) -> String {
    film.sha256.chars().take(12).collect()
}

fn registration(comparison: &Comparison) -> Section {
    let r = &comparison.findings.registration;
    let mm = |v: Option<f64>| v.map_or(ABSENT.to_owned(), |v| format!("{} mm", fixed(v, 3)));
    let mut table = Table::of_quantities("", "Registration", ["".to_owned()]);
    table.row(vec!["Marks".to_owned(), r.marks.join(", ")]);
    table.row(vec![
        "Turn of the second film".to_owned(),
        format!("{}°", fixed(r.rotation_deg, 2)),
    ]);
    table.row(vec![
        format!("Scale (from the {})", r.scale_source),
        fixed(r.scale, 4),
    ]);
    table.row(vec!["Residual of the marks".to_owned(), mm(r.residual_mm)]);
    table.strong_row(vec![
        "Predicted error at the apex".to_owned(),
        mm(r.error_at_apex_mm),
    ]);
    table.row(vec![
        format!("Mark that fits worst: {}", r.worst_mark),
        mm(r.worst_mark_off_mm),
    ]);
    Section {
        heading: "The two films over each other".to_owned(),
        blocks: vec![Block::Table(table)],
    }
}

fn angles(canal: &CanalShaping) -> Table {
    let mut table = Table::of_quantities("", "Straightening", ["".to_owned()]);
    for (name, quantity) in &canal.straightening_deg {
        let cell = quantity.map_or(ABSENT.to_owned(), |q| with_u95(q, "°"));
        table.row(vec![method_name(name).to_owned(), cell]);
    }
    for (i, curve) in canal.curves.iter().enumerate() {
        let deg =
            |q: Option<crate::units::Quantity>| q.map_or(ABSENT.to_owned(), |q| with_u95(q, "°"));
        table.row(vec![
            format!("Curve {} from the end", i + 1),
            deg(curve.straightening_deg),
        ]);
    }
    table.strong_row(vec![
        "Change of length, mm".to_owned(),
        or_absent(canal.length_change_mm),
    ]);
    if let Some(explained) = canal.length_change_explained_mm {
        table.row(vec![
            "of which the wider curve explains".to_owned(),
            fixed(explained, 2),
        ]);
    }
    table
}

fn levels(canal: &CanalShaping) -> Table {
    let columns = ["before", "after", "left", "right", "transport", "centring"];
    let mut table = Table::of_quantities(
        "Width before and after, removal left and right, transport (mm)",
        "Level",
        columns.map(str::to_owned),
    );
    for level in &canal.levels {
        table.row(vec![
            fixed(level.from_end_mm, 1),
            or_absent(level.width_before_mm),
            or_absent(level.width_after_mm),
            or_absent(level.removed_left_mm),
            or_absent(level.removed_right_mm),
            or_absent(level.transport_mm),
            level
                .centring_ratio
                .map_or(ABSENT.to_owned(), |r| fixed(r, 2)),
        ]);
    }
    table
}
