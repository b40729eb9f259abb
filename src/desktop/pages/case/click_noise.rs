//! A person's own click noise: measured by repeating, then used.

use egui::{RichText, Ui};

use super::repeats;
use crate::case::Case;
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::repeats::{RepeatedPlace, Repeats, USEFUL_ROUNDS};
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{named_value, section_heading};
use crate::measure::PlaceKind;
use crate::measure::click_noise::{GREATEST_OWN_SD_MM, MeasuredClickNoise, RepeatError};

/// Shows the section.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.separator();
    let open = &mut desk.preferences.show_click_noise;
    if !section_heading(ui, "Your placement repeatability", open) {
        return;
    }
    match desk.session.repeats.clone() {
        None => {
            let quiet = palette::of(ui).quiet_text;
            let what = "Click the same places in several rounds, your marks hidden. How far \
                        the clicks scatter is your placement repeatability.";
            ui.label(RichText::new(what).color(quiet));
            begin(ui, desk);
        }
        Some(repeats) => under_way(ui, desk, &repeats),
    }
    kept(ui, desk);
}

/// The choice of places, and the start.
fn begin(ui: &mut Ui, desk: &mut Desk<'_>) {
    let case = desk.workspace.document.case();
    let mut chosen = desk
        .session
        .repeat_choice
        .clone()
        .unwrap_or_else(|| RepeatedPlace::placed_in(case, desk.session.canal));
    ui.horizontal_wrapped(|ui| {
        for subject in RepeatedPlace::all() {
            let mut is_chosen = chosen.contains(&subject);
            let name = format!("Repeat: {}", subject.label());
            let box_ = ui
                .checkbox(&mut is_chosen, subject.label())
                .accessible_name(name);
            if box_.changed() {
                chosen = RepeatedPlace::all()
                    .filter(|one| match *one == subject {
                        true => is_chosen,
                        false => chosen.contains(one),
                    })
                    .collect();
                desk.session.repeat_choice = Some(chosen.clone());
            }
        }
    });
    let button = ui
        .add_enabled(
            !chosen.is_empty(),
            egui::Button::new("Begin the first round"),
        )
        .on_hover_text(Command::MeasureClickNoise.hint(ui.ctx()));
    if button.clicked() {
        repeats::begin(desk, chosen);
    }
}

/// Rounds so far, what they say, and how to go on.
fn under_way(ui: &mut Ui, desk: &mut Desk<'_>, repeats: &Repeats) {
    let quiet = palette::of(ui).quiet_text;
    let count = repeats.round_count();
    let rounds = if count == 1 { "round" } else { "rounds" };
    ui.label(RichText::new(format!("{count} {rounds} done")).strong());
    if count < USEFUL_ROUNDS {
        let few = format!("{USEFUL_ROUNDS} or more give a figure worth having.");
        ui.label(RichText::new(few).color(quiet));
    }
    let frame = desk.workspace.click_frame();
    let measured = repeats.measured(frame.frame);
    for (subject, noise) in &measured {
        named_value(ui, subject.label(), &noise_in_words(noise, frame.unit));
    }
    let note = "± one standard deviation per coordinate, and what it may be (95 %)";
    ui.label(RichText::new(note).color(quiet).small());
    ui.horizontal_wrapped(|ui| {
        if repeats.is_clicking() {
            if ui.button("Stop clicking").clicked() {
                repeats::pause(desk);
            }
        } else if ui.button("Another round").clicked() {
            repeats::go_on(desk);
        }
        if ui.button("Start again").clicked()
            && let Some(repeats) = &mut desk.session.repeats
        {
            repeats.restart();
        }
        if ui
            .button("Remove")
            .on_hover_text("Forget these rounds")
            .clicked()
        {
            desk.session.repeats = None;
        }
    });
    let usable: Vec<(PlaceKind, MeasuredClickNoise)> = measured
        .iter()
        .filter_map(|(subject, noise)| Some((subject.kind(), noise.as_ref().ok()?)))
        .filter(|(_, noise)| noise.is_usable())
        .map(|(kind, noise)| (kind, *noise))
        .collect();
    let slipped = |(_, noise): &(_, Result<MeasuredClickNoise, _>)| matches!(noise, Ok(noise) if noise.sd > GREATEST_OWN_SD_MM);
    if frame.unit == "mm" && measured.iter().any(slipped) {
        let why = "Clicks on one place lie more than a hand's noise apart: one was on another \
                   place. Discard these rounds and click again.";
        ui.label(RichText::new(why).color(palette::of(ui).caution));
    }
    if frame.unit != "mm" {
        let why = "In px only: without pitch or scale it cannot be used.";
        ui.label(RichText::new(why).color(palette::of(ui).caution));
    }
    let can_use = frame.unit == "mm" && !usable.is_empty();
    let button = egui::Button::new("Use as my repeatability");
    if ui
        .add_enabled(can_use, button)
        .on_hover_text("In this case, and in new ones")
        .on_disabled_hover_text("Three rounds or more, on a film with a pitch or scale")
        .clicked()
    {
        desk.preferences.own_click_noise.learn(&usable);
        use_own(desk);
        desk.session
            .notify("Your placement repeatability is in use");
    }
}

fn use_own(desk: &mut Desk<'_>) {
    let own = desk.preferences.own_click_noise;
    desk.apply(Edit::UseClickNoise(own));
}

/// "0.081 mm (0.055–0.155)".
fn noise_in_words(noise: &Result<MeasuredClickNoise, RepeatError>, unit: &str) -> String {
    match noise {
        Err(RepeatError::TooFew) => "after two rounds".to_owned(),
        Err(error) => error.to_string(),
        Ok(noise) => match noise.interval_95() {
            Some([low, high]) => format!("{:.3} {unit} ({low:.3}–{high:.3})", noise.sd),
            None => format!("{:.3} {unit}", noise.sd),
        },
    }
}

/// What is kept of earlier measurements.
fn kept(ui: &mut Ui, desk: &mut Desk<'_>) {
    let own = desk.preferences.own_click_noise;
    if own.is_empty() {
        return;
    }
    let palette = palette::of(ui);
    ui.add_space(6.0);
    ui.label(RichText::new("Kept as yours; new cases start with it").color(palette.quiet_text));
    for (kind, noise) in own.known() {
        let value = noise_in_words(&Ok(noise), "mm");
        named_value(ui, &format!("Yours, {}", kind.label()), &value);
    }
    let in_use = |case: &Case| {
        let mut with = case.clone();
        own.write_into(&mut with);
        &with == case
    };
    let is_in_use = in_use(desk.workspace.document.case());
    ui.horizontal_wrapped(|ui| {
        let button = egui::Button::new("Use in this case");
        if ui.add_enabled(!is_in_use, button).clicked() {
            use_own(desk);
        }
        if ui
            .button("Forget mine")
            .on_hover_text("Back to the default, here and in new cases")
            .clicked()
        {
            desk.apply(Edit::ForgetClickNoise(own));
            desk.preferences.own_click_noise = Default::default();
            desk.session
                .notify("Your placement repeatability is forgotten");
        }
    });
}
