//! The class as a page of the window.

use std::path::PathBuf;

use egui::{Button, Context, Ui};

use super::choice::Asked;
use super::kind::Kind;
use super::work::Found;
use super::{ClassPage, Outcome};
use crate::desktop::state::command::Command;
use crate::desktop::state::jobs::{JobEnd, JobName};
use crate::desktop::state::page::Page;
use crate::desktop::state::page_view::PageView;
use crate::desktop::state::session::Session;
use crate::desktop::view::ZOOM_STEP;

impl PageView for ClassPage {
    fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        if self.kind != Kind::Traces {
            return self.other_page(ui, session);
        }
        let ctx = ui.ctx().clone();
        let asked = if self.choosing || self.shown.is_none() || self.grading.is_some() {
            self.choosing_page(ui, session)
        } else {
            self.class_page(ui, session)
        };
        match asked {
            Some(Asked::Files(wanted)) => self.ask_for_files(&ctx, wanted, session),
            Some(Asked::Grade) => self.start_grading(&ctx),
            None => {}
        }
    }

    fn poll(&mut self, ctx: &Context, session: &mut Session) {
        self.blocks.poll(ctx, session);
        self.marking.poll(ctx, session);
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(Outcome::Chosen { wanted, paths }) => {
                    self.take_chosen(ctx, wanted, paths);
                }
                JobEnd::Done(Outcome::Rubric(Ok((path, rubric)))) => {
                    self.choice.rubric = Some((Some(path), rubric));
                }
                JobEnd::Done(Outcome::Roster(Ok(roster))) => self.choice.roster = Some(roster),
                JobEnd::Done(Outcome::RubricSaved(Ok(path))) => {
                    if let Some((at, _)) = &mut self.choice.rubric {
                        *at = Some(path);
                    }
                }
                JobEnd::Done(
                    Outcome::Rubric(Err(problem))
                    | Outcome::Roster(Err(problem))
                    | Outcome::RubricSaved(Err(problem)),
                ) => session.report_error(problem),
                JobEnd::Done(Outcome::Graded(graded)) => {
                    self.grading = None;
                    match *graded {
                        Ok(Found::Traces(graded)) => self.take_graded(ctx, graded),
                        Ok(Found::Blocks(set)) => {
                            let sealed = self.choice.sealed.clone().unwrap_or_default();
                            self.kind = Kind::Blocks;
                            self.blocks.grade_set(ctx, sealed, set);
                        }
                        Err(problem) => session.report_error(problem),
                    }
                }
                JobEnd::Done(Outcome::Pictured { film, of, pictured }) => {
                    self.take_picture(ctx, film, &of, *pictured, session);
                }
                JobEnd::Done(Outcome::Written(written)) => {
                    self.writing = None;
                    match written {
                        Ok(words) => self.message = words,
                        Err(problem) => session.report_error(problem),
                    }
                }
                JobEnd::Lost(name) => {
                    match name {
                        JobName::Grade => self.grading = None,
                        JobName::Record => self.writing = None,
                        _ => {}
                    }
                    session.report_error(format!("{} stopped before its end", name.words()));
                }
            }
        }
    }

    fn carry_out(&mut self, ctx: &Context, command: Command) -> bool {
        let Some(shown) = self.shown.as_mut().filter(|_| self.kind == Kind::Traces) else {
            return false;
        };
        let picture = shown.picture.as_mut();
        match (command, picture) {
            (Command::NextCanal, _) => shown.list.move_selection(1),
            (Command::PreviousCanal, _) => shown.list.move_selection(-1),
            (Command::Cancel, _) if shown.list.selected.is_some() => shown.list.selected = None,
            (Command::Fit, Some(picture)) => picture.fit(),
            (Command::ZoomIn, Some(picture)) => picture.zoom(ZOOM_STEP),
            (Command::ZoomOut, Some(picture)) => picture.zoom(1.0 / ZOOM_STEP),
            (Command::Invert, Some(picture)) => picture.invert(),
            _ => return false,
        }
        ctx.request_repaint();
        true
    }

    fn take_files(&mut self, paths: &[PathBuf]) -> bool {
        match self.kind {
            Kind::Traces => {}
            Kind::Blocks => return self.blocks.take_files(paths),
            Kind::Marking => return false,
        }
        self.add_files(paths.to_vec());
        true
    }

    fn is_busy(&self) -> bool {
        [JobName::Grade, JobName::Open, JobName::Record]
            .into_iter()
            .any(|name| self.jobs.is_running(name))
            || self.blocks.is_busy()
            || self.marking.is_busy()
    }

    fn close(&mut self) {
        self.blocks.close();
        self.marking.close();
    }
}

impl ClassPage {
    /// What is graded.
    pub(super) fn kind(&mut self, ui: &mut Ui) {
        ui.separator();
        for (kind, name) in Kind::ALL {
            let button = Button::selectable(self.kind == kind, name);
            if ui.add(button.frame_when_inactive(true)).clicked() {
                self.kind = kind;
            }
        }
    }

    /// What is graded otherwise than as traces.
    fn other_page(&mut self, ui: &mut Ui, session: &mut Session) {
        ui.horizontal(|ui| {
            if ui.button("Back to the case").clicked() {
                session.page = Page::Case;
            }
            self.kind(ui);
        });
        match self.kind {
            Kind::Traces => {}
            Kind::Blocks => self.blocks.show(ui, session),
            Kind::Marking => self.marking.show(ui, session),
        }
    }
}
