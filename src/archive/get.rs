//! Retrieve: C-GET (PS3.4 C.4.3), or C-MOVE to ourselves where the archive
//! offers only that.

use std::collections::HashSet;

use dicom_dictionary_std::{tags, uids};

use super::dimse::{self, plain_syntaxes};
use super::fault::{ArchiveError, Fault};
use super::find::find_films;
use super::link::{Link, Wanted};
use super::move_to;
use super::object::Received;
use super::retrieval::{GetOutcome, Request, retrieval_end};
use super::settings::Settings;
use super::store::{FILM_CLASSES, film_syntaxes, most_bytes, take};
use super::watch::Watch;

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
