//! The kinds of record, and what stands in them.

use std::path::{Path, PathBuf};

use lengthfilm::curvature::CurvatureQuantity;
use lengthfilm::report::{self, Existing, ExportOptions, ReportError};

use super::fixture::{
    CASE, Record, TWO_CANALS, four_canals, record, record_of, sample_record, three_canals,
};

pub fn write(record: &Record, name: &str, options: &ExportOptions) -> Result<PathBuf, ReportError> {
    let out = record.out(name);
    report::write(
        &record.case,
        &record.case_path,
        &record.film,
        &record.findings,
        &out,
        options,
    )
    .map(|written| {
        assert_eq!(written[0], out);
        out
    })
}

fn write_new(record: &Record, name: &str) -> PathBuf {
    write(record, name, &ExportOptions::default()).unwrap()
}

#[test]
fn csv_has_one_row_per_canal_with_every_number() {
    let record = record();
    let path = write_new(&record, "a.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let header = reader.headers().unwrap().clone();
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 2);
    let cell = |row: usize, column: &str| {
        let index = header.iter().position(|name| name == column);
        rows[row][index.unwrap_or_else(|| panic!("no column {column}"))].to_owned()
    };
    assert_eq!(cell(0, "canal"), "MB");
    assert_eq!(cell(1, "canal"), "'=D", "no formula");
    assert_eq!(cell(0, "tooth_fdi"), "36");
    assert_eq!(cell(0, "film_date"), "2026-03-14");
    for (row, canal) in record.findings.canals.iter().enumerate() {
        let tip = canal.tip_to_apex_mm.unwrap();
        close(&cell(row, "tip_to_apex_mm"), tip.value);
        close(&cell(row, "tip_to_apex_u95_mm"), tip.u95);
        let chart = canal.working_length_chart_mm.unwrap();
        close(&cell(row, "working_length_chart_mm"), chart);
        let curvature = canal.curvature.as_ref().unwrap();
        close(
            &cell(row, "schneider_deg"),
            curvature[CurvatureQuantity::Schneider].unwrap().value,
        );
        let last = curvature.curves.last().unwrap();
        let column = format!("curve{}_turn_deg", curvature.curves.len());
        close(&cell(row, &column), last.turn_deg.unwrap().value);
        let radius = format!("curve{}_radius", curvature.curves.len());
        let [low, high] = last.radius_span_mm().unwrap();
        close(&cell(row, &format!("{radius}_low_mm")), low);
        close(&cell(row, &format!("{radius}_high_mm")), high);
        let [low, high] = curvature.span(CurvatureQuantity::SmallestRadius).unwrap();
        close(&cell(row, "smallest_radius_low_mm"), low);
        close(&cell(row, "smallest_radius_high_mm"), high);
    }
    assert!(
        cell(1, "tip_to_apex_mm").starts_with('-'),
        "a number stays a number"
    );
    for warning in &record.findings.warnings {
        let row = usize::from(warning.canal.as_deref() == Some("=D"));
        assert!(
            cell(row, "warnings")
                .split(' ')
                .any(|code| code == warning.code)
        );
    }
}

/// The cell is the number, to its six decimals.
fn close(cell: &str, number: f64) {
    let read: f64 = cell.parse().unwrap();
    assert!((read - number).abs() <= 5e-7, "{cell} for {number}");
}

/// Every column is documented, and nothing else is.
#[test]
fn csv_columns_are_those_of_the_documentation() {
    let record = record();
    let path = write_new(&record, "a.csv");
    let mut reader = csv::Reader::from_path(path).unwrap();
    let written: Vec<String> = reader
        .headers()
        .unwrap()
        .iter()
        .map(str::to_owned)
        .collect();
    let page =
        std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/docs/csv.md")).unwrap();
    let documented: Vec<String> = page
        .lines()
        .filter_map(|line| line.strip_prefix("| `")?.split_once('`'))
        .map(|(name, _)| name.to_owned())
        .collect();
    assert_eq!(written, documented);
}

#[test]
fn the_annotated_film_keeps_its_resolution_and_its_pixels_off_the_marks() {
    let record = record();
    let path = write_new(&record, "a.png");
    let picture = image::open(path).unwrap().to_rgb8();
    assert_eq!(picture.dimensions(), (900, 1100));
    let untouched = picture.get_pixel(880, 600).0;
    assert_eq!(untouched[0], untouched[1]);
    let coloured = picture
        .pixels()
        .filter(|p| p.0[0] > 200 && p.0[2] < 140)
        .count();
    assert!(coloured > 500, "the paths are drawn: {coloured} px");
}

#[test]
fn html_is_one_file_without_script_or_address() {
    let record = record();
    let path = write_new(&record, "a.html");
    let page = std::fs::read_to_string(path).unwrap();
    let chart = record.findings.canals[0].working_length_chart_mm.unwrap();
    for text in [
        "MB cusp",
        "Schneider angle",
        "2026-03-14",
        "Uncertainty budget",
        &format!("{chart:.1}"),
    ] {
        assert!(page.contains(text), "{text}");
    }
    for warning in &record.findings.warnings {
        assert!(
            page.contains(warning.text.split('\'').next().unwrap()),
            "{}",
            warning.text
        );
    }
    assert!(!page.contains("<script"));
    for attribute in ["src=\"http", "href=\"http", "url(", "@import"] {
        assert!(!page.contains(attribute), "{attribute}");
    }
}

#[test]
fn an_existing_file_is_kept_unless_replacing_is_asked_for() {
    let record = record();
    let path = record.out("a.csv");
    std::fs::write(&path, "mine").unwrap();
    let refused = write(&record, "a.csv", &ExportOptions::default()).unwrap_err();
    assert!(refused.to_string().contains("exists already"), "{refused}");
    assert_eq!(std::fs::read(&path).unwrap(), b"mine");
    let replacing = ExportOptions {
        existing: Existing::ReplaceNamed,
        ..ExportOptions::default()
    };
    write(&record, "a.csv", &replacing).unwrap();
    assert!(std::fs::read(&path).unwrap().starts_with(b"case,film"));
}

/// The film beside a structured report takes the place of the film its
/// predecessor referred to, and of no other file.
#[test]
fn the_film_beside_a_report_leaves_other_files_alone() {
    let record = record();
    std::fs::write(record.out("a-film.dcm"), "mine").unwrap();
    let export = |existing| {
        let options = ExportOptions {
            existing,
            ..ExportOptions::default()
        };
        report::write(
            &record.case,
            &record.case_path,
            &record.film,
            &record.findings,
            &record.out("a.dcm"),
            &options,
        )
        .unwrap()
    };
    let with_film = |name: &str| [record.out("a.dcm"), record.out(name)];
    assert_eq!(export(Existing::Keep), with_film("a-film-2.dcm"));
    let first = std::fs::read(record.out("a-film-2.dcm")).unwrap();
    assert_eq!(export(Existing::ReplaceNamed), with_film("a-film-2.dcm"));
    assert_ne!(std::fs::read(record.out("a-film-2.dcm")).unwrap(), first);
    assert!(!record.out("a-film-3.dcm").exists());
    assert_eq!(std::fs::read(record.out("a-film.dcm")).unwrap(), b"mine");
    // A film of another report under the name is not this one's.
    std::fs::write(record.out("a-film-2.dcm"), &first).unwrap();
    assert_eq!(export(Existing::ReplaceNamed), with_film("a-film-3.dcm"));
    assert_eq!(std::fs::read(record.out("a-film-2.dcm")).unwrap(), first);
    // Without its report, no film belongs to it.
    std::fs::remove_file(record.out("a.dcm")).unwrap();
    assert_eq!(export(Existing::ReplaceNamed), with_film("a-film-4.dcm"));
}

/// What a program for PDF files prints of one; `None`, said plainly, where it
/// cannot be run.
fn said_of(program: &str, arguments: &[&str], path: &Path) -> Option<String> {
    let mut command = std::process::Command::new(program);
    match command.args(arguments).arg(path).output() {
        Ok(output) => Some(String::from_utf8_lossy(&output.stdout).into_owned()),
        Err(error) => {
            println!("skipped: {program} cannot be run ({error})");
            None
        }
    }
}

/// What `pdfinfo` says under a name.
fn pdf_fact(path: &Path, name: &str) -> Option<String> {
    let said = said_of("pdfinfo", &[], path)?;
    let value = said.lines().find_map(|line| line.strip_prefix(name));
    Some(
        value
            .unwrap_or_else(|| panic!("{name}: {said}"))
            .trim()
            .to_owned(),
    )
}

/// Two pages for one canal, S-shaped or not, and for up to four with several
/// warnings. All pages are tagged.
#[test]
fn a_record_takes_two_pages() {
    let samples = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-images");
    let cases = std::fs::read_dir(samples)
        .unwrap()
        .map(|e| e.unwrap().path());
    let cases: Vec<PathBuf> = cases
        .filter(|path| path.to_string_lossy().ends_with(".case.json"))
        .collect();
    assert!(cases.len() >= 5);
    let mut records: Vec<Record> = cases.iter().map(|case| sample_record(case)).collect();
    let (three, four) = (three_canals(), four_canals());
    for (case, warnings) in [(TWO_CANALS, 1), (CASE, 4), (&three, 5), (&four, 7)] {
        let record = record_of(case, "film.png", |film, path| {
            film.save_png16(path).unwrap();
        });
        assert!(record.findings.warnings.len() >= warnings);
        records.push(record);
    }
    for record in records {
        let path = write_new(&record, "a.pdf");
        let name = record.case_path.display();
        if let Some(pages) = pdf_fact(&path, "Pages:") {
            assert_eq!(pages, "2", "{name}: {:?}", record.findings.warnings);
            assert_eq!(pdf_fact(&path, "Tagged:").as_deref(), Some("yes"), "{name}");
        }
    }
}

/// The difficulty assessment has a page of its own where something was entered
/// for it, with the class and source of every row, and none elsewhere.
#[test]
fn the_assessment_is_a_page_of_its_own() {
    let four = four_canals();
    let with_entry = four.replace(
        "\"tooth\":",
        "\"assessment\": {\"rows\": {\"rotation\": \"high\"}}, \"tooth\":",
    );
    for (case, pages) in [(&four, "2"), (&with_entry, "3")] {
        let record = record_of(case, "film.png", |film, path| {
            film.save_png16(path).unwrap();
        });
        let is_entered = pages == "3";
        if let Some(found) = pdf_fact(&write_new(&record, "a.pdf"), "Pages:") {
            assert_eq!(found, pages);
        }
        let page = std::fs::read_to_string(write_new(&record, "a.html")).unwrap();
        assert_eq!(page.contains("<h2>Case difficulty</h2>"), is_entered);
        assert_eq!(page.contains("Rotation"), is_entered);
        assert_eq!(page.contains("above 30°</td>"), is_entered);
        assert_eq!(page.contains("Whole case"), is_entered);
        assert_eq!(page.contains("Not assessed"), is_entered);
        let rows = std::fs::read_to_string(write_new(&record, "a.csv")).unwrap();
        assert_eq!(rows.contains("rotation=high"), is_entered);
        assert!(rows.contains("position=moderate"));
    }
}

/// No text is smaller than 7.5 pt, in pictures neither.
#[test]
fn the_smallest_text_is_legible() {
    const ZOOM: f64 = 3.0;
    for case in [TWO_CANALS, &four_canals()] {
        let record = record_of(case, "film.png", |film, path| {
            film.save_png16(path).unwrap();
        });
        let path = write_new(&record, "a.pdf");
        let zoom = ZOOM.to_string();
        let arguments = ["-xml", "-i", "-stdout", "-zoom", &zoom];
        let Some(said) = said_of("pdftohtml", &arguments, &path) else {
            return;
        };
        let sizes: Vec<f64> = said
            .split("<fontspec ")
            .skip(1)
            .map(|font| font.split("size=\"").nth(1).unwrap())
            .map(|size| size.split('"').next().unwrap().parse().unwrap())
            .collect();
        let least = sizes.iter().copied().fold(f64::INFINITY, f64::min);
        // Sizes are told in whole units of the zoom.
        assert!(least >= (7.5 * ZOOM).floor(), "{sizes:?}");
        assert!(sizes.len() > 3, "{sizes:?}");
    }
}

#[test]
fn an_unknown_ending_names_the_known_ones() {
    let record = record();
    let error = write(&record, "a.docx", &ExportOptions::default()).unwrap_err();
    assert!(matches!(error, ReportError::UnknownEnding { .. }));
    assert!(!record.out("a.docx").exists());
}

/// Cases with little in them, and names in any script, still make every kind
/// of record.
#[test]
fn sparse_and_foreign_cases_make_every_kind() {
    let empty = r#"{"format": "lengthfilm-case", "version": 1, "film": {"path": "film.png"}}"#;
    let no_scale = r#"{"format": "lengthfilm-case", "version": 1, "film": {"path": "film.png"},
        "tooth": {"notation": "fdi", "number": "46"},
        "canals": [
          {"name": "根管 Ж <b>&\u0007", "trace_px": [[304, 330], [305, 510], [327, 740], [370, 882]]},
          {"name": "two", "trace_px": [[517, 330], [486, 880]]},
          {"name": "none"}]}"#;
    for case in [empty, no_scale] {
        let record = record_of(case, "film.png", |film, path| {
            film.save_png16(path).unwrap()
        });
        for name in ["a.pdf", "a.html", "a.csv", "a.png", "a.dcm"] {
            let path = write_new(&record, name);
            assert!(std::fs::metadata(path).unwrap().len() > 100, "{name}");
        }
        let page = std::fs::read_to_string(record.out("a.html")).unwrap();
        assert!(!page.contains("<b>") && !page.contains('\u{7}'));
        assert!(page.contains("none"), "says that there is no scale");
        let table = std::fs::read_to_string(record.out("a.csv")).unwrap();
        assert_eq!(table.lines().count(), 1 + record.findings.canals.len());
        assert_eq!(
            table.starts_with('\u{feff}'),
            !table.trim_start_matches('\u{feff}').is_ascii()
        );
    }
}

/// Writes every kind into the folder `LENGTHFILM_KEEP` names, to be looked at.
#[test]
#[ignore = "writes pictures to look at"]
fn keep_every_kind() {
    let folder = PathBuf::from(std::env::var("LENGTHFILM_KEEP").expect("LENGTHFILM_KEEP"));
    let record = record();
    for name in ["a.pdf", "a.html", "a.csv", "a.png", "a.dcm"] {
        let path = write_new(&record, name);
        std::fs::copy(path, folder.join(name)).unwrap();
    }
    std::fs::copy(record.out("a-film.dcm"), folder.join("a-film.dcm")).unwrap();
}
