//! Orders of the user: commands, answers to dialogs, and going on once
//! unsaved work is settled.

use egui::{Context, ViewportCommand};

use super::answer::Answer;
use super::dialogs;
use super::job_result::Purpose;
use super::{DesktopApp, desk_of};
use crate::desktop::pages::case::commands as on_case;
use crate::desktop::pages::case::{film, repeats};
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::page::Page;
use crate::desktop::state::recovery;
use crate::desktop::state::saving::Over;
use crate::desktop::state::session::{Dialog, Next};
use crate::desktop::view::{Tone, ZOOM_STEP};

impl DesktopApp {
    pub(super) fn carry_out(&mut self, ctx: &Context, command: Command) {
        // The open case is one of both films there.
        let saves = matches!(command, Command::Save | Command::SaveAs)
            && self.session.page == Page::BeforeAfter;
        if !command.is_global()
            && !saves
            && let Some(page) = self.pages.view(self.session.page)
        {
            // What a page has no use for means nothing there, but Escape leaves it.
            if !page.carry_out(ctx, command) && command == Command::Cancel {
                self.session.page = Page::Case;
            }
            return;
        }
        let beside_film = self.pages.of_case(self.session.page).is_some();
        if beside_film && !command.is_for_case_pages() {
            if command == Command::Cancel {
                self.session.page = Page::Case;
            }
            return;
        }
        let mut taken = false;
        self.on_case(ctx, |desk| taken = repeats::carry_out(desk, command));
        if taken {
            return;
        }
        match command {
            Command::Show(page) => {
                let shown = self.session.page == page;
                // What was last done was done elsewhere.
                self.session.message.clear();
                self.pages.enter(page, self.workspace.as_ref());
                self.session.page = if shown { Page::Case } else { page };
            }
            Command::GradeExercises => self.pages.grade_exercises(&mut self.session, None),
            Command::Open => self.session.next = Some(Next::AskForFile),
            Command::OpenByPath => {
                self.session.dialog = Some(Dialog::OpenByPath {
                    path: String::new(),
                });
            }
            Command::OpenDemo => self.session.next = Some(Next::Demo),
            Command::OpenNewestFilm => self.open_newest_film(),
            Command::WatchFolder => self.session.dialog = Some(Dialog::WatchFolder),
            Command::Print => self.print(ctx),
            Command::DuplicateForNewFilm => {
                self.on_case(ctx, |desk| desk.session.next = Some(Next::Duplicate));
            }
            Command::ScaleOfEarlierFilm => {
                if self.workspace.is_some() {
                    self.ask_for_file(ctx, Purpose::EarlierFilm);
                }
            }
            Command::Quit => self.session.next = Some(Next::Quit),
            Command::Save => self.save(ctx, None),
            Command::SaveAs => self.save_as(ctx, None),
            Command::SaveRecord(kind) => {
                if self.workspace.is_some() {
                    self.ask_for_file(ctx, Purpose::Record(kind));
                }
            }
            Command::SendRecord => {
                if self.workspace.is_some() {
                    self.pages.send_record(self.workspace.as_ref());
                    self.session.message.clear();
                    self.session.page = Page::Archive;
                }
            }
            Command::ToggleTheme => self.preferences.dark = !self.preferences.dark,
            Command::TextLarger => self.preferences.change_text(1),
            Command::TextSmaller => self.preferences.change_text(-1),
            Command::NextRuler => {
                self.preferences.ruler = self.preferences.ruler.next();
                self.session.notify(self.preferences.ruler.words());
            }
            Command::ShowOffers => self.on_case(ctx, on_case::show_offers),
            Command::NextConstruction => self.session.next_construction(),
            Command::ShowCommands => {
                self.session.dialog = Some(Dialog::Commands {
                    filter: String::new(),
                });
            }
            Command::ShowCautions => self.session.dialog = Some(Dialog::Cautions),
            Command::Undo => self.on_case(ctx, on_case::undo),
            Command::Redo => self.on_case(ctx, on_case::redo),
            Command::DeleteHandle => self.on_case(ctx, on_case::delete_selected),
            Command::InsertPoint => self.on_case(ctx, on_case::insert_after_selected),
            Command::PlaceAtCross => self.on_case(ctx, film::place_at_cross),
            Command::Finish => self.on_case(ctx, on_case::finish),
            Command::Cancel => self.on_case(ctx, on_case::cancel),
            Command::NewCanal => self.on_case(ctx, on_case::new_canal),
            Command::NextCanal => self.on_case(ctx, |desk| on_case::next_canal(desk, 1)),
            Command::PreviousCanal => self.on_case(ctx, |desk| on_case::next_canal(desk, -1)),
            Command::Use(tool) => self.on_case(ctx, |desk| on_case::use_tool(ctx, desk, tool)),
            Command::CopyChartNote => self.on_case(ctx, on_case::copy_chart_note),
            Command::CopyPicture => self.on_case(ctx, |desk| on_case::copy_picture(ctx, desk)),
            // Taken by the measurement of click noise wherever a case is open.
            Command::MeasureClickNoise => {}
            Command::Fit => self.on_case(ctx, on_case::fit),
            Command::OneToOne => self.on_case(ctx, |desk| {
                desk.workspace.view.one_to_one(ctx.pixels_per_point());
            }),
            Command::ZoomIn => self.on_case(ctx, |desk| on_case::zoom(desk, ZOOM_STEP)),
            Command::ZoomOut => self.on_case(ctx, |desk| on_case::zoom(desk, 1.0 / ZOOM_STEP)),
            Command::TurnLeft => self.on_case(ctx, |desk| on_case::turn(desk, 3)),
            Command::TurnRight => self.on_case(ctx, |desk| on_case::turn(desk, 1)),
            Command::Mirror => self.on_case(ctx, |desk| {
                desk.workspace.view.mirrored = !desk.workspace.view.mirrored;
            }),
            Command::Invert => self.on_case(ctx, |desk| {
                desk.workspace.tone.inverted = !desk.workspace.tone.inverted;
            }),
            Command::AutoContrast => self.on_case(ctx, |desk| {
                on_case::set_window(desk, Tone::automatic(&desk.workspace.film.film));
            }),
            Command::FullContrast => self.on_case(ctx, |desk| {
                on_case::set_window(desk, Tone::full(&desk.workspace.film.film));
            }),
            Command::LocalContrast => {
                self.on_case(ctx, |desk| {
                    desk.workspace.show_local_contrast = !desk.workspace.show_local_contrast;
                });
                self.prepare_local_contrast(ctx);
            }
        }
    }

    /// Does something to the open case, if there is one.
    fn on_case(&mut self, ctx: &Context, act: impl FnOnce(&mut Desk<'_>)) {
        let mut unused = Vec::new();
        if let Some(mut desk) = desk_of(
            &mut self.workspace,
            &mut self.session,
            &mut self.preferences,
            &mut unused,
        ) {
            act(&mut desk);
            ctx.request_repaint();
        }
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
            Next::OpenOn { case, film } => self.open_case_on(ctx, case, film),
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

    /// Saves a case whose file somebody else has written, as the user chose.
    fn save_changed(&mut self, ctx: &Context, dialog: Dialog, over: Over) {
        if let Dialog::CaseChanged { path, then } = dialog {
            self.write_case(ctx, path, over, then);
        }
    }

    pub(super) fn answer_dialog(&mut self, ctx: &Context, commands: &mut Vec<Command>) {
        let Some(mut dialog) = self.session.dialog.take() else {
            return;
        };
        let opening = self.session.opening.as_ref();
        match dialogs::show(ctx, &mut dialog, &mut self.preferences, opening) {
            Answer::Waiting => self.session.dialog = Some(dialog),
            Answer::Closed => {}
            Answer::Run(command) => commands.push(command),
            Answer::Open(path) => self.session.next = Some(Next::Open(path.trim().into())),
            Answer::ChooseWatchedFolder => self.ask_for_watched_folder(ctx),
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
            Answer::SaveBeside => self.save_changed(ctx, dialog, Over::Beside),
            Answer::SaveOver => self.save_changed(ctx, dialog, Over::Agreed),
            Answer::RemoveCanal(canal) => {
                if let Some(workspace) = &mut self.workspace {
                    workspace.document.apply(Edit::RemoveCanal { canal });
                }
            }
        }
    }
}
