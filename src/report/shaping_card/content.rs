//! What a card says.

use std::path::Path;

use crate::instrumentation::{
    CanalInstruments, CourseFrom, FileFinding, InstrumentFindings, IsoColour, colour_of,
};
use crate::report::numbers::{ABSENT, chart};
use crate::uncertainty::rounding::{fixed, with_u95};

pub const TITLE: &str = "Shaping card";

/// Highest level of the printed table, mm from the apex.
const HIGHEST_LEVEL_MM: f64 = 10.0;
/// Most levels in one row of the printed table.
const MOST_LEVELS: usize = 11;

/// The card of one canal.
#[derive(Clone, Debug)]
pub struct Card {
    pub subtitle: String,
    /// The working length in large figures.
    pub length: String,
    /// How it is known and from where.
    pub length_note: String,
    pub files: Vec<FileRow>,
    /// Bends from the reference point, then the thirds.
    pub places: Vec<String>,
    /// Levels in mm from the apex.
    pub levels: Vec<String>,
    /// Per file, then the widest of all: name and diameters.
    pub diameters: Vec<(String, Vec<String>)>,
    pub cautions: Vec<String>,
}

/// One file.
#[derive(Clone, Debug)]
pub struct FileRow {
    pub swatch: Option<IsoColour>,
    pub file: String,
    pub colour: String,
    pub stop: String,
    pub tip: String,
    pub strain: String,
}

/// Headings of the columns of [`FileRow`].
pub const FILE_HEADINGS: [&str; 5] = [
    "File",
    "ISO colour",
    "Stop, mm",
    "Tip from apex, mm",
    "Bent to about, %",
];

/// One card per canal that has files.
pub fn cards(findings: &InstrumentFindings) -> Vec<Card> {
    let with_files = findings
        .canals
        .iter()
        .filter(|canal| !canal.files.is_empty());
    with_files.map(|canal| card(findings, canal)).collect()
}

/// At the foot of each page.
pub fn footer(findings: &InstrumentFindings) -> String {
    format!(
        "Lengthfilm {} · {} · for teaching and research unless cleared where it is used",
        env!("CARGO_PKG_VERSION"),
        Path::new(&findings.case)
            .file_name()
            .unwrap_or_default()
            .to_string_lossy()
    )
}

fn card(findings: &InstrumentFindings, canal: &CanalInstruments) -> Card {
    let tooth = findings.tooth_fdi.as_ref();
    let tooth = tooth.map_or(String::new(), |number| format!("Tooth {number} (FDI) · "));
    let reference = match &canal.reference_name {
        Some(name) => format!("from {name}"),
        None => "from the reference point".to_owned(),
    };
    let (length, length_note) = match (canal.working_length_chart_mm, canal.working_length_mm) {
        (Some(chart_mm), Some(raw)) => (
            format!("{} mm", chart(chart_mm)),
            format!(
                "{reference}, ends {} mm from the apex; before rounding {}",
                fixed(canal.allowance_mm, 1),
                with_u95(raw, "mm")
            ),
        ),
        _ => (
            "not available".to_owned(),
            "enter the set length of the file in the canal, with its tip".to_owned(),
        ),
    };
    let levels_mm = levels_mm(canal);
    Card {
        subtitle: format!("{tooth}Canal {}", canal.name),
        length,
        length_note,
        files: canal
            .files
            .iter()
            .zip(&canal.card)
            .map(|(file, line)| FileRow {
                swatch: colour_of(file.size).map(|standard| standard.colour),
                file: file.file.clone(),
                colour: file.colour.clone(),
                stop: line.stop_mm.map_or(ABSENT.to_owned(), chart),
                tip: fixed(line.tip_from_apex_mm, 1),
                strain: strain(file),
            })
            .collect(),
        places: places(canal),
        levels: levels_mm.iter().map(|&mm| level(mm)).collect(),
        diameters: diameters(canal, &levels_mm),
        cautions: cautions(findings, canal),
    }
}

fn strain(file: &FileFinding) -> String {
    file.peak_strain_percent
        .map_or(ABSENT.to_owned(), |strain| with_u95(strain, ""))
}

fn level(mm: f64) -> String {
    let text = fixed(mm, 2);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn levels_mm(canal: &CanalInstruments) -> Vec<f64> {
    let levels = canal.shaped.iter().map(|level| level.from_apex_mm);
    levels
        .take_while(|&mm| mm <= HIGHEST_LEVEL_MM)
        .take(MOST_LEVELS)
        .collect()
}

fn diameters(canal: &CanalInstruments, levels_mm: &[f64]) -> Vec<(String, Vec<String>)> {
    let row = |of_level: &dyn Fn(f64) -> Option<f64>| -> Vec<String> {
        let cell = |&mm: &f64| of_level(mm).map_or(ABSENT.to_owned(), |mm| fixed(mm, 2));
        levels_mm.iter().map(cell).collect()
    };
    let same = |a: f64, b: f64| (a - b).abs() < 1e-9;
    let mut rows: Vec<_> = canal
        .card
        .iter()
        .map(|line| {
            let left = |mm: f64| {
                let mut levels = line.diameter_left_mm.iter();
                Some(levels.find(|level| same(level.from_apex_mm, mm))?.mm)
            };
            (line.file.clone(), row(&left))
        })
        .collect();
    if rows.len() > 1 {
        let widest = |mm: f64| {
            let mut levels = canal.shaped.iter();
            Some(levels.find(|level| same(level.from_apex_mm, mm))?.mm)
        };
        rows.push(("Widest".to_owned(), row(&widest)));
    }
    rows
}

fn places(canal: &CanalInstruments) -> Vec<String> {
    let mut lines = Vec::new();
    for (number, bend) in canal.bends.iter().enumerate() {
        let turn = bend.turn_deg.map_or(String::new(), |turn| {
            let turn = crate::units::Quantity {
                value: turn.value.abs(),
                ..turn
            };
            format!("{}, ", with_u95(turn, "°"))
        });
        let radius = bend
            .radius_words()
            .map_or(String::new(), |radius| format!("radius {radius}, "));
        let place = match (bend.start_from_reference_mm, bend.end_from_reference_mm) {
            (Some(start), Some(end)) => format!(
                "from {} to {} mm from the reference point",
                fixed(start, 1),
                fixed(end, 1)
            ),
            _ => format!(
                "from {} to {} mm from the apex",
                fixed(bend.start_from_apex_mm, 1),
                fixed(bend.end_from_apex_mm, 1)
            ),
        };
        lines.push(format!(
            "Curve {}: {turn}{radius}{place} ({}).",
            number + 1,
            bend.place_words()
        ));
    }
    if canal.bends.is_empty() && canal.trace_to_apex_mm.is_some() {
        lines.push(match canal.canal_from {
            CourseFrom::OneFilm => "No curve found on this film.".to_owned(),
            CourseFrom::TwoFilms => "No curve found on both films.".to_owned(),
        });
    }
    if canal.canal_from == CourseFrom::TwoFilms {
        lines.push("Curves are those of the course in space from two films.".to_owned());
    }
    let thirds: Vec<String> = canal
        .thirds
        .iter()
        .filter_map(|third| {
            let (start, end) = (third.start_from_reference_mm?, third.end_from_reference_mm?);
            Some(format!(
                "{} {}–{}",
                third.third,
                fixed(start, 1),
                fixed(end, 1)
            ))
        })
        .collect();
    if !thirds.is_empty() {
        lines.push(format!(
            "Thirds, mm from the reference point: {}.",
            thirds.join(", ")
        ));
    }
    lines
}

fn cautions(findings: &InstrumentFindings, canal: &CanalInstruments) -> Vec<String> {
    let mut cautions = vec![
        "Confirm every working length electronically and clinically before it is used. The \
         clinician decides."
            .to_owned(),
    ];
    let own = findings.warnings.iter().filter(|warning| {
        let name = warning.canal.as_deref();
        name.is_none_or(|name| name == canal.name) && warning.code != "no_walls"
    });
    cautions.extend(own.map(|warning| warning.text.clone()));
    cautions.extend(findings.notes.iter().cloned());
    cautions
}
