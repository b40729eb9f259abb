//! What a sheet says, in which order.

use image::GrayImage;

use super::figure;
use crate::cautions::CAUTIONS;
use crate::clock::today;
use crate::curvature::CurvatureQuantity;
use crate::grading::copies;
use crate::grading::files::ClassGrade;
use crate::grading::grade::{CanalGrade, LineGrade, TraceGrade, Verdict};
use crate::grading::measures::Measure;
use crate::grading::rubric::RubricLine;
use crate::report::is_printable;
use crate::report::model::{Align, Block, Column, Report, Section, Table};
use crate::report::numbers::ABSENT;
use crate::report::{neutral_label, page_count};
use crate::uncertainty::rounding::{fixed, spaced};

/// How close a sheet is set: the first that keeps to one page is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Setting {
    /// A large film, lines of the rubric as rows or bullets.
    Large,
    /// A large film, lines in three columns of small print.
    LargeClose,
    /// The same with a smaller film.
    Open,
    /// In three columns of small print.
    Close,
    /// The same, running text before it, and of the cautions the foot's alone.
    Closest,
}

/// Room to write by hand.
const TEACHER_LINE: &str = "Remark: ______________________________________________ \
    Date, name: ______________________________";

/// The student's name as the sheet can print it; where the fonts lack its
/// letters, what to look at instead.
fn printed_name(trace: &TraceGrade) -> String {
    match is_printable(&trace.student) {
        true => trace.student.clone(),
        false => "name in letters this sheet's fonts lack: see the name of this file".to_owned(),
    }
}

/// The sheet of one trace.
pub fn of(class: &ClassGrade, trace: &TraceGrade, film: &GrayImage) -> Report {
    let mut sheet = set(class, trace, film, Setting::Large);
    let others = [
        Setting::LargeClose,
        Setting::Open,
        Setting::Close,
        Setting::Closest,
    ];
    for setting in others {
        if page_count(&sheet) <= 1 {
            break;
        }
        sheet = set(class, trace, film, setting);
    }
    sheet
}

fn set(class: &ClassGrade, trace: &TraceGrade, film: &GrayImage, setting: Setting) -> Report {
    let mut sections = vec![
        Section {
            heading: "The trace against the reference".to_owned(),
            blocks: vec![match setting {
                Setting::Large | Setting::LargeClose => Block::TallFigureBeside {
                    figure: figure::draw(class, trace, film),
                    table: measures(trace),
                },
                _ => Block::FigureBeside {
                    figure: figure::draw(class, trace, film),
                    table: measures(trace),
                    notes: Vec::new(),
                },
            }],
        },
        strays(class, trace, setting),
        lines(class, trace, setting),
    ];
    if setting != Setting::Closest {
        sections.push(cautions());
    }
    sections.push(Section {
        heading: "Teacher".to_owned(),
        blocks: vec![Block::Paragraph(TEACHER_LINE.to_owned())],
    });
    Report {
        title: "Feedback on a traced canal".to_owned(),
        subtitle: subtitle(trace),
        facts: facts(class, trace),
        sections,
        footer: format!(
            "{} · case {} · for teaching: limits are conventions; confirm every length electronically and clinically",
            software(),
            short_hash(trace, 12)
        ),
    }
}

fn software() -> String {
    format!("Lengthfilm {}", env!("CARGO_PKG_VERSION"))
}

/// The first `digits` of the case's hash.
fn short_hash(trace: &TraceGrade, digits: usize) -> &str {
    trace
        .case_sha256
        .as_deref()
        .map_or("not from a file", |hash| &hash[..digits.min(hash.len())])
}

fn verdict_words(passed: Option<bool>) -> &'static str {
    match passed {
        Some(true) => "passed",
        Some(false) => "not passed",
        None => "not assessed",
    }
}

fn subtitle(trace: &TraceGrade) -> String {
    let names: Vec<&str> = trace.canals.iter().map(|c| c.name.as_str()).collect();
    let canals = match names.as_slice() {
        [one] => format!("canal {one}"),
        many => format!("canals {}", many.join(", ")),
    };
    format!(
        "{} · {canals} · {}: {} of {} points",
        printed_name(trace),
        verdict_words(trace.passed),
        points(trace.points),
        points(trace.points_possible)
    )
}

/// Points without needless decimals.
fn points(value: f64) -> String {
    let text = fixed(value, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn file_name(path: &str) -> String {
    std::path::Path::new(path).file_name().map_or_else(
        || path.to_owned(),
        |name| name.to_string_lossy().into_owned(),
    )
}

fn facts(class: &ClassGrade, trace: &TraceGrade) -> Vec<(String, String)> {
    let reference = &class.reference;
    let experts = reference.canals.iter().map(|c| c.experts).max();
    let against = match experts {
        _ if reference.is_truth => "the true canal of a synthetic film".to_owned(),
        Some(experts) if experts > 1 => format!("mean of {experts} experts"),
        _ => "one expert".to_owned(),
    };
    let scale = match reference.scale.mm_per_px {
        Some(mm_per_px) => format!(
            "{} ({} true mm per px)",
            reference.scale.description,
            fixed(mm_per_px, 5)
        ),
        None => "none: results in px only".to_owned(),
    };
    let fact = |name: &str, value: String| (name.to_owned(), value);
    vec![
        fact("Student", printed_name(trace)),
        fact("Date", trace.date.clone().unwrap_or_else(today)),
        fact("Attempt", trace.attempt.to_string()),
        fact("Case file", file_name(&trace.file)),
        fact("Case SHA-256", format!("{} …", short_hash(trace, 32))),
        fact("Software", software()),
        fact("Film", neutral_label("film", &reference.film_sha256)),
        fact("Reference", against),
        fact("Scale", scale),
        fact("Rubric", class.rubric.name.clone()),
    ]
}

/// The numbers of every canal, one column each.
fn measures(trace: &TraceGrade) -> Table {
    let several = trace.canals.len() > 1;
    let headings = trace.canals.iter().map(|canal| match several {
        true => canal.name.clone(),
        false => "trace".to_owned(),
    });
    let caption = "Errors are trace − reference; distances are taken along both lines.";
    let mut table = Table::of_quantities(caption, "", headings);
    let mut row = |name: String, values: Vec<Option<String>>| {
        if values.iter().any(Option::is_some) {
            let mut cells = vec![name];
            cells.extend(values.into_iter().map(|v| v.unwrap_or(ABSENT.to_owned())));
            table.row(cells);
        }
    };
    let each = |value: &dyn Fn(&CanalGrade) -> Option<f64>, decimals| {
        let values = trace.canals.iter().map(value);
        let words = values.map(|value| value.map(|value| fixed(value, decimals)));
        words.collect::<Vec<_>>()
    };
    let in_mm = trace.canals.iter().any(|c| c.curved_length_mm.is_some());
    if in_mm {
        let lengths = each(&|canal| canal.curved_length_mm, 2);
        row("Length as traced, mm".to_owned(), lengths);
    } else {
        let lengths = each(&|canal| canal.curved_length_px, 1);
        row("Length as traced, px".to_owned(), lengths);
    }
    for &measure in SHOWN {
        let decimals = if measure.unit() == "mm" { 2 } else { 1 };
        let values = each(
            &|canal| canal.measures.get(&measure).copied().flatten(),
            decimals,
        );
        row(
            format!("{}, {}", capital(measure.words()), measure.unit()),
            values,
        );
    }
    table
}

/// The measures of the table; the rest is in the class's own table.
const SHOWN: &[Measure] = &[
    Measure::MeanDistanceMm,
    Measure::Percentile95Mm,
    Measure::HausdorffMm,
    Measure::FrechetMm,
    Measure::LengthErrorMm,
    Measure::ApexErrorMm,
    Measure::TipErrorMm,
    Measure::TipToApexErrorMm,
    Measure::ChartErrorMm,
    Measure::SetLengthErrorMm,
    Measure::ScaleErrorPercent,
    Measure::MeanDistancePx,
    Measure::Percentile95Px,
    Measure::HausdorffPx,
    Measure::FrechetPx,
    Measure::ApexErrorPx,
    Measure::TipErrorPx,
    Measure::Curvature(CurvatureQuantity::Schneider),
    Measure::Curvature(CurvatureQuantity::Weine),
    Measure::Curvature(CurvatureQuantity::AxisAxis),
    Measure::Curvature(CurvatureQuantity::Pruett),
    Measure::Curvature(CurvatureQuantity::PruettRadius),
    Measure::Curvature(CurvatureQuantity::NetTurn),
    Measure::Curvature(CurvatureQuantity::SmallestRadius),
];

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| {
        first.to_uppercase().chain(letters).collect()
    })
}

fn strays(class: &ClassGrade, trace: &TraceGrade, setting: Setting) -> Section {
    let several = trace.canals.len() > 1;
    let mut items: Vec<String> = Vec::new();
    for canal in &trace.canals {
        let named = |text: &String| match several {
            true => format!("{}: {text}", canal.name),
            false => capital(text),
        };
        items.extend(canal.strays.iter().map(named));
        let is_within = canal.strays.is_empty() && class.reference.scale.mm_per_px.is_some();
        if is_within {
            let limit = class.rubric.stray_mm;
            items.push(named(&format!(
                "within {limit} mm of the reference throughout"
            )));
        }
        items.extend(canal.warnings.iter().map(named));
        items.extend(copies::words(canal).iter().map(named));
    }
    let missing = trace.missing_canals.iter();
    items.extend(missing.map(|canal| format!("Canal {canal} was not traced.")));
    items.extend(trace.warnings.iter().cloned());
    items.extend(class.warnings.iter().map(ToString::to_string));
    Section {
        heading: "Where along the canal".to_owned(),
        blocks: vec![match setting {
            Setting::Closest => Block::Paragraph(items.join(" · ")),
            _ => Block::Bullets(items),
        }],
    }
}

fn lines(class: &ClassGrade, trace: &TraceGrade, setting: Setting) -> Section {
    let block = match trace.canals.as_slice() {
        [canal] if matches!(setting, Setting::Large | Setting::Open) => {
            Block::Table(lines_of_canal(canal))
        }
        [canal] => {
            let lines = canal.lines.iter();
            let lines = lines.filter(|line| line.verdict != Verdict::NotApplicable);
            let sentences = lines.map(|line| {
                let word = line.verdict.words();
                format!("{}: {}", capital(word), line.sentence)
            });
            Block::SmallPrint(sentences.collect())
        }
        canals => {
            let lines = class.rubric.lines.iter().enumerate();
            let sentences = lines.map(|(index, line)| line_of_canals(line, index, canals));
            match setting {
                Setting::Large | Setting::Open => Block::Bullets(sentences.collect()),
                _ => Block::SmallPrint(sentences.collect()),
            }
        }
    };
    Section {
        heading: "Line by line".to_owned(),
        blocks: vec![block],
    }
}

/// One row per line of the rubric; what was not met stands out.
fn lines_of_canal(canal: &CanalGrade) -> Table {
    let mut table = Table::of_text("", &["Verdict", "Line of the rubric"]);
    table.columns.push(Column {
        heading: "Points".to_owned(),
        align: Align::Right,
    });
    let applicable = |line: &&LineGrade| line.verdict != Verdict::NotApplicable;
    for line in canal.lines.iter().filter(applicable) {
        let cells = vec![
            line.verdict.words().to_owned(),
            capital(&line.sentence),
            points(line.points),
        ];
        match line.verdict {
            Verdict::NotMet | Verdict::Missing => table.strong_row(cells),
            _ => table.row(cells),
        }
    }
    table
}

/// One line of the rubric over all canals, in one sentence.
fn line_of_canals(line: &RubricLine, index: usize, canals: &[CanalGrade]) -> String {
    let unit = spaced(line.measure.unit());
    let each = canals.iter().map(|canal| {
        let grade = &canal.lines[index];
        let word = grade.verdict.words();
        match grade.value {
            Some(value) => format!("{} {}{unit}, {word}", canal.name, fixed(value, 2)),
            None => format!("{} {word}", canal.name),
        }
    });
    format!(
        "{} ({}): {}",
        capital(line.measure.words()),
        line.limit_words(),
        each.collect::<Vec<_>>().join("; ")
    )
}

fn cautions() -> Section {
    let texts = CAUTIONS.iter().map(|caution| caution.text.to_owned());
    Section {
        heading: "Cautions".to_owned(),
        blocks: vec![Block::SmallPrint(texts.collect())],
    }
}
