//! What C-GET and C-MOVE share: what is asked for, and how it ends.

use dicom_core::{Tag, VR};
use dicom_dictionary_std::tags;

use super::dimse;
use super::fault::{ArchiveError, Fault};
use super::link::Link;
use super::object::Received;

/// What came of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct GetOutcome {
    /// Films that arrived.
    pub fetched: usize,
    /// Films that were here already.
    pub present: usize,
    /// Objects of the study that the archive did not send: no films, or in a
    /// form that is not read here.
    pub not_sent: usize,
}

/// What one retrieval is about.
pub(super) struct Request {
    pub study: String,
    /// Single films and their series; empty: the whole study.
    pub films: Vec<(String, String)>,
}

impl Request {
    /// The keys of each retrieval: the study, or the films of each series.
    pub(super) fn identifiers(&self) -> Vec<Vec<(Tag, VR, String)>> {
        let study = (tags::STUDY_INSTANCE_UID, VR::UI, self.study.clone());
        let level = |name: &str| (tags::QUERY_RETRIEVE_LEVEL, VR::CS, name.to_owned());
        if self.films.is_empty() {
            return vec![vec![level("STUDY"), study]];
        }
        let one = |(series, film): &(String, String)| {
            vec![
                (tags::SOP_INSTANCE_UID, VR::UI, film.clone()),
                level("IMAGE"),
                study.clone(),
                (tags::SERIES_INSTANCE_UID, VR::UI, series.clone()),
            ]
        };
        self.films.iter().map(one).collect()
    }

    pub(super) fn is_wanted(&self, received: &Received, study: Option<&str>) -> bool {
        let film = &received.sop_instance_uid;
        study == Some(self.study.as_str())
            && (self.films.is_empty() || self.films.iter().any(|(_, one)| one == film))
    }
}

/// Reads an answer to a retrieval: `None` while it goes on, else how many
/// objects were not sent.
pub(super) fn retrieval_end(
    link: &Link,
    command: &dicom_object::InMemDicomObject,
    field: u16,
    fetched: usize,
) -> Result<Option<usize>, ArchiveError> {
    let status = dimse::status(command, field).map_err(|fault| link.error(fault))?;
    if dimse::is_pending(status) {
        return Ok(None);
    }
    let failed = dimse::word(command, tags::NUMBER_OF_FAILED_SUBOPERATIONS).unwrap_or(0);
    // Some archives call it a failure when a single object stays behind.
    let partly = matches!(status, 0xA702) && fetched > 0;
    match status == dimse::SUCCESS || dimse::is_warning(status) || partly {
        true => Ok(Some(usize::from(failed))),
        false => Err(link.error(Fault::Status {
            doing: "the retrieval",
            status,
        })),
    }
}
