//! Storage (PS3.4 B): objects to the archive.

use std::collections::{BTreeSet, VecDeque};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

use dicom_core::VR;
use dicom_dictionary_std::{tags, uids};

use super::dimse::{self, text};
use super::fault::{ArchiveError, Fault};
use super::identity;
use super::link::{Link, Wanted};
use super::object::PartTen;
use super::settings::Settings;
use super::watch::Watch;

/// Uncompressed transfer syntaxes: between these nothing is lost.
const PLAIN: [&str; 2] = [
    uids::EXPLICIT_VR_LITTLE_ENDIAN,
    uids::IMPLICIT_VR_LITTLE_ENDIAN,
];
/// Most contexts of one association (PS3.8 9.3.2.2: odd numbers to 255).
const MOST_CONTEXTS: usize = 120;

/// What became of each object, in the order given.
#[derive(Debug)]
pub struct PutOutcome {
    /// UID of the object.
    pub sop_instance_uid: String,
    /// Stored, or why not.
    pub result: Result<(), ArchiveError>,
}

/// Sends objects, over as many connections at once as the settings allow.
/// With `complete`, a record without patient gets patient and study as the
/// archive has them for its study.
///
/// An object that is turned down does not stop the others; a connection that
/// breaks leaves those after it unsent, each with that error.
pub fn put(
    settings: &Settings,
    objects: Vec<PartTen>,
    complete: bool,
    watch: &Watch,
) -> Vec<PutOutcome> {
    let total = objects.len();
    let waiting: Mutex<VecDeque<(usize, PartTen)>> =
        Mutex::new(objects.into_iter().enumerate().collect());
    let done = AtomicUsize::new(0);
    let outcomes: Mutex<Vec<Option<PutOutcome>>> = Mutex::new((0..total).map(|_| None).collect());
    let lanes = settings.parallel.clamp(1, super::settings::MOST_PARALLEL);
    let record = |index: usize, uid: String, result: Result<(), ArchiveError>| {
        if result.is_ok() {
            watch.tell(done.fetch_add(1, Ordering::Relaxed) + 1, Some(total));
        }
        let outcome = PutOutcome {
            sop_instance_uid: uid,
            result,
        };
        locked(&outcomes)[index] = Some(outcome);
    };
    std::thread::scope(|scope| {
        for _ in 0..lanes.min(total) {
            scope.spawn(|| {
                loop {
                    let share = (total / lanes / 4).clamp(1, 100);
                    let mut batch = Vec::new();
                    {
                        let mut waiting = locked(&waiting);
                        while batch.len() < share
                            && let Some(next) = waiting.pop_front()
                        {
                            batch.push(next);
                        }
                    }
                    if batch.is_empty() {
                        break;
                    }
                    send_batch(settings, batch, complete, watch, &record);
                }
            });
        }
    });
    let outcomes = outcomes.into_inner().unwrap_or_else(|p| p.into_inner());
    outcomes.into_iter().flatten().collect()
}

fn locked<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(|poison| poison.into_inner())
}

/// Sends some objects over one association.
fn send_batch(
    settings: &Settings,
    batch: Vec<(usize, PartTen)>,
    complete: bool,
    watch: &Watch,
    record: &dyn Fn(usize, String, Result<(), ArchiveError>),
) {
    let mut ready = Vec::new();
    for (index, part) in batch {
        let uid = part.sop_instance_uid.clone();
        if !complete {
            ready.push((index, part));
            continue;
        }
        match identity::complete(settings, part, watch) {
            Ok((part, true)) => ready.push((index, part)),
            Ok((_, false)) => {
                let fault = Fault::NotSendable(format!(
                    "{uid}: the archive has no study of that number, so whose it is cannot be told; send it as it is without --file-under-study"
                ));
                record(index, uid, Err(ArchiveError::new(&settings.at, fault)));
            }
            Err(error) => record(index, uid, Err(error)),
        }
    }
    if ready.is_empty() {
        return;
    }
    let mut link = match Link::open(settings, &wanted(&ready), watch) {
        Ok(link) => link,
        Err(error) => {
            for (index, part) in ready {
                record(index, part.sop_instance_uid, Err(again(&error)));
            }
            return;
        }
    };
    let mut broken: Option<ArchiveError> = None;
    for (index, part) in ready {
        let result = match &broken {
            Some(error) => Err(again(error)),
            None => store(&mut link, &part),
        };
        if let Err(error) = &result
            && ends_the_association(&error.fault)
            && broken.is_none()
        {
            broken = Some(again(error));
        }
        record(index, part.sop_instance_uid, result);
    }
    if broken.is_none() {
        link.release();
    }
}

/// The contexts for some objects: each class in its own transfer syntax, and
/// the plain ones where the object is uncompressed.
fn wanted(objects: &[(usize, PartTen)]) -> Wanted {
    let mut pairs = BTreeSet::new();
    for (_, part) in objects {
        pairs.insert((part.sop_class_uid.clone(), part.transfer_syntax_uid.clone()));
        if PLAIN.contains(&part.transfer_syntax_uid.as_str()) {
            for syntax in PLAIN {
                pairs.insert((part.sop_class_uid.clone(), syntax.to_owned()));
            }
        }
    }
    let stored = pairs.into_iter().take(MOST_CONTEXTS);
    Wanted {
        stored: stored
            .map(|(class, syntax)| (class, vec![syntax]))
            .collect(),
        ..Wanted::default()
    }
}

/// One C-STORE.
fn store(link: &mut Link, part: &PartTen) -> Result<(), ArchiveError> {
    let contexts = link.contexts();
    let of_class = || {
        contexts
            .iter()
            .filter(|context| context.abstract_syntax == part.sop_class_uid)
    };
    let context = of_class()
        .find(|context| context.transfer_syntax == part.transfer_syntax_uid)
        .or_else(|| {
            let is_plain = PLAIN.contains(&part.transfer_syntax_uid.as_str());
            of_class().find(|context| is_plain && PLAIN.contains(&context.transfer_syntax.as_str()))
        })
        .cloned();
    let Some(context) = context else {
        let service = format!(
            "storage of this kind of object (class {}, transfer syntax {})",
            part.sop_class_uid, part.transfer_syntax_uid
        );
        return Err(link.error(Fault::NotOffered(service)));
    };
    let data = part
        .data_in(&context.transfer_syntax)
        .map_err(|fault| link.error(fault))?;
    let id = link.message_id();
    let instance = text(
        tags::AFFECTED_SOP_INSTANCE_UID,
        VR::UI,
        &part.sop_instance_uid,
    );
    let command = dimse::request(dimse::C_STORE_RQ, id, &part.sop_class_uid, true, [instance]);
    link.send(context.id, &command, Some(&data))?;
    let answer = link.receive(0)?;
    let status =
        dimse::status(&answer.command, dimse::C_STORE_RSP).map_err(|fault| link.error(fault))?;
    match status == dimse::SUCCESS || dimse::is_warning(status) {
        true => Ok(()),
        false => Err(link.error(Fault::Status {
            doing: "storing",
            status,
        })),
    }
}

/// After these nothing more can be sent over the association.
fn ends_the_association(fault: &Fault) -> bool {
    !matches!(
        fault,
        Fault::Status { .. } | Fault::NotOffered(_) | Fault::NotSendable(_)
    )
}

/// The same error for another object.
fn again(error: &ArchiveError) -> ArchiveError {
    let fault = match &error.fault {
        Fault::Unreachable(reason) => Fault::Unreachable(reason.clone()),
        Fault::Tls(reason) => Fault::Tls(reason.clone()),
        Fault::Refused(reason) => Fault::Refused(reason),
        Fault::Busy => Fault::Busy,
        Fault::Silent => Fault::Silent,
        Fault::Timeout { seconds } => Fault::Timeout { seconds: *seconds },
        Fault::Malformed(what) => Fault::Malformed(what),
        Fault::NotOffered(what) => Fault::NotOffered(what.clone()),
        Fault::Cancelled => Fault::Cancelled,
        Fault::Settings(text) => Fault::Settings(text.clone()),
        _ => Fault::Broken,
    };
    ArchiveError::new(&error.place, fault)
}
