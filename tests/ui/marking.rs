//! Double marking in the window, and the agreement of a table.

use std::fs;
use std::path::Path;

use egui::{Key, Modifiers};
use serde_json::json;

use crate::desk::{Desk, write_film};

fn write_hand_ins(folder: &Path) {
    fs::create_dir_all(folder).expect("made");
    write_film(folder, "film.png", 400, 800);
    for student in ["Quillon", "Zzyzx", "Vexley"] {
        let case = json!({
            "format": "lengthfilm-case", "version": 1,
            "film": {"path": "film.png", "pixel_pitch_mm": [0.03, 0.03]},
            "student": {"name": student},
            "canals": [{"name": "MB", "trace_px": [[200, 100], [200, 300], [210, 500]]}],
        });
        let path = folder.join(format!("{student}.case.json"));
        fs::write(path, case.to_string()).expect("written");
    }
}

#[test]
fn hand_ins_are_marked_twice_and_compared_by_the_key() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    write_hand_ins(&at("class"));
    fs::create_dir(at("copies")).expect("made");
    let mut desk = Desk::start(None, None);
    desk.key(Modifiers::COMMAND, Key::G);
    desk.click_button("Double marking");
    assert!(desk.says("Choose the hand-ins first"));
    desk.choose_file("Folder of hand-ins…", &at("class"));
    desk.wait_until(&at("class").display().to_string());
    desk.choose_file("Prepare for two markers…", &at("copies"));
    // Beside the copies the key is refused.
    desk.wait_until("Where the key is kept");
    desk.answer_with_file(&at("copies/key.csv"));
    desk.wait_until("would lie beside the hand-ins");
    desk.choose_file("Prepare for two markers…", &at("copies"));
    desk.wait_until("Where the key is kept");
    desk.answer_with_file(&at("key.csv"));
    desk.wait_until("3 hand-ins prepared");

    let key = fs::read_to_string(at("key.csv")).expect("a key");
    let mut tables = Vec::new();
    for (marker, marks) in [["6", "7", "9"], ["6", "8", "9"]].into_iter().enumerate() {
        let path = at(&format!("copies/marker-{}/marks.csv", marker + 1));
        let mut text = "code,mark\n".to_owned();
        for (line, mark) in key.lines().skip(1).zip(marks) {
            let code = line.split(',').nth(2 + marker).expect("a code");
            text += &format!("{code},{mark}\n");
        }
        fs::write(&path, text).expect("written");
        tables.push(path);
    }
    desk.choose_file("Marks of marker 1…", &tables[0]);
    desk.wait_until(&tables[0].display().to_string());
    desk.choose_file("Marks of marker 2…", &tables[1]);
    desk.wait_until(&tables[1].display().to_string());
    // The key is known since it was made.
    desk.wait_until("3 subjects, 2 raters (marker 1, marker 2): numbers");
    assert!(desk.says("ICC(2,1) "), "{:?}", desk.texts());
    let names: Vec<&str> = key
        .lines()
        .skip(1)
        .map(|line| line.split(',').next().expect("a student"))
        .collect();
    for said in [
        format!("{}, marker 1: 7", names[1]),
        format!("{}, marker 2: 8", names[1]),
        format!("{}: the marks differ", names[1]),
    ] {
        assert!(desk.says(&said), "{said}: {:?}", desk.texts());
    }
    assert!(!desk.says(&format!("{}: the marks differ", names[0])));
    assert!(!desk.says("Subjects are named by"));
    desk.choose_file("Save the marks (CSV)…", &at("marks.csv"));
    desk.wait_until(&at("marks.csv").display().to_string());
    let saved = fs::read_to_string(at("marks.csv")).expect("saved");
    let row = saved.lines().nth(2).expect("a row");
    assert!(row.starts_with(names[1]) && row.ends_with(",7,8"), "{row}");
}

#[test]
fn the_agreement_of_a_table_is_that_of_the_command() {
    let folder = tempfile::tempdir().expect("a folder");
    let table = folder.path().join("ratings.csv");
    let text = "subject,one,two\na,9,2\nb,6,1\nc,8,4\nd,7,1\ne,10,5\nf,6,2\n";
    fs::write(&table, text).expect("written");
    let mut desk = Desk::start(None, None);
    desk.key(Modifiers::COMMAND, Key::G);
    desk.click_button("Double marking");
    desk.choose_file("Choose a table of ratings…", &table);
    desk.wait_until("6 subjects, 2 raters");
    let printed = std::process::Command::new(env!("CARGO_BIN_EXE_lengthfilm"))
        .arg("agreement")
        .arg(&table)
        .output()
        .expect("runs");
    let printed = String::from_utf8(printed.stdout).expect("text");
    assert!(printed.lines().count() > 5, "{printed}");
    for line in printed.lines() {
        assert!(desk.says(line), "{line}: {:?}", desk.texts());
    }
}
