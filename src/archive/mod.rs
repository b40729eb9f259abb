//! Films from a DICOM archive and records to it.
//!
//! The wire is dicom-ul's (PS3.8) under rustls, data sets are dicom-object's;
//! this module has the services of PS3.4: verification, query by study root,
//! retrieve by C-GET or by C-MOVE to ourselves, and storage. Everything blocks
//! and is watched: it tells how far it is and stops when asked.
//!
//! Who a film shows is given back to who asked (a list, an answer) and is
//! written nowhere unless the caller says so: see [`identity`].

mod dimse;
mod fault;
mod find;
mod get;
pub mod identity;
mod link;
mod move_to;
mod object;
mod put;
mod queue;
pub mod settings;
mod store;
mod tls;

use std::sync::atomic::{AtomicBool, Ordering};

use dicom_dictionary_std::uids;

pub use fault::{ArchiveError, Fault};
pub use find::{FilmEntry, FindEnd, StudyEntry, StudyQuery, find_films, find_studies};
pub use get::{GetOutcome, Way, get_films};
pub use object::{PartTen, Received};
pub use put::{PutOutcome, put};
pub use queue::{Queue, QueueEntry, SendOutcome};
pub use settings::{Address, Settings, Title};
pub use store::{FilmsFolder, Keep};

use link::{Link, Wanted};

/// Told how far a job is; asked whether it shall stop.
pub struct Watch<'a> {
    /// Done, and of how many where that is known.
    pub progress: &'a (dyn Fn(usize, Option<usize>) + Sync),
    /// Set from outside to stop.
    pub cancel: &'a AtomicBool,
}

impl Watch<'_> {
    pub(crate) fn is_cancelled(&self) -> bool {
        self.cancel.load(Ordering::Relaxed)
    }

    pub(crate) fn tell(&self, done: usize, total: Option<usize>) {
        (self.progress)(done, total);
    }
}

/// The two transfer syntaxes of messages without pictures.
fn plain_syntaxes() -> Vec<String> {
    [
        uids::EXPLICIT_VR_LITTLE_ENDIAN,
        uids::IMPLICIT_VR_LITTLE_ENDIAN,
    ]
    .map(str::to_owned)
    .to_vec()
}

/// Asks whether the archive is there and answers (C-ECHO).
///
/// # Errors
/// [`ArchiveError`], one line.
pub fn echo(settings: &Settings, watch: &Watch) -> Result<(), ArchiveError> {
    let wanted = Wanted {
        contexts: vec![(uids::VERIFICATION, plain_syntaxes())],
        ..Wanted::default()
    };
    let mut link = Link::open(settings, &wanted, watch)?;
    let context = link.context_of(uids::VERIFICATION, "verification (C-ECHO)")?;
    let id = link.message_id();
    let request = dimse::request(dimse::C_ECHO_RQ, id, uids::VERIFICATION, false, []);
    link.send(context.id, &request, None)?;
    let answer = link.receive(0)?;
    let status =
        dimse::status(&answer.command, dimse::C_ECHO_RSP).map_err(|fault| link.error(fault))?;
    if status != dimse::SUCCESS {
        return Err(link.error(Fault::Status {
            doing: "the answer to the echo",
            status,
        }));
    }
    link.release();
    Ok(())
}
