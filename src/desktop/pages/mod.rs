//! The pages of the window. None uses another; what one hands to another goes
//! through [`Pages`].

mod archive;
pub mod assessment;
pub mod before_after;
pub mod case;
pub mod class;
pub mod exercise;
mod flatten;
pub mod instrument;
pub mod two_films;

use std::path::{Path, PathBuf};

use egui::{Context, Ui};

use super::state::page::Page;
use super::state::page_view::{CasePageView, PageView};
use super::state::records::RecordOrder;
use super::state::session::Session;
use super::state::workspace::Workspace;
use archive::ArchivePage;
use assessment::AssessmentPage;
use before_after::BeforeAfterPage;
use class::ClassPage;
use exercise::ExercisePage;
use flatten::FlattenPage;
use instrument::InstrumentPage;
use two_films::TwoFilmsPage;

/// Every page but the case's own.
#[derive(Default)]
pub struct Pages {
    pub class: ClassPage,
    exercise: ExercisePage,
    before_after: BeforeAfterPage,
    archive: ArchivePage,
    flatten: FlattenPage,
    assessment: AssessmentPage,
    instrument: InstrumentPage,
    two_films: TwoFilmsPage,
}

impl Pages {
    /// Nothing shown yet; the archive's page keeps its files in `data_folder`.
    pub fn new(data_folder: Option<PathBuf>) -> Self {
        Self {
            archive: ArchivePage::new(data_folder),
            ..Self::default()
        }
    }

    /// The view of a page; `None` for those that work on the open case.
    pub fn view(&mut self, page: Page) -> Option<&mut dyn PageView> {
        match page {
            Page::Case | Page::Assessment | Page::Instrument | Page::TwoFilms => None,
            Page::Flatten => Some(&mut self.flatten),
            Page::Archive => Some(&mut self.archive),
            Page::BeforeAfter => Some(&mut self.before_after),
            Page::Class => Some(&mut self.class),
            Page::Exercises => Some(&mut self.exercise),
        }
    }

    /// A page that works on the open case; `None` for the case's own and for
    /// those that need no case.
    pub fn of_case(&mut self, page: Page) -> Option<&mut dyn CasePageView> {
        match page {
            Page::Case
            | Page::Archive
            | Page::BeforeAfter
            | Page::Class
            | Page::Exercises
            | Page::Flatten => None,
            Page::Assessment => Some(&mut self.assessment),
            Page::Instrument => Some(&mut self.instrument),
            Page::TwoFilms => Some(&mut self.two_films),
        }
    }

    /// Those of them that have jobs.
    fn of_case_all(&mut self) -> [&mut dyn CasePageView; 2] {
        [&mut self.instrument, &mut self.two_films]
    }

    fn all(&self) -> [(Page, &dyn PageView); 5] {
        [
            (Page::Archive, &self.archive),
            (Page::Flatten, &self.flatten),
            (Page::BeforeAfter, &self.before_after),
            (Page::Class, &self.class),
            (Page::Exercises, &self.exercise),
        ]
    }

    /// A page is about to be shown beside the open case.
    pub fn enter(&mut self, page: Page, open_case: Option<&Workspace>) {
        match (page, open_case) {
            (Page::BeforeAfter, Some(open)) => self.before_after.take_open_case(open),
            (Page::Archive, open) => self.archive.take_open_case(open.map(record_of)),
            _ => {}
        }
    }

    /// Sends the open case's record to the archive, on the archive's page.
    pub fn send_record(&mut self, open_case: Option<&Workspace>) {
        self.enter(Page::Archive, open_case);
        self.archive.send_open_record();
    }

    /// Shows the page of the session; `false`: it is the case's.
    pub fn show(&mut self, ui: &mut Ui, session: &mut Session) -> bool {
        let Some(view) = self.view(session.page) else {
            return false;
        };
        view.show(ui, session);
        if let Some(sealed) = self.exercise.take_to_grade() {
            self.grade_exercises(session, Some(sealed));
        }
        if let Some(pair) = self.class.take_pair_to_open() {
            let ctx = ui.ctx().clone();
            self.before_after
                .open_pair(&ctx, pair.cases, pair.films, pair.follow_walls);
            session.page = Page::BeforeAfter;
        }
        true
    }

    /// Takes what the jobs of all pages have brought.
    pub fn poll(&mut self, ctx: &Context, session: &mut Session) {
        for page in self.all().map(|(page, _)| page) {
            if let Some(view) = self.view(page) {
                view.poll(ctx, session);
            }
        }
        for view in self.of_case_all() {
            view.poll(ctx, session);
        }
    }

    /// A job of any page is under way.
    pub fn is_busy(&self) -> bool {
        let of_case: [&dyn CasePageView; 2] = [&self.instrument, &self.two_films];
        self.all().iter().any(|(_, view)| view.is_busy())
            || of_case.iter().any(|view| view.is_busy())
    }

    /// Long jobs of the pages that are not shown, in words.
    pub fn progress_elsewhere(&self, shown: Page) -> Vec<(Page, String)> {
        let others = self.all().into_iter().filter(|(page, _)| *page != shown);
        others
            .filter_map(|(page, view)| Some((page, view.progress_words()?)))
            .collect()
    }

    /// The window closes.
    pub fn close(&mut self) {
        for page in self.all().map(|(page, _)| page) {
            if let Some(view) = self.view(page) {
                view.close();
            }
        }
    }

    /// Asks for the traces of an exercise set, whose sealed truth may be known.
    pub fn grade_exercises(&mut self, session: &mut Session, sealed: Option<PathBuf>) {
        self.class.choose_exercises(sealed);
        session.page = Page::Class;
    }

    /// Takes case files and folders to grade.
    pub fn grade_files(&mut self, session: &mut Session, paths: Vec<PathBuf>) {
        self.class.add_files(paths);
        session.page = Page::Class;
    }
}

/// What a record of the open case is made from.
fn record_of(open: &Workspace) -> RecordOrder {
    RecordOrder {
        case: open.document.case().clone(),
        case_path: open.document.case_path().map(Path::to_owned),
        film: open.film.clone(),
        settings: open.settings().clone(),
        include_identity: false,
        include_file_names: false,
    }
}
