//! The pages of the window.

use egui::{Key, KeyboardShortcut};

use super::shortcut::{ctrl, ctrl_shift};

/// What fills the window below its head.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Page {
    /// The open case, or the ways to open one.
    #[default]
    Case,
    /// The case difficulty assessment of the open case.
    Assessment,
    /// Nominal files in the canals of the open case, and the shaping card.
    Instrument,
    /// The open case and a second film of the same canal, in space.
    TwoFilms,
    /// The clinic's archive.
    Archive,
    /// Two films, before and after shaping.
    BeforeAfter,
    /// A photograph made flat.
    Flatten,
    /// A class of traces, graded.
    Class,
    /// An exercise set to be made.
    Exercises,
}

/// All that is known of a page but the case's.
pub struct PageRow {
    /// Which one.
    pub page: Page,
    /// The window's title while it is shown.
    pub title: &'static str,
    /// The menu entry that shows it, and its key.
    pub command: &'static str,
    pub key: KeyboardShortcut,
}

/// Every page but the case's, in menu order.
pub const PAGES: [PageRow; 8] = [
    PageRow {
        page: Page::Assessment,
        title: "Case difficulty",
        command: "Assess case difficulty…",
        key: ctrl_shift(Key::A),
    },
    PageRow {
        page: Page::Instrument,
        title: "Files in the canal",
        command: "Files in the canal, shaping card…",
        key: ctrl_shift(Key::I),
    },
    PageRow {
        page: Page::TwoFilms,
        title: "Two films, one canal",
        command: "Two films, one canal…",
        key: ctrl_shift(Key::T),
    },
    PageRow {
        page: Page::Archive,
        title: "Archive",
        command: "Films from the archive…",
        key: ctrl_shift(Key::F),
    },
    PageRow {
        page: Page::BeforeAfter,
        title: "Before and after shaping",
        command: "Compare before and after shaping…",
        key: ctrl(Key::B),
    },
    PageRow {
        page: Page::Flatten,
        title: "Photograph made flat",
        command: "Make a photograph flat…",
        key: ctrl_shift(Key::B),
    },
    PageRow {
        page: Page::Class,
        title: "Class",
        command: "Grade a class…",
        key: ctrl(Key::G),
    },
    PageRow {
        page: Page::Exercises,
        title: "Exercises",
        command: "Make an exercise set…",
        key: ctrl(Key::M),
    },
];

impl Page {
    /// Works on the open case and takes steps back and forth.
    pub fn is_of_case(self) -> bool {
        match self {
            Self::Case | Self::Assessment | Self::Instrument | Self::TwoFilms => true,
            Self::Archive | Self::BeforeAfter | Self::Flatten | Self::Class | Self::Exercises => {
                false
            }
        }
    }

    /// The window's title while it is shown; `None`: the case names it.
    pub fn title(self) -> Option<&'static str> {
        PAGES
            .iter()
            .find(|row| row.page == self)
            .map(|row| row.title)
    }
}
