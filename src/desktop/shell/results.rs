//! What jobs bring back, and what becomes of it.

use std::sync::Arc;

use egui::Context;

use super::DesktopApp;
use super::files::absolute;
use super::job_result::{JobResult, Purpose};
use crate::assist::AssistError;
use crate::case::edit::{self, Tool, new_case};
use crate::case::{EarlierFilm, Landmark, Tooth};
use crate::desktop::state::assist::{LastSuggestion, NoSuggestion, Suggestion};
use crate::desktop::state::document::Document;
use crate::desktop::state::edit::Edit;
use crate::desktop::state::jobs::{JobEnd, JobName};
use crate::desktop::state::offers::Offers;
use crate::desktop::state::open_film::OpenFilm;
use crate::desktop::state::recovery::Snapshot;
use crate::desktop::state::saving::{Over, SaveProblem, SavedAs};
use crate::desktop::state::session::Dialog;
use crate::desktop::view::Pyramid;

impl DesktopApp {
    pub(super) fn poll_jobs(&mut self, ctx: &Context) {
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(result) => self.take_result(ctx, result),
                JobEnd::Lost(JobName::Intervals) => {
                    if let Some(workspace) = &mut self.workspace {
                        workspace.keep_live_intervals();
                    }
                }
                JobEnd::Lost(JobName::Assist) => {
                    self.session.assisting = None;
                    self.session.notify("No suggestion: nothing was changed");
                }
                // Nobody has asked for it.
                JobEnd::Lost(JobName::Look) => self.session.looking = None,
                JobEnd::Lost(name) => self.session.report_error(format!(
                    "{} stopped before its end; nothing was changed",
                    name.words()
                )),
            }
        }
        if !self.jobs.is_running(JobName::Open) {
            self.session.opening = None;
        }
    }

    /// Says why nothing was opened; less where it was stopped on purpose.
    fn not_opened(&mut self, problem: String) {
        match &self.session.opening {
            Some(opening) if opening.is_cancelled() => {
                self.session.notify("Opening stopped: nothing was changed");
            }
            _ => self.session.report_error(problem),
        }
    }

    fn take_result(&mut self, ctx: &Context, result: JobResult) {
        match result {
            JobResult::Picked { path: None, .. } => self.session.notify("No file chosen"),
            JobResult::Picked {
                purpose,
                path: Some(path),
            } => match purpose {
                Purpose::Open => self.open_path(ctx, path),
                // The chooser has asked about the very name.
                Purpose::SaveAs { then } => self.write_case(ctx, path, Over::Agreed, then),
                Purpose::Duplicate => self.open_duplicate(ctx, path),
                Purpose::EarlierFilm => self.open_earlier_film(ctx, path),
                Purpose::Record(kind) => self.save_record_to(ctx, kind, path),
            },
            JobResult::Film { path, opened } => match opened {
                Ok(film) => {
                    self.preferences.remember(&path);
                    let mut case = new_case(&absolute(&path));
                    case.film.sha256.clone_from(&film.sha256);
                    self.preferences.own_click_noise.write_into(&mut case);
                    let observer = self.preferences.observer.trim();
                    case.observer = (!observer.is_empty()).then(|| observer.to_owned());
                    let notation = self.preferences.tooth_notation;
                    case.tooth = film.tooth.map(|tooth| Tooth::new(tooth, notation));
                    let said = match &case.tooth {
                        Some(tooth) => {
                            format!("Film opened; its header says tooth {}", tooth.number)
                        }
                        None => "Film opened".to_owned(),
                    };
                    self.show_case(ctx, Document::new(case, None), film, Tool::File);
                    self.session.notify(said);
                }
                Err(problem) => self.not_opened(problem),
            },
            JobResult::Case { path, opened } => match *opened {
                Ok((case, film, sha256)) => {
                    self.preferences.remember(&path);
                    let tool = if case.canals.is_empty() {
                        Tool::File
                    } else {
                        Tool::Select
                    };
                    let document = Document::new(case, Some(path)).read_as(Some(sha256));
                    self.show_case(ctx, document, film, tool);
                    self.session.notify("Case opened");
                }
                Err(problem) => self.not_opened(problem),
            },
            JobResult::Suggested {
                revision,
                of,
                found,
            } => self.take_suggestion(revision, &of, found),
            JobResult::LookedOver { of, found } => self.take_offers(&of, found),
            JobResult::Refined {
                revision,
                of,
                reading,
            } => {
                if let Some(workspace) = &mut self.workspace
                    && Arc::ptr_eq(&of, &workspace.film.pyramid)
                {
                    workspace.refined(revision, *reading);
                }
            }
            JobResult::Demo(demo) => match *demo {
                Ok((case, film)) => {
                    self.show_case(ctx, Document::new(case, None), film, Tool::Select);
                    self.session
                        .notify("This is the demo case: try anything, nothing can be lost");
                }
                Err(problem) => self.not_opened(problem),
            },
            JobResult::Duplicate { case, opened } => match opened {
                Ok(film) if self.is_other_patient(&film) => {
                    self.session.report_error(format!(
                        "{}: this film states another patient than the film open here; a second \
                         film is one of the same tooth. Open it by itself instead",
                        case.film.path
                    ));
                }
                Ok(film) => {
                    let empty = new_case(&case.film.path);
                    self.show_case(ctx, Document::unsaved(*case, None, empty), film, Tool::File);
                    self.session
                        .notify("Same tooth and canals on the second film");
                }
                Err(problem) => self.not_opened(problem),
            },
            JobResult::EarlierFilm { of, found } => self.take_earlier_film(&of, *found),
            JobResult::Restored { snapshot, opened } => match opened {
                Ok(film) => {
                    let Snapshot {
                        mut case,
                        saved,
                        case_path,
                        case_sha256,
                        ..
                    } = *snapshot;
                    case.film.sha256.clone_from(&film.sha256);
                    let document = Document::unsaved(case, case_path, saved).read_as(case_sha256);
                    self.show_case(ctx, document, film, Tool::Select);
                    self.session.notify("Unsaved work restored");
                }
                Err(problem) => self.not_opened(problem),
            },
            JobResult::Saved {
                case,
                path,
                result,
                then,
            } => match result {
                Ok(SavedAs { path, sha256 }) => {
                    self.preferences.remember(&path);
                    self.session.notify(format!("Saved as {}", path.display()));
                    if let Some(workspace) = &mut self.workspace {
                        workspace.document.mark_saved(*case, path, sha256);
                    }
                    self.autosaved_revision = 0;
                    self.session.next = then;
                }
                Err(SaveProblem::Changed) => {
                    self.session.dialog = Some(Dialog::CaseChanged { path, then });
                }
                Err(SaveProblem::Other(problem)) => self.session.report_error(problem),
            },
            JobResult::Recorded(Ok(written)) => {
                let names: Vec<_> = written
                    .iter()
                    .map(|path| path.display().to_string())
                    .collect();
                self.session
                    .notify(format!("Saved as {}", names.join(" and ")));
                self.session.has_saved_record = true;
            }
            JobResult::Recorded(Err(problem)) => self.session.report_error(problem),
            JobResult::Autosaved(Ok(())) => {}
            JobResult::Printed(Ok(())) => self.session.notify("Report sent to the printer"),
            JobResult::Printed(Err(problem)) => self.session.report_error(problem),
            JobResult::Watched { folder } => {
                if folder.is_some() {
                    self.preferences.watched_folder = folder;
                }
                self.session.dialog = Some(Dialog::WatchFolder);
            }
            JobResult::Autosaved(Err(problem)) => self.session.report_error(problem),
            JobResult::LocalContrast { of, local } => {
                if let Some(workspace) = &mut self.workspace
                    && Arc::ptr_eq(&workspace.film.pyramid, &of)
                    && let Some((film, pyramid)) = local
                {
                    workspace.set_local_contrast(film, pyramid);
                }
            }
        }
    }

    /// The film states another patient than the one shown.
    fn is_other_patient(&self, film: &OpenFilm) -> bool {
        let open = self.workspace.as_ref();
        open.is_some_and(|open| open.film.is_of_other_patient(film))
    }

    /// Takes the scale of an earlier film, if it is one of the same patient.
    fn take_earlier_film(
        &mut self,
        of: &Arc<Pyramid>,
        found: Result<(EarlierFilm, OpenFilm), String>,
    ) {
        let (scale, film) = match found {
            Ok(found) => found,
            Err(problem) => return self.not_opened(problem),
        };
        if self.is_other_patient(&film) {
            let problem = "That film states another patient than the film open here: a scale is \
                           taken over only from a film of the same one";
            return self.session.report_error(problem);
        }
        let open = self.workspace.as_mut();
        let Some(workspace) = open.filter(|w| Arc::ptr_eq(of, &w.film.pyramid)) else {
            return;
        };
        let edit = Edit::EarlierFilm(Some(Box::new(scale)));
        workspace.document.apply(edit);
        self.session.notify("Scale of the earlier film taken");
    }

    /// Shows faintly what a look over the film has found.
    fn take_offers(&mut self, of: &Arc<Pyramid>, found: Result<Offers, AssistError>) {
        let running = self.session.looking.take();
        let (Some(workspace), Ok(offers)) = (&mut self.workspace, found) else {
            return;
        };
        let cancelled = running.is_some_and(|running| running.is_cancelled());
        if cancelled || !Arc::ptr_eq(of, &workspace.film.pyramid) {
            return;
        }
        workspace.offers = Some(offers);
    }

    /// Puts a suggestion into the case, or says why there is none.
    fn take_suggestion(
        &mut self,
        revision: u64,
        of: &Arc<Pyramid>,
        found: Result<Suggestion, NoSuggestion>,
    ) {
        let cancelled = self
            .session
            .assisting
            .take()
            .is_none_or(|r| r.is_cancelled());
        let Some(workspace) = &mut self.workspace else {
            return;
        };
        if cancelled || !Arc::ptr_eq(of, &workspace.film.pyramid) {
            return;
        }
        if workspace.document.revision() != revision {
            self.session
                .notify("The case has changed meanwhile: click again for a suggestion");
            return;
        }
        match found {
            Ok(suggestion) => {
                let edit = Edit::Suggestion(Box::new(suggestion.clone()));
                workspace.document.apply(edit);
                self.session.suggested = Some(LastSuggestion {
                    revision: workspace.document.revision(),
                });
                self.session.notify(suggestion.words());
                let case = workspace.document.case();
                let index = self.session.canal;
                let apex = case.canals.get(index).and_then(|canal| canal.apex_px);
                self.session.tool = match (&suggestion, apex) {
                    (Suggestion::Walls { .. }, _) => self.session.tool,
                    (Suggestion::File { .. }, None) => Tool::Landmark(Landmark::Apex),
                    _ => Tool::Select,
                };
                if matches!(suggestion, Suggestion::File { .. }) {
                    self.session.focus_length_of = edit::file_object_index(case, index)
                        .filter(|&object| case.scale.objects[object].true_length_mm.is_none());
                }
            }
            Err(NoSuggestion::Assist(AssistError::Cancelled)) => {}
            Err(problem) => self
                .session
                .notify(format!("No suggestion: {problem}. Nothing was changed")),
        }
    }
}
