//! Objects that come in: taken from an association, kept in a folder.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use dicom_dictionary_std::{tags, uids};

use super::dimse::{self, uid};
use super::fault::{ArchiveError, Fault, at_file};
use super::identity;
use super::link::{Link, Message};
use super::object::Received;
use crate::atomic_file;
use crate::film::OpenLimits;
use crate::film::dicom::COMPRESSED_SYNTAXES;

/// Classes of films that are asked for.
pub(super) const FILM_CLASSES: [&str; 6] = [
    uids::DIGITAL_INTRA_ORAL_X_RAY_IMAGE_STORAGE_FOR_PRESENTATION,
    uids::DIGITAL_INTRA_ORAL_X_RAY_IMAGE_STORAGE_FOR_PROCESSING,
    uids::DIGITAL_X_RAY_IMAGE_STORAGE_FOR_PRESENTATION,
    uids::DIGITAL_X_RAY_IMAGE_STORAGE_FOR_PROCESSING,
    uids::COMPUTED_RADIOGRAPHY_IMAGE_STORAGE,
    uids::SECONDARY_CAPTURE_IMAGE_STORAGE,
];

/// Transfer syntaxes that are taken: exactly those that are decoded, without
/// loss first.
pub(super) fn film_syntaxes() -> Vec<String> {
    let plain = [
        uids::EXPLICIT_VR_LITTLE_ENDIAN,
        uids::IMPLICIT_VR_LITTLE_ENDIAN,
        uids::DEFLATED_EXPLICIT_VR_LITTLE_ENDIAN,
        // Explicit VR Big Endian, retired and still met.
        "1.2.840.10008.1.2.2",
    ];
    let all = plain.iter().chain(COMPRESSED_SYNTAXES);
    all.map(|syntax| (*syntax).to_owned()).collect()
}

/// Most bytes of one object.
pub(super) fn most_bytes() -> u64 {
    OpenLimits::default().max_bytes()
}

/// Takes an object that was offered by C-STORE and answers it. `wanted` says
/// whether it belongs to what was asked for.
pub(super) fn take(
    link: &mut Link,
    message: Message,
    wanted: &dyn Fn(&Received, Option<&str>) -> bool,
    sink: &mut dyn FnMut(Received) -> Result<(), ArchiveError>,
) -> Result<bool, ArchiveError> {
    const NO_ROOM: u16 = 0xA700;
    const NOT_ASKED_FOR: u16 = 0x0124;
    let malformed = |link: &Link, what| link.error(Fault::Malformed(what));
    let command = &message.command;
    let id = dimse::word(command, tags::MESSAGE_ID)
        .ok_or_else(|| malformed(link, "a request without number"))?;
    let class = uid(command, tags::AFFECTED_SOP_CLASS_UID)
        .ok_or_else(|| malformed(link, "an object without class"))?;
    let instance = uid(command, tags::AFFECTED_SOP_INSTANCE_UID)
        .ok_or_else(|| malformed(link, "an object without UID"))?;
    let syntax = link
        .transfer_syntax(message.context)
        .ok_or_else(|| malformed(link, "a context that was not agreed on"))?;
    let data = message
        .data
        .ok_or_else(|| malformed(link, "an object without content"))?;
    let received = Received {
        sop_class_uid: class.clone(),
        sop_instance_uid: instance.clone(),
        transfer_syntax_uid: syntax,
        data,
    };
    let object = dimse::decode(&received.data, &received.transfer_syntax_uid)
        .map_err(|fault| link.error(fault))?;
    let study = uid(&object, tags::STUDY_INSTANCE_UID);
    if uid(&object, tags::SOP_INSTANCE_UID).as_deref() != Some(instance.as_str()) {
        return Err(malformed(link, "an object under another's UID"));
    }
    drop(object);
    let answer = |link: &mut Link, status| {
        let response = dimse::store_response(id, &class, &instance, status);
        link.send(message.context, &response, None)
    };
    if !wanted(&received, study.as_deref()) {
        answer(link, NOT_ASKED_FOR)?;
        return Ok(false);
    }
    match sink(received) {
        Ok(()) => {
            answer(link, dimse::SUCCESS)?;
            Ok(true)
        }
        Err(error) => {
            // What could not be kept is said to the archive too; the answer
            // may fail without hiding the reason.
            let _ = answer(link, NO_ROOM);
            Err(error)
        }
    }
}

/// What of a film is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Keep {
    /// Picture, exposure and UIDs; no name, number, date or free text.
    #[default]
    WithoutIdentity,
    /// Everything, byte for byte.
    Everything,
}

/// A folder that films are written to, each under its SOP Instance UID.
pub struct FilmsFolder {
    folder: PathBuf,
    keep: Keep,
    /// Files written, in order of arrival.
    pub written: Vec<PathBuf>,
    /// Files whose picture is said to have writing in it.
    pub burned_in: Vec<PathBuf>,
}

impl FilmsFolder {
    /// A folder, made where there is none.
    ///
    /// # Errors
    /// A folder that cannot be made.
    pub fn new(folder: &Path, keep: Keep) -> Result<Self, ArchiveError> {
        std::fs::create_dir_all(folder).map_err(|error| at_file(folder, Fault::Write(error)))?;
        Ok(Self {
            folder: folder.to_owned(),
            keep,
            written: Vec::new(),
            burned_in: Vec::new(),
        })
    }

    /// Where a film of that UID stands.
    pub fn path_of(&self, sop_instance_uid: &str) -> PathBuf {
        self.folder.join(format!("{sop_instance_uid}.dcm"))
    }

    /// UIDs of the films that are there: none is fetched again.
    pub fn present(&self) -> HashSet<String> {
        let entries = std::fs::read_dir(&self.folder).into_iter().flatten();
        let names = entries.flatten().map(|entry| entry.file_name());
        let uids = names.filter_map(|name| {
            let uid = name.to_str()?.strip_suffix(".dcm")?.to_owned();
            dimse::is_uid(&uid).then_some(uid)
        });
        uids.collect()
    }

    /// Writes one film.
    ///
    /// # Errors
    /// A full disk, or a data set that cannot be understood.
    pub fn write(&mut self, received: &Received) -> Result<(), ArchiveError> {
        let path = self.path_of(&received.sop_instance_uid);
        let (bytes, burned_in) = match self.keep {
            Keep::Everything => (received.as_file(), false),
            Keep::WithoutIdentity => match identity::without(received) {
                Ok((bytes, burned_in)) => (Ok(bytes), burned_in),
                Err(fault) => (Err(fault), false),
            },
        };
        let bytes = bytes.map_err(|fault| at_file(&path, fault))?;
        atomic_file::write(&path, &bytes).map_err(|error| at_file(&path, Fault::Write(error)))?;
        if burned_in {
            self.burned_in.push(path.clone());
        }
        self.written.push(path);
        Ok(())
    }
}
