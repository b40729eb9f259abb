//! Where the panels stand.

use egui::{Frame, Id, Margin, Rect, Ui, UiBuilder};

use super::{DesktopApp, desk_of, menu, welcome};
use crate::desktop::pages::case::{film, findings, rail, status, take_digits};
use crate::desktop::state::command::Command;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;

/// Width of the rail and of the findings at normal text size, points.
const RAIL_WIDTH: f32 = 244.0;
const FINDINGS_WIDTH: f32 = 330.0;
/// Height of head, toolbar and foot at normal text size, points.
const HEAD_HEIGHT: f32 = 36.0;
const TOOLBAR_HEIGHT: f32 = 34.0;
const FOOT_HEIGHT: f32 = 28.0;

impl DesktopApp {
    pub(super) fn lay_out(&mut self, ui: &mut Ui, commands: &mut Vec<Command>) {
        let whole = ui.max_rect();
        let scale = self.preferences.text_scale;
        let problems = self.problem_strip_height(ui);
        let (head, rest) = whole.split_top_bottom_at_y(whole.top() + HEAD_HEIGHT * scale);
        let (strip, rest) = rest.split_top_bottom_at_y(rest.top() + problems);
        region(ui, "head", head, |ui| {
            ui.horizontal_centered(|ui| {
                menu::menus(ui, &mut self.preferences, &mut self.session, commands);
                for (page, words) in self.pages.progress_elsewhere(self.session.page) {
                    ui.separator();
                    ui.label(words);
                    if ui.button("Show").clicked() {
                        commands.push(Command::Show(page));
                    }
                }
                menu::new_film(ui, &mut self.session, commands);
                if !self.session.page.is_of_case() {
                    return;
                }
                if let Some(mut desk) = desk_of(
                    &mut self.workspace,
                    &mut self.session,
                    &mut self.preferences,
                    commands,
                ) {
                    ui.separator();
                    menu::case_state(ui, &mut desk);
                }
            });
        });
        if problems > 0.0 {
            region(ui, "problems", strip, |ui| {
                problem_strip(ui, &mut self.session.problems)
            });
        }
        if !self.session.page.is_of_case() {
            let open = self.workspace.as_ref();
            let open_case = open.and_then(|open| open.document.case_path());
            self.pages.class.know_open_case(open_case);
            let (pages, session) = (&mut self.pages, &mut self.session);
            region(ui, "page", rest, |ui| pages.show(ui, session));
            return;
        }
        let busy = self.is_busy();
        let Some(mut desk) = desk_of(
            &mut self.workspace,
            &mut self.session,
            &mut self.preferences,
            commands,
        ) else {
            region(ui, "welcome", rest, |ui| {
                welcome::show(ui, &self.preferences, &mut self.session, commands);
            });
            return;
        };
        if let Some(page) = self.pages.of_case(desk.session.page) {
            region(ui, "page", rest, |ui| page.show(ui, &mut desk));
            return;
        }
        let (body, foot) = rest.split_top_bottom_at_y(rest.bottom() - FOOT_HEIGHT * scale);
        let (rail_rect, middle) = body.split_left_right_at_x(body.left() + RAIL_WIDTH * scale);
        let (middle, findings_rect) =
            middle.split_left_right_at_x(middle.right() - FINDINGS_WIDTH * scale);
        let (toolbar, film) =
            middle.split_top_bottom_at_y(middle.top() + toolbar_height(ui, scale));
        take_digits(ui.ctx(), &mut desk);
        let used = region(ui, "toolbar", toolbar, |ui| film::toolbar(ui, &mut desk));
        keep_toolbar_height(ui, used);
        // The film first: what is dragged there changes all numbers of this
        // very frame.
        ui.scope_builder(UiBuilder::new().id_salt("film").max_rect(film), |ui| {
            film::show(ui, &mut desk);
        });
        region(ui, "rail", rail_rect, |ui| rail::show(ui, &mut desk));
        region(ui, "findings", findings_rect, |ui| {
            findings::show(ui, &mut desk)
        });
        region(ui, "foot", foot, |ui| status::show(ui, &mut desk, busy));
        let line = ui.visuals().widgets.noninteractive.bg_stroke;
        for x in [rail_rect.right(), findings_rect.left()] {
            ui.painter().vline(x, body.y_range(), line);
        }
    }

    fn problem_strip_height(&self, ui: &Ui) -> f32 {
        let row = ui.spacing().interact_size.y + ui.spacing().item_spacing.y;
        match self.session.problems.len() {
            0 => 0.0,
            count => row * count.min(3) as f32 + 12.0,
        }
    }
}

/// A part of the window with the panel's ground and margins.
fn region<R>(ui: &mut Ui, name: &str, rect: Rect, show: impl FnOnce(&mut Ui) -> R) -> R {
    ui.painter().rect_filled(rect, 0.0, ui.visuals().panel_fill);
    let inner = rect - Margin::symmetric(10, 3);
    ui.scope_builder(UiBuilder::new().id_salt(name).max_rect(inner), |ui| {
        ui.shrink_clip_rect(rect);
        show(ui)
    })
    .inner
}

/// Height of the toolbar: of one row, or of as many as it took in the last
/// frame.
fn toolbar_height(ui: &Ui, scale: f32) -> f32 {
    let used = ui.data(|data| data.get_temp::<f32>(toolbar_id()));
    used.unwrap_or(0.0).max(TOOLBAR_HEIGHT * scale)
}

/// Keeps what the toolbar took, with its margins, for the next frame.
fn keep_toolbar_height(ui: &Ui, used: f32) {
    let used = used + 6.0;
    let before = ui.data_mut(|data| {
        let kept = data.get_temp_mut_or_default::<f32>(toolbar_id());
        std::mem::replace(kept, used)
    });
    if (before - used).abs() > 0.5 {
        ui.ctx().request_repaint();
    }
}

fn toolbar_id() -> Id {
    Id::unique("toolbar height")
}

/// Errors in plain words until put away.
fn problem_strip(ui: &mut Ui, problems: &mut Vec<String>) {
    let palette = palette::of(ui);
    let mut gone = None;
    egui::ScrollArea::vertical()
        .id_salt("problem list")
        .show(ui, |ui| {
            for (index, problem) in problems.iter().enumerate() {
                Frame::new().show(ui, |ui| {
                    ui.horizontal(|ui| {
                        if ui.button("Dismiss").clicked() {
                            gone = Some(index);
                        }
                        icons::sign(ui, Icon::Square, palette.alarm, "Problem");
                        let text = egui::RichText::new(problem.as_str()).color(palette.alarm);
                        ui.add(egui::Label::new(text).truncate())
                            .on_hover_text(problem);
                    });
                });
            }
        });
    if let Some(index) = gone {
        problems.remove(index);
    }
}
