//! The pages of the window. None uses another; what one hands to another goes
//! through [`Pages`].

pub mod assessment;
pub mod case;
pub mod class;
pub mod exercise;
pub mod instrument;
pub mod two_films;

use std::path::PathBuf;

use egui::{Context, Ui};

use super::state::page::Page;
use super::state::page_view::{CasePageView, PageView};
use super::state::session::Session;
use assessment::AssessmentPage;
use class::ClassPage;
use exercise::ExercisePage;
use instrument::InstrumentPage;
use two_films::TwoFilmsPage;

/// Every page but the case's own.
#[derive(Default)]
pub struct Pages {
    pub class: ClassPage,
    exercise: ExercisePage,
    assessment: AssessmentPage,
    instrument: InstrumentPage,
    two_films: TwoFilmsPage,
}

impl Pages {
    /// The view of a page; `None` for those that work on the open case.
    pub fn view(&mut self, page: Page) -> Option<&mut dyn PageView> {
        match page {
            Page::Case | Page::Assessment | Page::Instrument | Page::TwoFilms => None,
            Page::Class => Some(&mut self.class),
            Page::Exercises => Some(&mut self.exercise),
        }
    }

    /// A page that works on the open case; `None` for the case's own and for
    /// those that need no case.
    pub fn of_case(&mut self, page: Page) -> Option<&mut dyn CasePageView> {
        match page {
            Page::Case | Page::Class | Page::Exercises => None,
            Page::Assessment => Some(&mut self.assessment),
            Page::Instrument => Some(&mut self.instrument),
            Page::TwoFilms => Some(&mut self.two_films),
        }
    }

    /// Those of them that have jobs.
    fn of_case_all(&mut self) -> [&mut dyn CasePageView; 2] {
        [&mut self.instrument, &mut self.two_films]
    }

    fn all(&self) -> [(Page, &dyn PageView); 2] {
        [
            (Page::Class, &self.class),
            (Page::Exercises, &self.exercise),
        ]
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

    /// Asks for the traces of a practice set, whose sealed truth may be known.
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
