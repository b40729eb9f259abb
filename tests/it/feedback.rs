//! Feedback sheets: one page each, every line of the rubric, no name where
//! numbers were asked for.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::AtomicBool;

use image::GrayImage;
use lengthfilm::feedback;
use lengthfilm::grading::files::ClassGrade;
use lengthfilm::grading::rubric::Rubric;
use lengthfilm::progress::Progress;
use lengthfilm::report::drawing::Mark;
use lengthfilm::report::model::{Block, Report};
use lengthfilm::report::{page_count, pdf_bytes};
use lengthfilm::uncertainty::rounding::spaced;
use serde_json::Value;

use crate::grading::{by, case, graded, workspace, write};

fn film() -> GrayImage {
    GrayImage::from_pixel(100, 200, image::Luma([120]))
}

/// Everything a sheet says, in one text.
fn said(sheet: &Report) -> String {
    let mut text = format!("{}\n{}\n{}\n", sheet.title, sheet.subtitle, sheet.footer);
    for (name, value) in &sheet.facts {
        text += &format!("{name}: {value}\n");
    }
    for section in &sheet.sections {
        text += &format!("{}\n", section.heading);
        for block in &section.blocks {
            match block {
                Block::Bullets(items) | Block::SmallPrint(items) => text += &items.join("\n"),
                Block::Paragraph(words) => text += words,
                Block::Table(table)
                | Block::FigureBeside { table, .. }
                | Block::TallFigureBeside { table, .. } => {
                    for row in &table.rows {
                        text += &format!("{}\n", row.cells.join(" | "));
                    }
                }
                other => panic!("no such block in a sheet: {other:?}"),
            }
            text.push('\n');
        }
    }
    text
}

/// Four bent canals of an expert; a student up to `off_px` beside them all,
/// first on one side and then on the other.
fn molar(off_px: f64) -> Value {
    let canals: Vec<(&str, Vec<[f64; 2]>)> = ["MB", "ML", "DB", "DL"]
        .into_iter()
        .zip([15.0, 35.0, 55.0, 75.0])
        .map(|(name, x)| {
            let points = (0..8).map(|i| {
                let t = f64::from(i) / 7.0;
                let aside = off_px * (std::f64::consts::TAU * t).sin();
                [x + aside + 8.0 * t * t, 30.0 + 130.0 * t]
            });
            (name, points.collect())
        })
        .collect();
    case(&canals)
}

fn class_of(reference: &Value, trace: &Value) -> (tempfile::TempDir, ClassGrade) {
    let folder = workspace();
    let expert = write(folder.path(), "expert", reference);
    let student = write(folder.path(), "anna", trace);
    let class = graded(&[expert], &[student], &Rubric::default());
    (folder, class)
}

#[test]
fn a_sheet_holds_every_sentence_the_hash_the_version_and_the_cautions() {
    let line = |x: f64| case(&[("MB", vec![[x, 20.0], [x, 60.0], [x, 100.0], [x, 140.0]])]);
    let (folder, class) = class_of(&line(50.0), &line(53.0));
    let trace = &class.traces[0];
    let sheet = feedback::sheet(&class, trace, &film());
    let text = said(&sheet);
    for line in &trace.canals[0].lines {
        // The first letter is a capital on the sheet.
        assert!(text.contains(&line.sentence[1..]), "{}", line.sentence);
    }
    assert!(
        text.contains("anna · canal MB · passed: 6 of 7 points"),
        "{text}"
    );
    assert!(text.contains("etween 0.0 and 12.0 mm from the apex"));
    assert!(text.contains(&format!("Lengthfilm {}", env!("CARGO_PKG_VERSION"))));
    assert!(text.contains("Confirm every working length electronically"));
    // The hash is that of the file's bytes.
    let bytes = std::fs::read(folder.path().join("anna.case.json")).unwrap();
    let hash = lengthfilm::film::hex_digest(&bytes);
    assert!(text.contains(&hash[..32]) && sheet.footer.contains(&hash[..12]));
    assert_eq!(page_count(&sheet), 1);
    let (Block::FigureBeside { figure, .. } | Block::TallFigureBeside { figure, .. }) =
        &sheet.sections[0].blocks[0]
    else {
        panic!("the picture stands first");
    };
    let lines = figure.drawing.marks.iter();
    let lines = lines
        .filter(|mark| matches!(mark, Mark::Line { .. }))
        .count();
    // Two edges of the reference's (empty) spread, the reference, every third
    // of 101 rungs, the trace and its apex.
    assert_eq!(lines, 2 + 1 + 34 + 2);
}

#[test]
fn four_canals_that_miss_every_limit_still_fit_one_page() {
    for (off_px, stretches) in [(0.0, 0), (9.0, 8)] {
        let (_folder, class) = class_of(&molar(0.0), &molar(off_px));
        let trace = &class.traces[0];
        assert_eq!(trace.canals.len(), 4);
        let strays = trace.canals.iter().map(|canal| canal.strays.len());
        assert_eq!(strays.sum::<usize>(), stretches);
        let sheet = feedback::sheet(&class, trace, &film());
        assert_eq!(page_count(&sheet), 1, "{off_px}");
        let text = said(&sheet);
        assert!(sheet.footer.contains("confirm every length electronically"));
        for canal in &trace.canals {
            for line in &canal.lines {
                let words = match line.value {
                    Some(value) => {
                        let unit = spaced(line.measure.unit());
                        format!("{} {value:.2}{unit}", canal.name)
                    }
                    None => format!("{} not assessed", canal.name),
                };
                // The sheet writes a true minus sign.
                assert!(text.contains(&words.replace('-', "−")), "{words}");
            }
            for stray in &canal.strays {
                assert!(text.contains(stray), "{stray}");
            }
        }
        assert!(pdf_bytes(&sheet).unwrap().starts_with(b"%PDF-"));
    }
}

#[test]
fn numbers_for_names_leaves_no_name_on_the_sheets() {
    let line = |x: f64| case(&[("MB", vec![[x, 20.0], [x, 140.0]])]);
    let folder = workspace();
    let expert = write(folder.path(), "expert-erna", &line(50.0));
    let traces: Vec<PathBuf> = ["s1", "s2"]
        .map(|file| write(folder.path(), file, &by("Anna Adler", line(51.0))))
        .to_vec();
    let mut class = graded(&[expert], &traces, &Rubric::default());
    let film_path = PathBuf::from(&class.reference.film);
    class.numbers_for_names();
    let text = said(&feedback::sheet(&class, &class.traces[0], &film()));
    for name in ["Anna", "Adler", "erna", "s1", "film.png"] {
        assert!(!text.contains(name), "{name}: {text}");
    }
    let progress = Progress::unwatched();
    let out = folder.path().join("sheets");
    let written = feedback::write(&class, &film_path, &out, false, &progress).unwrap();
    let names: Vec<_> = written
        .written
        .iter()
        .map(|p| p.file_name().unwrap())
        .collect();
    assert_eq!(names, ["student-1.pdf", "student-1-2.pdf"]);
    // What exists stays, and is named.
    let again = feedback::write(&class, &film_path, &out, false, &progress).unwrap();
    assert_eq!((again.written.len(), again.failed.len()), (0, 2));
    assert!(again.failed[0].contains("exists already"));
    let replaced = feedback::write(&class, &film_path, &out, true, &progress).unwrap();
    assert_eq!(replaced.written.len(), 2);
    // Stopped before it began.
    let cancelled = AtomicBool::new(true);
    let stop = Progress::new(&cancelled, &|_, _| {});
    let stopped = feedback::write(&class, &film_path, &out, true, &stop).unwrap();
    assert!(stopped.cancelled && stopped.written.is_empty());
}

/// Sheets carry names as their owners write them; without any font that has
/// the letters, the sheet says where the name is.
#[test]
fn names_in_other_letters_are_printed() {
    let line = |x: f64| case(&[("MB", vec![[x, 20.0], [x, 140.0]])]);
    let folder = workspace();
    let expert = write(folder.path(), "expert", &line(50.0));
    let names = ["김민수", "王小明", "สมชาย", "\u{13000}"];
    let traces: Vec<PathBuf> = names
        .iter()
        .zip(["s1", "s2", "s3", "s4"])
        .map(|(name, file)| write(folder.path(), file, &by(name, line(51.0))))
        .collect();
    let class = graded(&[expert], &traces, &Rubric::default());
    let sheets = class.traces.iter().map(|trace| {
        let sheet = feedback::sheet(&class, trace, &film());
        (trace.student.clone(), sheet)
    });
    for (name, sheet) in sheets {
        let has_letters = name != names[3];
        assert_eq!(said(&sheet).contains(&name), has_letters, "{name}");
        let in_other_words = "name in letters this sheet's fonts lack";
        assert_eq!(said(&sheet).contains(in_other_words), !has_letters);
        let path = folder.path().join("sheet.pdf");
        std::fs::write(&path, pdf_bytes(&sheet).unwrap()).unwrap();
        let read = Command::new("pdftotext").arg(&path).arg("-").output();
        let Ok(read) = read else {
            println!("skipped: pdftotext cannot be run");
            continue;
        };
        let text = String::from_utf8_lossy(&read.stdout);
        assert_eq!(text.contains(&name), has_letters, "{text}");
        assert!(!text.contains('□'), "{text}");
    }
}

#[test]
fn a_film_changed_since_grading_is_refused() {
    let (folder, class) = class_of(&molar(0.0), &molar(1.0));
    let film_path = Path::new(&class.reference.film).to_owned();
    let other = GrayImage::from_pixel(100, 200, image::Luma([7]));
    other.save(&film_path).unwrap();
    let progress = Progress::unwatched();
    let out = folder.path().join("sheets");
    let refused = feedback::write(&class, &film_path, &out, false, &progress).unwrap_err();
    assert!(refused.contains("film has changed"), "{refused}");
}
