//! What jobs bring back.

use std::path::PathBuf;
use std::sync::Arc;

use crate::assist::AssistError;
use crate::case::{Case, EarlierFilm};
use crate::desktop::state::assist::{NoSuggestion, Suggestion};
use crate::desktop::state::offers::Offers;
use crate::desktop::state::open_film::OpenFilm;
use crate::desktop::state::reading::Reading;
use crate::desktop::state::records::RecordKind;
use crate::desktop::state::recovery::Snapshot;
use crate::desktop::state::saving::{SaveProblem, SavedAs};
use crate::desktop::state::session::Next;
use crate::desktop::view::Pyramid;
use crate::film::Film;

/// Why the user was asked for a file.
#[derive(Clone, Debug)]
pub(super) enum Purpose {
    Open,
    SaveAs { then: Option<Next> },
    Duplicate,
    EarlierFilm,
    Record(RecordKind),
}

/// What a job brings back.
pub(super) enum JobResult {
    Picked {
        purpose: Purpose,
        path: Option<PathBuf>,
    },
    Film {
        path: PathBuf,
        opened: Result<OpenFilm, String>,
    },
    Case {
        path: PathBuf,
        opened: Box<Result<(Case, OpenFilm, String), String>>,
    },
    Demo(Box<Result<(Case, OpenFilm), String>>),
    Duplicate {
        case: Box<Case>,
        opened: Result<OpenFilm, String>,
    },
    EarlierFilm {
        /// The film its scale is for.
        of: Arc<Pyramid>,
        found: Box<Result<(EarlierFilm, OpenFilm), String>>,
    },
    Restored {
        snapshot: Box<Snapshot>,
        opened: Result<OpenFilm, String>,
    },
    Saved {
        case: Box<Case>,
        path: PathBuf,
        result: Result<SavedAs, SaveProblem>,
        then: Option<Next>,
    },
    Autosaved(Result<(), String>),
    Printed(Result<(), String>),
    /// The folder to watch.
    Watched {
        folder: Option<PathBuf>,
    },
    Recorded(Result<Vec<PathBuf>, String>),
    LocalContrast {
        of: Arc<Pyramid>,
        local: Option<(Arc<Film>, Arc<Pyramid>)>,
    },
    Suggested {
        /// Revision the request was made at.
        revision: u64,
        of: Arc<Pyramid>,
        found: Result<Suggestion, NoSuggestion>,
    },
    LookedOver {
        of: Arc<Pyramid>,
        found: Result<Offers, AssistError>,
    },
    Refined {
        revision: u64,
        of: Arc<Pyramid>,
        reading: Box<Reading>,
    },
}
