//! Objects as they are sent and as they come.

use std::path::Path;

use dicom_core::VR;
use dicom_dictionary_std::{tags, uids};
use dicom_object::InMemDicomObject;
use dicom_object::meta::FileMetaTableBuilder;

use super::dimse::{self, text, uid};
use super::fault::{ArchiveError, Fault, at_file};
use super::link::contained;
use crate::film::OpenLimits;
use crate::film::dicom::is_dicom;
use crate::film::dicom::write::derived_uid;
use crate::input_file;

/// Preamble and prefix of a file (PS3.10 7.1).
const META_START: usize = 132;

/// An object that arrived, in the transfer syntax it was sent in.
pub struct Received {
    pub sop_class_uid: String,
    pub sop_instance_uid: String,
    pub transfer_syntax_uid: String,
    /// The data set, byte for byte.
    pub data: Vec<u8>,
}

impl Received {
    /// A Part 10 file around the data set as it came, with all that it states.
    ///
    /// # Errors
    /// A data set that fits into no file.
    pub fn as_file(&self) -> Result<Vec<u8>, Fault> {
        part_ten(
            &self.sop_class_uid,
            &self.sop_instance_uid,
            &self.transfer_syntax_uid,
            &self.data,
        )
    }
}

/// A Part 10 file in memory, ready to be sent.
pub struct PartTen {
    pub sop_class_uid: String,
    pub sop_instance_uid: String,
    pub transfer_syntax_uid: String,
    pub study_instance_uid: Option<String>,
    pub series_instance_uid: Option<String>,
    /// The data set, byte for byte as in the file.
    pub(super) data: Vec<u8>,
}

impl PartTen {
    /// Reads a file.
    ///
    /// # Errors
    /// A file that cannot be read, is too large or no DICOM file, or lacks
    /// what an archive files it under.
    pub fn read(path: &Path) -> Result<Self, ArchiveError> {
        let bytes = input_file::read(path, OpenLimits::default().max_bytes())
            .map_err(|error| at_file(path, Fault::Read(error)))?;
        Self::parse(bytes).map_err(|fault| at_file(path, fault))
    }

    /// Reads a file that is in memory already.
    ///
    /// # Errors
    /// As [`PartTen::read`].
    pub fn parse(bytes: Vec<u8>) -> Result<Self, Fault> {
        let not = |what: &str| Fault::NotSendable(what.to_owned());
        if !is_dicom(&bytes) {
            return Err(not(
                "no DICOM file; an archive takes .dcm (lengthfilm report CASE --out NAME.dcm)",
            ));
        }
        let damaged = || not("its DICOM header is damaged; export it again");
        let meta_bytes = &bytes[META_START..];
        // The group length says where the meta information ends (PS3.10 7.1).
        let length = meta_bytes
            .get(8..12)
            .and_then(|length| length.try_into().ok())
            .map(u32::from_le_bytes)
            .filter(|_| meta_bytes.starts_with(&[2, 0, 0, 0, b'U', b'L']))
            .ok_or_else(damaged)? as usize;
        let meta_end = 12_usize
            .checked_add(length)
            .filter(|&end| end <= meta_bytes.len())
            .ok_or_else(damaged)?;
        let meta = dimse::decode(&meta_bytes[..meta_end], uids::EXPLICIT_VR_LITTLE_ENDIAN)
            .map_err(|_| damaged())?;
        let transfer_syntax_uid = uid(&meta, tags::TRANSFER_SYNTAX_UID).ok_or_else(damaged)?;
        let data = meta_bytes[meta_end..].to_vec();
        let object = dimse::decode(&data, &transfer_syntax_uid)
            .map_err(|_| not("its content is damaged or of an unknown transfer syntax"))?;
        let needed = |tag, name: &str| {
            uid(&object, tag).ok_or_else(|| not(&format!("its {name} is missing or damaged")))
        };
        Ok(Self {
            sop_class_uid: needed(tags::SOP_CLASS_UID, "SOP Class UID")?,
            sop_instance_uid: needed(tags::SOP_INSTANCE_UID, "SOP Instance UID")?,
            study_instance_uid: uid(&object, tags::STUDY_INSTANCE_UID),
            series_instance_uid: uid(&object, tags::SERIES_INSTANCE_UID),
            transfer_syntax_uid,
            data,
        })
    }

    /// The data set as an object.
    pub(super) fn object(&self) -> Result<InMemDicomObject, Fault> {
        dimse::decode(&self.data, &self.transfer_syntax_uid)
    }

    /// The same object with another data set, written in `transfer_syntax`.
    pub(super) fn rewritten(
        &self,
        object: &InMemDicomObject,
        transfer_syntax: &str,
    ) -> Result<Self, Fault> {
        Ok(Self {
            sop_class_uid: self.sop_class_uid.clone(),
            sop_instance_uid: self.sop_instance_uid.clone(),
            study_instance_uid: self.study_instance_uid.clone(),
            series_instance_uid: self.series_instance_uid.clone(),
            transfer_syntax_uid: transfer_syntax.to_owned(),
            data: dimse::encode(object, transfer_syntax)?,
        })
    }

    /// The data set in `transfer_syntax`, where the step loses nothing: the
    /// uncompressed ones hold the same samples.
    pub(super) fn data_in(&self, transfer_syntax: &str) -> Result<Vec<u8>, Fault> {
        if transfer_syntax == self.transfer_syntax_uid {
            return Ok(self.data.clone());
        }
        dimse::encode(&self.object()?, transfer_syntax)
    }

    /// A Part 10 file again.
    pub(super) fn as_file(&self) -> Result<Vec<u8>, Fault> {
        part_ten(
            &self.sop_class_uid,
            &self.sop_instance_uid,
            &self.transfer_syntax_uid,
            &self.data,
        )
    }
}

/// A file of a data set that is encoded already (PS3.10 7.1).
fn part_ten(
    class: &str,
    instance: &str,
    transfer_syntax: &str,
    data: &[u8],
) -> Result<Vec<u8>, Fault> {
    let meta = FileMetaTableBuilder::new()
        .media_storage_sop_class_uid(class)
        .media_storage_sop_instance_uid(instance)
        .transfer_syntax(transfer_syntax)
        .implementation_class_uid(derived_uid(&[b"lengthfilm implementation"]))
        .implementation_version_name("LENGTHFILM")
        .build()
        .map_err(|_| Fault::Malformed("an object without its UIDs"))?;
    let mut bytes = vec![0; 128];
    bytes.extend_from_slice(b"DICM");
    contained(|| meta.write(&mut bytes))
        .and_then(Result::ok)
        .ok_or(Fault::Malformed("an object without its UIDs"))?;
    bytes.extend_from_slice(data);
    Ok(bytes)
}

/// Puts text into an object.
pub(super) fn put_text(object: &mut InMemDicomObject, tag: dicom_core::Tag, vr: VR, value: &str) {
    object.put(text(tag, vr, value));
}
