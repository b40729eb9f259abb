//! Nominal files in the canals of the open case: how far each is bent where,
//! where it binds, and the shaping card.
//!
//! [`work`] works it out, [`files`] is what is chosen, [`film`] and [`graph`]
//! show where, [`table`] and [`card`] how much. What may be said of a file is
//! in `instrumentation::words`.

mod card;
mod files;
mod film;
mod graph;
mod missing;
mod saving;
mod scale;
mod table;
mod work;

use egui::{Context, RichText, ScrollArea, Slider, Ui, UiBuilder};

use crate::desktop::state::Desk;
use crate::desktop::state::film_pane::FilmPane;
use crate::desktop::state::page::Page;
use crate::desktop::state::page_view::CasePageView;
use crate::desktop::state::session::Session;
use crate::desktop::ui::palette::{self, text_scale};
use crate::instrumentation::words::NOTES;
use files::Choice;
use saving::Saving;
use scale::StrainScale;
use work::{Found, Work};

/// Width of the files' column at normal text size, points.
const FILES_WIDTH: f32 = 294.0;
/// Share of the rest that the film takes.
const FILM_SHARE: f32 = 0.38;
/// The tip can be moved this far from the apex, mm.
const FARTHEST_TIP_MM: f64 = 15.0;

/// The page.
#[derive(Default)]
pub struct InstrumentPage {
    work: Work,
    saving: Saving,
    choice: Choice,
    pane: Option<FilmPane>,
    /// Case and canal that the page was last shown for.
    shown: Option<(usize, usize)>,
    /// File that stands out, of the canal's.
    chosen: usize,
    /// Where the tip of a file without step-back stands; `None`: where the
    /// working length ends.
    tip_from_apex_mm: Option<f64>,
    /// Place that film and graph both show.
    marked_from_apex_mm: Option<f64>,
}

impl CasePageView for InstrumentPage {
    fn show(&mut self, ui: &mut Ui, desk: &mut Desk<'_>) {
        // Canals may have gone.
        let canals = desk.workspace.document.case().canals.len();
        desk.session.canal = desk.session.canal.min(canals.saturating_sub(1));
        self.follow(desk);
        let whole = ui.available_rect_before_wrap();
        let scale = text_scale(ui);
        let (files, rest) = whole.split_left_right_at_x(whole.left() + FILES_WIDTH * scale);
        let (film, numbers) = rest.split_left_right_at_fraction(FILM_SHARE);
        part(ui, "files", files.with_max_x(files.right() - 8.0), |ui| {
            self.files_column(ui, desk);
        });
        if let Some(step) = missing::next(desk) {
            part(ui, "film", film, |ui| self.film_column(ui, desk, None));
            let numbers = numbers.with_min_x(numbers.left() + 10.0);
            part(ui, "numbers", numbers, |ui| {
                missing::show(ui, desk, step);
                notes(ui);
            });
            return;
        }
        let found = self.work.answer(ui.ctx(), desk, self.tip_from_apex_mm);
        let found = found.cloned();
        let shown = found.as_ref().and_then(|found| found.as_ref().ok());
        part(ui, "film", film, |ui| self.film_column(ui, desk, shown));
        part(
            ui,
            "numbers",
            numbers.with_min_x(numbers.left() + 10.0),
            |ui| match &found {
                Some(Ok(found)) => self.numbers_column(ui, desk, found),
                Some(Err(problem)) => {
                    ui.colored_label(palette::of(ui).alarm, problem);
                    notes(ui);
                }
                None => notes(ui),
            },
        );
    }

    fn poll(&mut self, ctx: &Context, session: &mut Session) {
        self.work.poll();
        self.saving.poll(ctx, session);
    }

    fn is_busy(&self) -> bool {
        self.work.is_busy() || self.saving.is_busy()
    }
}

impl InstrumentPage {
    /// Begins anew for another case or canal.
    fn follow(&mut self, desk: &Desk<'_>) {
        let now = (desk.session.case_count, desk.session.canal);
        if self.shown == Some(now) {
            return;
        }
        if self.shown.is_none_or(|(case, _)| case != now.0) {
            self.tip_from_apex_mm = None;
        }
        self.pane = None;
        self.chosen = 0;
        self.marked_from_apex_mm = None;
        self.shown = Some(now);
    }

    fn files_column(&mut self, ui: &mut Ui, desk: &mut Desk<'_>) {
        if ui.button("Back to the case").clicked() {
            desk.session.page = Page::Case;
        }
        ui.label(
            RichText::new("Files in the canal")
                .heading()
                .strong()
                .size(20.0),
        );
        ScrollArea::vertical()
            .id_salt("instrument files")
            .auto_shrink(false)
            .show(ui, |ui| {
                files::canals(ui, desk);
                self.choice.show(ui, desk, &mut self.chosen);
                ui.add_space(8.0);
                self.saving.buttons(ui, desk, self.tip_from_apex_mm);
            });
    }

    fn film_column(&mut self, ui: &mut Ui, desk: &mut Desk<'_>, found: Option<&Found>) {
        let canal = desk.session.canal;
        let canals = found.map(|found| &found.assessment.findings.canals);
        let canal_found = canals.and_then(|canals| canals.get(canal));
        self.tip_slider(ui, canal_found.map(|canal| canal.allowance_mm));
        let axis = found.and_then(|found| found.assessment.axes.get(canal)?.as_ref());
        let on_film = found.and_then(|found| found.on_film.get(canal)?.as_ref());
        let place = axis.zip(on_film);
        let file = canal_found.and_then(|canal| canal.files.get(self.chosen));
        let scale = canal_found.map_or(StrainScale::default(), StrainScale::of);
        let requests = files::requests(desk.workspace.document.case(), canal);
        let request = requests.and_then(|requests| requests.get(self.chosen).cloned());
        let size = desk.workspace.film.size_px();
        let pane = self.pane.get_or_insert_with(|| FilmPane::new(size));
        let moved = film::show(
            ui,
            desk,
            pane,
            &film::Drawn {
                place,
                file: file.zip(request.as_ref()),
                scale,
                marked_from_apex_mm: self.marked_from_apex_mm,
            },
        );
        if let Some(tip_mm) = moved.tip_from_apex_mm {
            self.tip_from_apex_mm = Some(tip_mm.clamp(0.0, FARTHEST_TIP_MM));
            ui.ctx().request_repaint();
        }
        if let Some(marked) = moved.marked_from_apex_mm
            && self.marked_from_apex_mm != Some(marked)
        {
            self.marked_from_apex_mm = Some(marked);
            ui.ctx().request_repaint();
        }
    }

    /// Where the tip stands, by a slider.
    fn tip_slider(&mut self, ui: &mut Ui, allowance_mm: Option<f64>) {
        let Some(allowance_mm) = allowance_mm else {
            return;
        };
        ui.horizontal_wrapped(|ui| {
            let mut tip_mm = self.tip_from_apex_mm.unwrap_or(allowance_mm);
            ui.label("Tip");
            let slider = Slider::new(&mut tip_mm, 0.0..=FARTHEST_TIP_MM)
                .step_by(0.1)
                .fixed_decimals(1)
                .suffix(" mm");
            let slider = ui.add(slider).accessible_name("Tip from the apex");
            if slider.changed() {
                self.tip_from_apex_mm = Some(tip_mm);
            }
            ui.label("from the apex");
            let is_moved = self.tip_from_apex_mm.is_some();
            let back = ui.add_enabled(is_moved, egui::Button::new("Working length"));
            if back
                .on_hover_text("Puts the tip where the working length ends")
                .clicked()
            {
                self.tip_from_apex_mm = None;
            }
        });
    }

    fn numbers_column(&mut self, ui: &mut Ui, desk: &mut Desk<'_>, found: &Found) {
        let index = desk.session.canal;
        let Some(canal) = found.assessment.findings.canals.get(index) else {
            return;
        };
        if canal.files.is_empty() {
            ui.label(format!("No files for canal {} yet: add one.", canal.name));
            notes(ui);
            return;
        }
        let axis = found.assessment.axes.get(index).and_then(Option::as_ref);
        let requests = files::requests(desk.workspace.document.case(), index);
        let requests = requests.unwrap_or_default();
        let marked = graph::show(
            ui,
            canal,
            axis,
            &requests,
            self.chosen,
            self.marked_from_apex_mm,
        );
        if let Some(marked) = marked
            && self.marked_from_apex_mm != Some(marked)
        {
            self.marked_from_apex_mm = Some(marked);
            ui.ctx().request_repaint();
        }
        ScrollArea::vertical()
            .id_salt(("instrument numbers", index))
            .auto_shrink(false)
            .show(ui, |ui| {
                if !found.with_intervals {
                    let words = "Nominal values; the uncertainties are being worked out…";
                    ui.label(RichText::new(words).color(palette::of(ui).quiet_text));
                }
                if let Some(chosen) = table::show(ui, canal, self.chosen) {
                    self.chosen = chosen;
                }
                table::sentences(ui, canal, self.chosen);
                warnings(ui, found, &canal.name);
                card::show(ui, &found.assessment.findings, index);
                notes(ui);
            });
    }
}

/// What is to be looked at, of this canal and of the case.
fn warnings(ui: &mut Ui, found: &Found, canal: &str) {
    let warnings = found.assessment.findings.warnings.iter();
    let own: Vec<_> = warnings
        .filter(|warning| warning.canal.as_deref().is_none_or(|name| name == canal))
        .collect();
    if own.is_empty() {
        return;
    }
    ui.add_space(6.0);
    ui.label(RichText::new("Check").heading());
    for warning in own {
        let text = RichText::new(&warning.text).color(palette::of(ui).caution);
        ui.add(egui::Label::new(text).wrap());
    }
}

/// What holds for every number here, always in sight of them.
fn notes(ui: &mut Ui) {
    ui.add_space(6.0);
    ui.label(RichText::new("Cautions").heading());
    for note in NOTES {
        let text = RichText::new(note).color(palette::of(ui).quiet_text);
        ui.add(egui::Label::new(text).wrap());
    }
}

/// A part of the page.
fn part(ui: &mut Ui, name: &str, rect: egui::Rect, show: impl FnOnce(&mut Ui)) {
    ui.scope_builder(UiBuilder::new().id_salt(name).max_rect(rect), |ui| {
        ui.shrink_clip_rect(rect);
        show(ui);
    });
}
