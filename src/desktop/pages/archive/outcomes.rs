//! What the archive's jobs have brought, taken.

use egui::Context;

use super::form::Form;
use super::work::Sent;
use super::{ArchivePage, Outcome};
use crate::archive::FindEnd;
use crate::desktop::state::page::Page;
use crate::desktop::state::session::{Next, Session};
use crate::desktop::ui::wording::counted;

impl ArchivePage {
    pub(super) fn take(&mut self, ctx: &Context, session: &mut Session, outcome: Outcome) {
        let ends_run = !matches!(
            outcome,
            Outcome::Loaded(_)
                | Outcome::Saved(_)
                | Outcome::Certificate(_)
                | Outcome::Waiting(_)
                | Outcome::Thumbnails
        );
        let was_stopped = ends_run
            && self
                .running
                .take()
                .is_some_and(|(_, running)| running.is_cancelled());
        let problem = match outcome {
            Outcome::Loaded(Ok(settings)) => {
                self.shows_settings = settings.is_none();
                if let Some(settings) = settings {
                    self.form = Form::of(&settings);
                    self.settings = Some(settings);
                }
                None
            }
            Outcome::Loaded(Err(problem)) => {
                self.shows_settings = true;
                Some(problem)
            }
            Outcome::Thumbnails => {
                self.fetch_thumbnails(ctx);
                None
            }
            Outcome::Saved(Ok(())) | Outcome::Certificate(None) => None,
            Outcome::Certificate(Some(path)) => {
                self.form.set_certificate(&path);
                None
            }
            Outcome::Tested(Ok(ms)) => {
                let at = self
                    .settings
                    .as_ref()
                    .map_or(String::new(), |s| s.at.to_string());
                self.message = format!("{at} answers ({ms:.0} ms)");
                None
            }
            Outcome::Searched(ended) => {
                self.take_arrived();
                self.arriving = None;
                self.newest_first();
                let found = match self.studies.len() {
                    1 => "1 study".to_owned(),
                    count => format!("{count} studies"),
                };
                match ended {
                    Ok(FindEnd::Complete) => {
                        self.message = found;
                        None
                    }
                    Ok(FindEnd::Enough) => {
                        self.message = format!("the first {found}; narrow the search");
                        None
                    }
                    Err(_) if was_stopped => {
                        self.message = format!("stopped after {found}");
                        None
                    }
                    Err(problem) => Some(format!("the list ends after {found}: {problem}")),
                }
            }
            Outcome::Films(study, Ok(films)) => {
                self.begin_thumbnails(ctx, &study, &films);
                self.films = Some((study, films));
                None
            }
            Outcome::Fetched(Ok(fetched)) => {
                if fetched.has_writing {
                    session.report_error(format!(
                        "{}: its header says that writing is part of the picture; look whether it \
                         names somebody",
                        fetched.path.display()
                    ));
                }
                session.page = Page::Case;
                session.next = Some(Next::Open(fetched.path));
                None
            }
            Outcome::Sent(Ok(sent)) => {
                self.message = sent_words(&sent);
                self.waiting = sent.waiting;
                sent.problem.filter(|_| !was_stopped)
            }
            Outcome::Waiting(Ok(waiting)) => {
                self.waiting = waiting;
                None
            }
            Outcome::Tested(Err(_))
            | Outcome::Films(_, Err(_))
            | Outcome::Fetched(Err(_))
            | Outcome::Sent(Err(_))
                if was_stopped =>
            {
                self.message = "stopped".to_owned();
                self.look_at_queue(ctx);
                None
            }
            Outcome::Saved(Err(problem))
            | Outcome::Tested(Err(problem))
            | Outcome::Films(_, Err(problem))
            | Outcome::Fetched(Err(problem))
            | Outcome::Waiting(Err(problem)) => Some(problem),
            Outcome::Sent(Err(problem)) => {
                self.look_at_queue(ctx);
                Some(problem)
            }
        };
        if problem.is_some() {
            self.problem = problem;
        }
    }
}

fn sent_words(sent: &Sent) -> String {
    let there = match sent.already_there {
        0 => String::new(),
        count => format!(", {count} there already"),
    };
    let waiting = match sent.waiting.len() {
        0 => String::new(),
        count => format!(", {count} waiting"),
    };
    format!("{} sent{there}{waiting}", counted(sent.sent, "object"))
}
