//! The open case and that of a second film: one canal in space.
//!
//! [`ask`] is what the user says of the pair, [`work`] opens the second case
//! and works the path out beside the window, [`films`] shows both films,
//! [`depth`] the path in space, [`found`] what is known of it.

mod ask;
mod depth;
mod films;
mod found;
mod work;

use egui::{Context, RichText, ScrollArea, Ui, UiBuilder};

use crate::desktop::state::Desk;
use crate::desktop::state::page::Page;
use crate::desktop::state::page_view::CasePageView;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette::{self, text_scale};
use crate::desktop::ui::widgets::spoken;
use ask::Asking;
use depth::Turned;
use films::Films;
use work::Work;

/// Width of the left column at normal text size, points.
const ASK_WIDTH: f32 = 262.0;
/// Share of the rest that both films take.
const FILMS_SHARE: f32 = 0.6;
/// Share of the right column's height that the view in depth takes.
const DEPTH_SHARE: f32 = 0.42;

/// The page.
#[derive(Default)]
pub struct TwoFilmsPage {
    asking: Asking,
    work: Work,
    films: Films,
    turned: Turned,
}

impl CasePageView for TwoFilmsPage {
    fn show(&mut self, ui: &mut Ui, desk: &mut Desk<'_>) {
        self.asking.follow(desk);
        self.work.open_second(ui.ctx(), desk, self.asking.case());
        let is_one_patient = self.work.check_patients(desk);
        let whole = ui.available_rect_before_wrap();
        let (ask, rest) = whole.split_left_right_at_x(whole.left() + ASK_WIDTH * text_scale(ui));
        let (films, right) = rest.split_left_right_at_fraction(FILMS_SHARE);
        part(ui, "pair", ask.with_max_x(ask.right() - 8.0), |ui| {
            if ui.button("Back to the case").clicked() {
                desk.session.page = Page::Case;
            }
            let title = RichText::new("Two films, one canal").heading().strong();
            ui.label(title.size(20.0));
            ScrollArea::vertical()
                .id_salt("two films asked")
                .auto_shrink(false)
                .show(ui, |ui| {
                    self.asking.show(ui, desk, &mut self.work, is_one_patient)
                });
        });
        if is_one_patient {
            self.work.answer(ui.ctx(), desk, self.asking.canal());
        }
        let (second, shown) = self.work.shown();
        part(ui, "both films", films, |ui| {
            self.films.show(ui, desk, second, shown);
        });
        let right = right.with_min_x(right.left() + 10.0);
        let Some((findings, _)) = shown.filter(|_| is_one_patient) else {
            part(ui, "found", right, |ui| self.nothing_yet(ui));
            return;
        };
        let (depth, numbers) = right.split_top_bottom_at_fraction(DEPTH_SHARE);
        part(ui, "depth", depth, |ui| {
            self.turned.show(ui, findings);
        });
        let is_current = self.work.is_current();
        part(ui, "found", numbers, |ui| {
            ScrollArea::vertical()
                .id_salt("two films found")
                .auto_shrink(false)
                .show(ui, |ui| found::show(ui, findings, is_current));
        });
    }

    fn poll(&mut self, _ctx: &Context, session: &mut Session) {
        self.work.poll(session);
        self.asking.poll();
    }

    fn is_busy(&self) -> bool {
        self.work.is_busy()
    }
}

impl TwoFilmsPage {
    /// What is still to be done, or why there is nothing.
    fn nothing_yet(&self, ui: &mut Ui) {
        let palette = palette::of(ui);
        if let Some(problem) = self.work.problem() {
            let response = ui.add(egui::Label::new(
                RichText::new(problem).color(palette.alarm),
            ));
            spoken(&response, problem);
            return;
        }
        let words = if self.work.is_busy() {
            "Working out the canal in space…"
        } else if self.asking.case().is_none() {
            "A film is one projection: a curve towards the source does not show on it. Choose the \
             case of a second film of the same tooth, taken from another direction, with the same \
             canal traced."
        } else {
            "State the angle between the films, and what happened to the receptor."
        };
        let response = ui.add(egui::Label::new(RichText::new(words).heading()).wrap());
        spoken(&response, words);
    }
}

/// A part of the page.
fn part(ui: &mut Ui, name: &str, rect: egui::Rect, show: impl FnOnce(&mut Ui)) {
    ui.scope_builder(UiBuilder::new().id_salt(name).max_rect(rect), |ui| {
        ui.shrink_clip_rect(rect);
        show(ui);
    });
}
