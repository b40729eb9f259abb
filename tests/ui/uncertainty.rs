//! What limits the results, how well inputs are known, and one's own click
//! noise.

use std::path::Path;

use egui::accesskit::Role;
use egui::{Key, Modifiers};
use egui_kittest::kittest::Queryable;
use lengthfilm::case::{self, Case};
use lengthfilm::desktop::StartWith;
use lengthfilm::film::FilmCache;
use lengthfilm::measure::findings::Budget;
use lengthfilm::measure::{
    MeasureSettings, PlaceKind, STATED_INPUTS, leading_words, measure_file, percent_words,
    result_name,
};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use serde_json::json;

use crate::desk::{Desk, write_film};

/// Works a widget that may have to be scrolled to.
fn work(desk: &mut Desk, label: &str) {
    desk.harness.get_by_label(label).click_accesskit();
    desk.settle();
}

/// Types a number into a field, over what is there.
fn type_into(desk: &mut Desk, label: &str, text: &str) {
    let field = desk.harness.get_by_role_and_label(Role::TextInput, label);
    field.focus();
    desk.settle();
    desk.key(Modifiers::COMMAND, Key::A);
    desk.type_text(text);
}

fn budgets_of(path: &Path) -> Vec<Budget> {
    let settings = MeasureSettings {
        draws: 200,
        ..MeasureSettings::default()
    };
    let findings = measure_file(path, &FilmCache::default(), &settings).expect("measures");
    findings.canals[0].budget.clone()
}

/// Sentence and bars show the very shares and uncertainties that the library
/// (and so `measure --json`) gives for the saved case.
#[test]
fn the_window_says_what_limits_each_result() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("demo.case.json");
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    assert!(!desk.says("accounts for"));
    work(&mut desk, "Sources of uncertainty: hidden");
    desk.save_to(&path);
    let budgets = budgets_of(&path);
    assert!(budgets.len() > 8, "lengths and angles: {}", budgets.len());
    for budget in &budgets {
        let name = result_name(&budget.result);
        let leading = leading_words(budget).expect("something is uncertain");
        let row = format!("{name}: {leading}");
        assert!(desk.says(&row), "{row}");
        let rows = desk.harness.query_all_by_label(&row);
        let button = rows.into_iter().next().expect("a row");
        button.click_accesskit();
        desk.settle();
        let unit = |u: f64| match budget.result.ends_with("_deg") {
            true => format!("{u:.1}°"),
            false => format!("{u:.3} mm"),
        };
        for line in &budget.lines {
            let share = percent_words(line.share);
            let shown = match line.share >= 0.01 {
                true => format!("{}: {share}, ± {}", line.words, unit(line.u)),
                false => {
                    let unbroken = format!("± {}", unit(line.u)).replace(' ', "\u{a0}");
                    format!("{} {unbroken}", line.words)
                }
            };
            assert!(desk.says(&shown), "{name}: {shown}");
        }
        let remedy = budget.remedy.as_deref().expect("a remedy");
        assert!(desk.says(remedy), "{remedy}");
    }
    work(&mut desk, "Sources of uncertainty: shown");
    assert!(!desk.says("accounts for"));
}

/// Every input can be stated, counts, is undone as one step and comes back
/// with the file.
#[test]
fn inputs_are_stated_with_their_default_in_sight() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("demo.case.json");
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    work(&mut desk, "Input uncertainties: hidden");
    for input in &STATED_INPUTS {
        assert!(desk.says(input.label), "{}", input.label);
        assert!(desk.says(input.reason), "{}", input.reason);
    }
    let before = desk.case().clone();
    type_into(&mut desk, "Set length as read, ±", "0.125");
    let stated = |case: &Case| case.input_uncertainty.and_then(|s| s.reading_half_width_mm);
    assert_eq!(stated(desk.case()), Some(0.125));
    type_into(&mut desk, "Click noise: File tip", "0.2");
    let tip = |case: &Case| case.click_noise_by_kind_mm.and_then(|n| n.tip);
    assert_eq!(tip(desk.case()), Some(0.2));
    desk.save_to(&path);
    assert_eq!(
        case::load(&path).expect("reads").input_uncertainty,
        desk.case().input_uncertainty
    );

    let shares = |budgets: &[Budget]| {
        let of = budgets.iter().find(|b| b.result == "tip_to_apex_mm");
        let of = of.expect("a budget");
        let line = of.lines.iter().find(|l| l.input == "tip").expect("the tip");
        line.u
    };
    let with = shares(&budgets_of(&path));
    // 0.2 mm at the detector over the magnification.
    assert!((0.15..0.25).contains(&with), "{with}");

    // Out of range: said, and not taken.
    type_into(&mut desk, "Lean of root against detector, ±", "400");
    assert!(desk.says("a number from 0 to 45"));
    desk.key(Modifiers::NONE, Key::Tab);
    assert!(desk.says("“400” refused, nothing kept"));
    // Typing into one field is one step, what was refused is none: tip, reading.
    for _ in 0..2 {
        desk.key(Modifiers::COMMAND, Key::Z);
    }
    assert_eq!(
        desk.case().click_noise_by_kind_mm,
        before.click_noise_by_kind_mm
    );
    assert_eq!(desk.case().input_uncertainty, before.input_uncertainty);
}

/// The former value holds as soon as what is typed is out of range, not the
/// last digits that were in range; leaving the field says so.
#[test]
fn a_number_out_of_range_is_refused_and_the_former_one_kept() {
    let mut desk = Desk::start(Some(StartWith::Demo), None);
    let before = desk.case().clone();
    let set = |case: &Case| case.canals[0].file.as_ref().and_then(|f| f.set_length_mm);
    assert_eq!(set(&before), Some(20.0));
    type_into(&mut desk, "Set length", "25");
    assert_eq!(set(desk.case()), Some(25.0), "holds at once");
    desk.type_text("0");
    assert_eq!(desk.case(), &before);
    assert!(desk.says("Set length: a number from 1 to 60 mm"));
    for leave in [Key::Enter, Key::Tab, Key::Escape] {
        type_into(&mut desk, "Set length", "250");
        desk.key(Modifiers::NONE, leave);
        assert!(desk.says("“250” refused, 20.0 mm kept"), "{leave:?}");
        assert_eq!(desk.case(), &before);
    }
    desk.key(Modifiers::COMMAND, Key::Z);
    assert!(desk.says("Nothing to undo"), "what was refused is no step");
    type_into(&mut desk, "Set length", "24,5");
    assert!(!desk.says("refused"));
    assert_eq!(set(desk.case()), Some(24.5));
}

/// A film with a known pitch and three places to press on.
fn film_with_pitch(folder: &Path) -> Desk {
    write_film(folder, "film.png", 1200, 1250);
    let path = folder.join("own.case.json");
    let case: Case = serde_json::from_value(json!({
        "format": "lengthfilm-case", "version": 1,
        "film": {"path": "film.png", "pixel_pitch_mm": [0.025, 0.025]},
        "canals": [{"name": "A", "reference_px": [500.0, 300.0],
                    "trace_px": [[500.0, 300.0], [510.0, 500.0], [540.0, 700.0], [600.0, 880.0]],
                    "apex_px": [600.0, 880.0],
                    "file": {"tip_px": [580.0, 830.0]}}]
    }))
    .expect("a case");
    case::save(&case, &path).expect("saved");
    Desk::start(Some(StartWith::Case(path)), None)
}

const PLACES: [[f64; 2]; 3] = [[500.0, 300.0], [580.0, 830.0], [600.0, 880.0]];
const ROUNDS: usize = 8;

/// Presses drawn with σ = 0.08 mm about three places, in eight rounds: each
/// kind's 95 % interval holds 0.08, and so does the value of all together
/// (42 degrees of freedom: 11 % at one standard deviation, two allowed). Used,
/// it is in the case with its degrees of freedom, in one step, and the next
/// film starts with it.
#[test]
fn pressing_on_the_same_places_gives_ones_own_click_noise() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = film_with_pitch(folder.path());
    let before = desk.case().clone();
    assert!(desk.says("Apex, canal A"));
    work(&mut desk, "Your placement repeatability: hidden");
    work(&mut desk, "Begin the first round");
    assert!(desk.says("Round 1: click the reference point"));
    assert!(!desk.says("Apex, canal A"), "marks are hidden");
    assert!(!desk.says("Use in this case"), "nothing is kept yet");

    let sigma_px = 0.08 / 0.025;
    let mut rng = ChaCha8Rng::seed_from_u64(41);
    let first = desk.on_screen(PLACES[0][0], PLACES[0][1]);
    for round in 0..ROUNDS {
        for [x, y] in PLACES {
            let mut deviate = || -> f64 { StandardNormal.sample(&mut rng) };
            let (dx, dy) = (sigma_px * deviate(), sigma_px * deviate());
            desk.click_film(x + dx, y + dy);
        }
        assert!(desk.says(&format!("Round {}: click", round + 2)));
        if round == 0 {
            let moved = desk.on_screen(PLACES[0][0], PLACES[0][1]).distance(first);
            assert!(moved > 20.0, "the film moves aside: {moved}");
        }
    }
    assert_eq!(desk.case(), &before, "the case is not touched");

    work(&mut desk, "Stop clicking");
    assert!(desk.says("8 rounds done"));
    assert!(desk.says("Apex, canal A"), "marks are back");
    work(&mut desk, "Use as my repeatability");
    let noise = desk.case().click_noise_by_kind_mm.expect("stated");
    let dof = desk.case().click_noise_dof_by_kind.expect("stated");
    let mut squares = 0.0;
    for kind in [PlaceKind::Reference, PlaceKind::Tip, PlaceKind::Apex] {
        let sd = noise.of(kind).expect("measured");
        assert_eq!(dof.of(kind), Some(14.0));
        // Chi-squared table, 14 degrees of freedom: 5.629 and 26.119.
        let interval = [
            sd * (14.0f64 / 26.119).sqrt(),
            sd * (14.0f64 / 5.629).sqrt(),
        ];
        assert!(interval[0] < 0.08 && 0.08 < interval[1], "{kind:?}: {sd}");
        let shown = format!("{sd:.3} mm ({:.3}–{:.3})", interval[0], interval[1]);
        assert!(desk.says(&shown), "{kind:?}: {shown}");
        squares += sd * sd / 3.0;
    }
    let together = squares.sqrt();
    assert!(
        (together / 0.08 - 1.0).abs() < 2.0 / 84f64.sqrt(),
        "{together}"
    );
    assert_eq!(noise.canal, None, "not repeated, not stated");

    desk.key(Modifiers::COMMAND, Key::Z);
    assert_eq!(desk.case(), &before);
    work(&mut desk, "Use in this case");
    assert_eq!(desk.case().click_noise_by_kind_mm, Some(noise));
    work(&mut desk, "Remove");
    assert!(desk.says("Begin the first round"));
    work(&mut desk, "Forget mine");
    assert_eq!(desk.case().click_noise_by_kind_mm, None);
    assert!(!desk.says("Kept as yours"));
}

/// Escape ends it at any time, undo takes a press back, and a half round does
/// not count.
#[test]
fn a_round_can_be_broken_off() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut desk = film_with_pitch(folder.path());
    desk.key(Modifiers::SHIFT, Key::R);
    desk.click_film(500.0, 300.0);
    assert!(desk.says("click the file's tip"));
    desk.key(Modifiers::COMMAND, Key::Z);
    assert!(desk.says("click the reference point"));
    desk.click_film(500.0, 300.0);
    desk.key(Modifiers::NONE, Key::Escape);
    assert!(desk.says("0 rounds done"));
    assert!(desk.says("Apex, canal A"));
    // Presses are the film's again: nothing is recorded.
    desk.click_film(900.0, 300.0);
    assert!(desk.says("after two rounds"));
    assert!(desk.says("0 rounds done"));
}

/// A tip 0.9 mm short, ± 0.2 mm: the window leaves it open, and says so once. A
/// tip well beyond is named, once.
#[test]
fn advice_waits_while_the_interval_straddles_a_limit() {
    let folder = tempfile::tempdir().expect("a folder");
    let film = write_film(folder.path(), "length.png", 1200, 1250);
    let mut desk = Desk::with_film(&film);
    desk.click_film(600.0, 100.0);
    desk.click_film(600.0, 900.0);
    desk.type_text("20");
    desk.key(Modifiers::NONE, Key::Enter);
    desk.click_film(600.0, 936.0);
    let times = |desk: &Desk, part: &str| desk.harness.query_all_by_label_contains(part).count();
    assert!(desk.says("Tip: 0.9 mm short of the apex"));
    assert_eq!(
        times(&desk, "lies across a limit: the film alone cannot decide"),
        1
    );
    assert!(desk.says("Check") && !desk.says("Within the usual limits"));

    desk.drag_film([600.0, 936.0], [600.0, 860.0]);
    assert_eq!(times(&desk, "The tip lies beyond the radiographic apex"), 1);
    assert!(desk.says("Beyond the apex"));
}
