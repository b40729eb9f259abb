//! A class of blocks graded in the window: as the library grades it, refused
//! pairs with their reasons, two groups, table and sheets.

use std::path::{Path, PathBuf};

use egui::{Key, Modifiers};
use lengthfilm::case;
use lengthfilm::film::{Film, Polarity};
use lengthfilm::phantom::block::BlockSpec;
use lengthfilm::progress::Progress;
use lengthfilm::shaping_class::{
    ClassSettings, ShapingClass, csv, grade_class, line_words, read_pairs,
};
use lengthfilm::spreadsheet::Dialect;

use crate::block_pairs::{CLICK_MM, clicked};
use crate::desk::Desk;

/// Four students of two groups, and one whose case is torn.
fn write_class(folder: &Path) -> PathBuf {
    let samples = vec![9000; 1400 * 1500];
    let film = Film::from_samples(1400, 1500, 16, Polarity::HighIsOpaque, samples);
    let film = film.expect("counts fit");
    film.save_png16(&folder.join("block.png")).expect("written");
    let mut table = "before,after,student,group\n".to_owned();
    for (seed, student, group) in [
        (23, "Ann", "hand"),
        (24, "Ben", "hand"),
        (25, "Cyd", "rotary"),
        (26, "Dee", "rotary"),
    ] {
        let pair = clicked(&BlockSpec::random(seed), CLICK_MM, false);
        let names = ["before", "after"].map(|side| format!("{student}-{side}.case.json"));
        for (picture, name) in pair.iter().zip(&names) {
            case::save(&picture.case, &folder.join(name)).expect("saved");
        }
        table += &format!("{},{},{student},{group}\n", names[0], names[1]);
    }
    std::fs::write(folder.join("torn.case.json"), "{").expect("written");
    table += "Ann-before.case.json,torn.case.json,Eve,hand\n";
    let path = folder.join("pairs.csv");
    std::fs::write(&path, table).expect("written");
    path
}

/// What the library says with the draws of a quick look.
fn by_the_library(table: &Path) -> ShapingClass {
    let text = std::fs::read_to_string(table).expect("a table");
    let rows = read_pairs(&text, table.parent().expect("a folder")).expect("pairs");
    let mut settings = ClassSettings::default();
    settings.shaping.draws = 400;
    settings.shaping.measure.draws = 400;
    grade_class(&rows, &settings, &Progress::unwatched(), |_, _, _| {}).expect("graded")
}

#[test]
fn a_class_of_blocks_is_graded_as_by_the_library() {
    let folder = tempfile::tempdir().expect("a folder");
    let table = write_class(folder.path());
    let mut desk = Desk::start(None, None);
    desk.key(Modifiers::COMMAND, Key::G);
    desk.click_button("Blocks before and after");
    assert!(desk.says("Choose the table of pairs first"));
    desk.choose_file("Choose the table of pairs…", &table);
    desk.wait_until("5 pairs: ");
    desk.click("Quick (400 draws)");
    desk.click_button("Grade");
    desk.wait_until("4 pairs of 4 students graded");
    let class = by_the_library(&table);
    assert!(desk.says("Eve: "), "{:?}", desk.texts());
    assert!(desk.says("torn.case.json: not valid JSON"));

    for (index, pair) in class.pairs.iter().enumerate() {
        let verdict = match pair.passed {
            Some(true) => "passed",
            Some(false) => "not passed",
            None => "open",
        };
        desk.click(&format!("Pair {}: {}, {verdict}", index + 1, pair.student));
        for line in pair.canals.iter().flat_map(line_words) {
            assert!(desk.says(&line), "{line}: {:?}", desk.texts());
        }
    }
    desk.click_button("Groups");
    let groups = class.groups.as_ref().expect("two groups");
    assert!(desk.says("rotary less hand"), "{:?}", desk.texts());
    let level = groups
        .levels
        .iter()
        .find(|level| level.quantity == "transport_mm")
        .expect("compared");
    let said = format!("{:.1} mm from the end: ", level.from_end_mm);
    assert!(desk.says(&said), "{said}");

    desk.choose_file("Export table (CSV)…", &folder.path().join("graded.csv"));
    desk.wait_until("Saved as");
    let dialect = Dialect {
        semicolons: false,
        byte_order_mark: true,
    };
    let written = std::fs::read(folder.path().join("graded.csv")).expect("written");
    assert_eq!(written, csv(&class, dialect));
}

#[test]
fn what_is_no_table_of_pairs_is_said() {
    let folder = tempfile::tempdir().expect("a folder");
    let table = folder.path().join("marks.csv");
    std::fs::write(&table, "student,mark\nAnn,1\n").expect("written");
    let mut desk = Desk::start(None, None);
    desk.key(Modifiers::COMMAND, Key::G);
    desk.click_button("Blocks before and after");
    desk.choose_file("Choose the table of pairs…", &table);
    desk.wait_until("the table has no column \"before\"");
    assert!(desk.says("Choose the table of pairs first"));
}
