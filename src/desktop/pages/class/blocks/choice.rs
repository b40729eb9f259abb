//! The page that asks what to grade.

use egui::{Button, RichText, Ui};

use super::{Blocks, ChosenFor, QUICK_DRAWS};
use crate::desktop::state::long_job::LongJob;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{page, stoppable_progress};

impl Blocks {
    pub(super) fn choice(&mut self, ui: &mut Ui, session: &mut Session) {
        let purpose = "Pairs of cases, each before and after shaping, held against a rubric; two \
                       groups are compared level by level.";
        page(ui, "Grade a class of blocks", purpose, |ui| {
            let slow = self.running.clone().filter(LongJob::is_slow);
            ui.add_enabled_ui(slow.is_none(), |ui| {
                self.pairs_part(ui, session);
                self.rubric_part(ui, session);
            });
            ui.add_space(14.0);
            match slow {
                Some(running) => {
                    if stoppable_progress(ui, running.progress(), &running.words()) {
                        running.cancel();
                    }
                }
                None => self.grade_part(ui),
            }
            self.state(ui);
        });
    }

    fn pairs_part(&mut self, ui: &mut Ui, session: &mut Session) {
        let quiet = palette::of(ui).quiet_text;
        ui.add_space(14.0);
        ui.label(RichText::new("Pairs").heading().strong());
        let what = "A table with the columns before and after (case files, seen from the table's \
                    folder) and, if wanted, student and group. For the blocks of an exercise set: \
                    Class, Grade an exercise set.";
        ui.label(RichText::new(what).color(quiet));
        if let Some((path, source)) = &self.pairs {
            let words = format!("{}: {}", source.words(), path.display());
            ui.add(egui::Label::new(&words).truncate())
                .on_hover_text(&words);
        }
        if ui.button("Choose the table of pairs…").clicked() {
            self.ask(&ui.ctx().clone(), session, ChosenFor::Pairs);
        }
        ui.checkbox(&mut self.follows_walls, "Follow walls")
            .on_hover_text("Look for the canal's walls on the films where a case has none");
        ui.checkbox(&mut self.is_quick, format!("Quick ({QUICK_DRAWS} draws)"))
            .on_hover_text("Intervals from fewer draws: sooner there, a little rougher");
    }

    fn rubric_part(&mut self, ui: &mut Ui, session: &mut Session) {
        ui.add_space(14.0);
        ui.label(RichText::new("Rubric").heading().strong());
        ui.horizontal_wrapped(|ui| {
            match &self.rubric {
                None => ui.label("built-in"),
                Some((path, rubric)) => ui
                    .label(RichText::new(&rubric.name).strong())
                    .on_hover_text(path.display().to_string()),
            };
            if ui.button("Choose a rubric…").clicked() {
                self.ask(&ui.ctx().clone(), session, ChosenFor::Rubric);
            }
            if self.rubric.is_some() && ui.button("Use the built-in rubric").clicked() {
                self.rubric = None;
            }
        });
    }

    fn grade_part(&mut self, ui: &mut Ui) {
        ui.horizontal_wrapped(|ui| {
            let button = Button::new(RichText::new("Grade").strong());
            let button = button.min_size(egui::vec2(160.0, 32.0));
            if ui.add_enabled(self.pairs.is_some(), button).clicked() {
                self.grade(&ui.ctx().clone());
            }
            if self.pairs.is_none() {
                let words = RichText::new("Choose the table of pairs first");
                ui.label(words.color(palette::of(ui).quiet_text));
            }
            if self.graded.is_some() && ui.button("Back to the class of blocks").clicked() {
                self.is_choosing = false;
            }
        });
    }
}
