//! Retrieve: C-GET (PS3.4 C.4.3), or C-MOVE to ourselves where the archive
//! offers only that.

use std::collections::HashSet;

use dicom_core::{Tag, VR};
use dicom_dictionary_std::{tags, uids};

use super::dimse;
use super::fault::{ArchiveError, Fault};
use super::find::find_films;
use super::link::{Link, Wanted};
use super::object::Received;
use super::settings::Settings;
use super::store::{FILM_CLASSES, film_syntaxes, most_bytes, take};
use super::{Watch, move_to, plain_syntaxes};

const CLASS: &str = uids::STUDY_ROOT_QUERY_RETRIEVE_INFORMATION_MODEL_GET;

/// How films are fetched.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Way {
    /// C-GET, and C-MOVE where that is not offered.
    #[default]
    Either,
    /// C-MOVE to ourselves.
    Move,
}

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

/// Gives every film of a study to `sink` but those that are `present`; with
/// `only`, the films of that list alone.
///
/// # Errors
/// [`ArchiveError`]; what went to the sink before stands, and a second call
/// that is told of it fetches the rest.
pub fn get_films(
    settings: &Settings,
    study_instance_uid: &str,
    only: &[String],
    present: &HashSet<String>,
    way: Way,
    sink: &mut dyn FnMut(Received) -> Result<(), ArchiveError>,
    watch: &Watch,
) -> Result<GetOutcome, ArchiveError> {
    if !dimse::is_uid(study_instance_uid) {
        let text = format!("`{study_instance_uid}` is no Study Instance UID");
        return Err(ArchiveError::new(&settings.at, Fault::Settings(text)));
    }
    let mut outcome = GetOutcome::default();
    let mut request = Request {
        study: study_instance_uid.to_owned(),
        films: Vec::new(),
    };
    // Film by film where some are here or few are asked for.
    if !only.is_empty() || !present.is_empty() {
        let films = find_films(settings, study_instance_uid, watch)?;
        let asked = |uid: &String| only.is_empty() || only.contains(uid);
        let films = films
            .into_iter()
            .filter(|film| asked(&film.sop_instance_uid));
        let (here, lacking): (Vec<_>, Vec<_>) =
            films.partition(|film| present.contains(&film.sop_instance_uid));
        outcome.present = here.len();
        if lacking.is_empty() {
            return Ok(outcome);
        }
        let keys = lacking
            .into_iter()
            .map(|film| (film.series_instance_uid, film.sop_instance_uid));
        request.films = keys.collect();
    }
    let arrived = match way {
        Way::Move => move_to::retrieve(settings, &request, sink, watch)?,
        Way::Either => match by_get(settings, &request, sink, watch) {
            Err(error) if matches!(error.fault, Fault::NotOffered(_)) => {
                move_to::retrieve(settings, &request, sink, watch)?
            }
            other => other?,
        },
    };
    outcome.fetched = arrived.fetched;
    outcome.not_sent = arrived.not_sent;
    Ok(outcome)
}

fn by_get(
    settings: &Settings,
    request: &Request,
    sink: &mut dyn FnMut(Received) -> Result<(), ArchiveError>,
    watch: &Watch,
) -> Result<GetOutcome, ArchiveError> {
    // A context for each transfer syntax: the archive sends in the one it
    // holds the film in, and never has to choose one for all.
    let mut contexts = vec![(CLASS, plain_syntaxes())];
    for class in FILM_CLASSES {
        for syntax in film_syntaxes() {
            contexts.push((class, vec![syntax]));
        }
    }
    let wanted = Wanted {
        contexts,
        receives: FILM_CLASSES.to_vec(),
        ..Wanted::default()
    };
    let mut link = Link::open(settings, &wanted, watch)?;
    let context = link.context_of(CLASS, "retrieval (C-GET)")?;
    let mut outcome = GetOutcome::default();
    let total = (!request.films.is_empty()).then_some(request.films.len());
    for keys in request.identifiers() {
        let keys: Vec<_> = keys.iter().map(|(t, v, s)| (*t, *v, s.as_str())).collect();
        let identifier = dimse::encode(&dimse::identifier(&keys), &context.transfer_syntax)
            .map_err(|fault| link.error(fault))?;
        let id = link.message_id();
        let command = dimse::request(dimse::C_GET_RQ, id, CLASS, true, []);
        link.send(context.id, &command, Some(&identifier))?;
        loop {
            let message = link.receive(most_bytes())?;
            if dimse::word(&message.command, tags::COMMAND_FIELD) == Some(dimse::C_STORE_RQ) {
                let wanted =
                    |received: &Received, study: Option<&str>| request.is_wanted(received, study);
                outcome.fetched += usize::from(take(&mut link, message, &wanted, sink)?);
                watch.tell(outcome.fetched, total);
                continue;
            }
            let end = retrieval_end(&link, &message.command, dimse::C_GET_RSP, outcome.fetched)?;
            if let Some(not_sent) = end {
                outcome.not_sent += not_sent;
                break;
            }
        }
    }
    link.release();
    Ok(outcome)
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
