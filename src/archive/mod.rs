//! Films from a DICOM archive and records to it.
//!
//! The wire is dicom-ul's (PS3.8) under rustls, data sets are dicom-object's;
//! this module has the services of PS3.4: verification, query by study root,
//! retrieve by C-GET or by C-MOVE to ourselves, and storage. Everything blocks
//! and is watched: it tells how far it is and stops when asked.
//!
//! Who a film shows is given back to who asked (a list, an answer) and is
//! written nowhere unless the caller says so: see [`identity`].

mod dates;
mod dimse;
mod echo;
mod fault;
mod find;
mod get;
pub mod identity;
mod link;
mod move_to;
mod object;
mod put;
mod queue;
mod retrieval;
pub mod settings;
mod store;
mod tls;
mod watch;

pub use dates::date_range;
pub use echo::echo;
pub use fault::{ArchiveError, Fault};
pub use find::{FilmEntry, FindEnd, StudyEntry, StudyQuery, find_films, find_studies};
pub use get::{Way, get_films};
pub use object::{PartTen, Received};
pub use put::{PutOutcome, put};
pub use queue::{Queue, QueueEntry, SendOutcome};
pub use retrieval::GetOutcome;
pub use settings::{Address, Settings, Title};
pub use store::{FilmsFolder, Keep};
pub use watch::Watch;
