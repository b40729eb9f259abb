//! An exercise set of practice blocks in the window: made, graded in pairs,
//! totals and names, a pair opened from its row.

use std::path::Path;

use egui::{Key, Modifiers};
use lengthfilm::practice::OpenedSet;

use crate::block_hand_ins::{clicked_cases, hand_in};
use crate::desk::Desk;

const PASSPHRASE: &str = "chalk and amalgam";

/// The page of a new set filled in for blocks, and the set made.
fn made(folder: &Path) -> Desk {
    let mut desk = Desk::start(None, None);
    desk.key(Modifiers::COMMAND, Key::M);
    desk.click("Number of films or blocks");
    desk.key(Modifiers::COMMAND, Key::A);
    desk.type_text("2");
    desk.click("practice blocks: double-curved, each scanned before and after shaping");
    // Of a block at the edge of a limit a line stays undecided.
    desk.click("Seed of the films");
    desk.type_text("1");
    desk.click("Folder to write into");
    desk.type_text(&folder.join("set").to_string_lossy());
    for field in ["New passphrase", "New passphrase again"] {
        desk.click(field);
        desk.type_text(PASSPHRASE);
    }
    desk.click("Make the set");
    desk.wait_until("Exercise set made: 2 blocks");
    desk
}

#[test]
fn a_set_of_blocks_is_made_graded_and_a_pair_looked_at() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = made(folder.path());
    let set = folder.path().join("set");
    let opened = OpenedSet::open(&set.join("truth.sealed"), PASSPHRASE).expect("opens");
    let class = folder.path().join("class");
    for (seed, block) in (1..).zip(&opened.blocks) {
        hand_in(&class, "Ann", block, &clicked_cases(block, 0.01, seed));
    }
    let block = &opened.blocks[0];
    hand_in(&class, "Ben", block, &clicked_cases(block, 0.01, 5));
    desk.click("Grade traces of this set…");
    desk.click("Path of a case or a folder");
    desk.type_text(&class.to_string_lossy());
    desk.click("Add path to traces");
    desk.click("Passphrase of the set");
    desk.type_text(PASSPHRASE);
    desk.click("Grade");
    desk.wait_until("3 pairs of 2 students graded");
    desk.settle();
    desk.click("Students");
    assert!(
        desk.says("Ann: 2 pairs, 2 passed, 8/8 points, 100 %, 0 undone"),
        "{:?}",
        desk.texts()
    );
    assert!(
        desk.says("Ben: 1 pair, 1 passed, 4/8 points, 50 %, 1 undone"),
        "{:?}",
        desk.texts()
    );

    desk.click("Anonymise");
    assert!(!desk.says("Ann") && !desk.says("Ben"), "{:?}", desk.texts());
    desk.click("Pair 3: 2, passed");
    assert!(desk.says("pair 3 before"));
    assert!(desk.says("error of the transport: "));
    // Opened, it would name the student.
    assert!(desk.is_disabled("Open before and after"));
    desk.click("Anonymise");
    // The pictures were not handed in: they are those of the set.
    desk.click_button("Open before and after");
    desk.wait_until("Before: block-01-before.case.json, 4 marks");
    desk.wait_until("Predicted error at the apex");
}
