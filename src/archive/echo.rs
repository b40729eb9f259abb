//! Verification (PS3.4 A): is the archive there?

use dicom_dictionary_std::uids;

use super::dimse::{self, plain_syntaxes};
use super::fault::{ArchiveError, Fault};
use super::link::{Link, Wanted};
use super::settings::Settings;
use super::watch::Watch;

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
