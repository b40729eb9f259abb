//! Orders of the user: commands, answers to dialogs, and going on once
//! unsaved work is settled.

use std::path::PathBuf;

use egui::{Context, ViewportCommand};

use super::files::Purpose;
use super::on_case::carry_out_on_case;
use super::{DesktopApp, desk_of};
use crate::desktop::class;
use crate::desktop::command::Command;
use crate::desktop::document;
use crate::desktop::panels::dialogs::{self, Answer};
use crate::desktop::recovery;
use crate::desktop::session::{Dialog, Next};

impl DesktopApp {
    pub(super) fn carry_out(&mut self, ctx: &Context, command: Command) {
        if self.class.open && !class::lets_through(command) {
            return self.class.carry_out(ctx, command);
        }
        if self.practice.open && !class::lets_through(command) {
            self.practice.open &= command != Command::Cancel;
            return;
        }
        match command {
            Command::GradeClass => {
                self.class.open = !self.class.open;
                self.practice.open = false;
            }
            Command::MakePractice => {
                self.practice.open = !self.practice.open;
                self.class.open = false;
            }
            Command::GradePractice => self.choose_practice(None),
            Command::Open => self.session.next = Some(Next::AskForFile),
            Command::OpenByPath => {
                self.session.dialog = Some(Dialog::OpenByPath {
                    path: String::new(),
                });
            }
            Command::OpenDemo => self.session.next = Some(Next::Demo),
            Command::DuplicateForNewFilm if self.workspace.is_some() => {
                self.session.next = Some(Next::Duplicate);
            }
            Command::Quit => self.session.next = Some(Next::Quit),
            Command::Save => self.save(ctx, None),
            Command::SaveAs => self.save_as(ctx, None),
            Command::SaveRecord(kind) if self.workspace.is_some() => {
                self.ask_for_file(ctx, Purpose::Record(kind));
            }
            Command::ToggleTheme => self.preferences.dark = !self.preferences.dark,
            Command::TextLarger => self.preferences.change_text(1),
            Command::TextSmaller => self.preferences.change_text(-1),
            Command::ToggleRuler => self.preferences.show_ruler = !self.preferences.show_ruler,
            Command::NextConstruction => self.preferences.next_construction(),
            Command::ShowCommands => {
                self.session.dialog = Some(Dialog::Commands {
                    filter: String::new(),
                });
            }
            Command::ShowCautions => self.session.dialog = Some(Dialog::Cautions),
            _ => {
                let mut unused = Vec::new();
                if let Some(mut desk) = desk_of(
                    &mut self.workspace,
                    &mut self.session,
                    &mut self.preferences,
                    &mut unused,
                ) {
                    carry_out_on_case(ctx, &mut desk, command);
                }
                if command == Command::LocalContrast {
                    self.prepare_local_contrast(ctx);
                }
            }
        }
    }

    /// Shows the page that grades a practice set.
    pub(super) fn choose_practice(&mut self, sealed: Option<PathBuf>) {
        self.practice.open = false;
        self.class.choose_practice(sealed);
    }

    /// Goes on at once, or asks first when work would be lost.
    pub(super) fn settle_next(&mut self, ctx: &Context) {
        let Some(next) = self.session.next.take() else {
            return;
        };
        // A duplicate leaves the case behind like any other opening.
        if self.is_unsaved() {
            self.session.dialog = Some(Dialog::Unsaved { then: next });
        } else {
            self.proceed(ctx, next);
        }
    }

    fn proceed(&mut self, ctx: &Context, next: Next) {
        match next {
            Next::Open(path) => self.open_path(ctx, path),
            Next::AskForFile => self.ask_for_file(ctx, Purpose::Open),
            Next::Demo => self.open_demo(ctx),
            Next::Duplicate => self.ask_for_file(ctx, Purpose::Duplicate),
            Next::Quit => {
                self.session.quit_agreed = true;
                ctx.send_viewport_cmd(ViewportCommand::Close);
            }
        }
    }

    /// The window's own close button asks like the command.
    pub(super) fn hold_close(&mut self, ctx: &Context) {
        let asked = ctx.input(|input| input.viewport().close_requested());
        if asked && !self.session.quit_agreed && self.is_unsaved() {
            ctx.send_viewport_cmd(ViewportCommand::CancelClose);
            self.session.dialog = Some(Dialog::Unsaved { then: Next::Quit });
        }
    }

    pub(super) fn answer_dialog(&mut self, ctx: &Context, commands: &mut Vec<Command>) {
        let Some(mut dialog) = self.session.dialog.take() else {
            return;
        };
        match dialogs::show(ctx, &mut dialog) {
            Answer::Waiting => self.session.dialog = Some(dialog),
            Answer::Closed => {}
            Answer::Run(command) => commands.push(command),
            Answer::Open(path) => self.session.next = Some(Next::Open(path.trim().into())),
            Answer::SaveThen(next) => self.save(ctx, Some(next)),
            Answer::Proceed(next) => self.proceed(ctx, next),
            Answer::Restore => {
                if let Dialog::Recover(leftover) = dialog {
                    recovery::discard(&leftover);
                    self.restore(ctx, leftover.snapshot);
                }
            }
            Answer::DiscardLeftover => {
                if let Dialog::Recover(leftover) = dialog {
                    recovery::discard(&leftover);
                }
            }
            Answer::ReloadFilm => self.reload_film(ctx),
            Answer::RemoveCanal(canal) => {
                if let Some(workspace) = &mut self.workspace {
                    workspace
                        .document
                        .edit("Remove canal", |case| document::remove_canal(case, canal));
                }
            }
        }
    }
}
