//! Commands of PS3.7 and the identifiers that go with them, encoded by
//! dicom-object.

use dicom_core::{DataElement, PrimitiveValue, Tag, VR, dicom_value};
use dicom_dictionary_std::{tags, uids};
use dicom_encoding::transfer_syntax::TransferSyntaxIndex;
use dicom_object::InMemDicomObject;
use dicom_object::mem::InMemElement;
use dicom_transfer_syntax_registry::TransferSyntaxRegistry;

use super::fault::Fault;
use crate::film::dicom::parse_data_set;

/// Command Data Set Type of a message without one (PS3.7 E.1).
pub(super) const NO_DATA_SET: u16 = 0x0101;
/// The same of a message with one.
const DATA_SET: u16 = 0x0001;

/// Command Field (PS3.7 E.1).
pub(super) const C_STORE_RQ: u16 = 0x0001;
pub(super) const C_STORE_RSP: u16 = 0x8001;
pub(super) const C_GET_RQ: u16 = 0x0010;
pub(super) const C_GET_RSP: u16 = 0x8010;
pub(super) const C_FIND_RQ: u16 = 0x0020;
pub(super) const C_FIND_RSP: u16 = 0x8020;
pub(super) const C_MOVE_RQ: u16 = 0x0021;
pub(super) const C_MOVE_RSP: u16 = 0x8021;
pub(super) const C_ECHO_RQ: u16 = 0x0030;
pub(super) const C_ECHO_RSP: u16 = 0x8030;
pub(super) const C_CANCEL_RQ: u16 = 0x0FFF;

/// Status: done.
pub(super) const SUCCESS: u16 = 0x0000;

/// More answers follow (PS3.4 C.4.1.1.4); with the second, some keys were not
/// looked at.
pub(super) fn is_pending(status: u16) -> bool {
    matches!(status, 0xFF00 | 0xFF01)
}

/// Done, though not as asked in every detail (PS3.7 annex C).
pub(super) fn is_warning(status: u16) -> bool {
    matches!(status, 0x0001 | 0x0107 | 0x0116) || status & 0xF000 == 0xB000
}

fn unsigned(tag: Tag, value: u16) -> InMemElement {
    DataElement::new(tag, VR::US, dicom_value!(U16, [value]))
}

/// A request.
pub(super) fn request(
    field: u16,
    message_id: u16,
    class: &str,
    with_data: bool,
    more: impl IntoIterator<Item = InMemElement>,
) -> InMemDicomObject {
    let mut elements = vec![
        text(tags::AFFECTED_SOP_CLASS_UID, VR::UI, class),
        unsigned(tags::COMMAND_FIELD, field),
        unsigned(tags::MESSAGE_ID, message_id),
        unsigned(
            tags::COMMAND_DATA_SET_TYPE,
            if with_data { DATA_SET } else { NO_DATA_SET },
        ),
    ];
    if field != C_ECHO_RQ {
        // Medium.
        elements.push(unsigned(tags::PRIORITY, 0x0000));
    }
    elements.extend(more);
    InMemDicomObject::command_from_element_iter(elements)
}

/// The request to stop request `message_id`.
pub(super) fn cancel(message_id: u16) -> InMemDicomObject {
    InMemDicomObject::command_from_element_iter([
        unsigned(tags::COMMAND_FIELD, C_CANCEL_RQ),
        unsigned(tags::MESSAGE_ID_BEING_RESPONDED_TO, message_id),
        unsigned(tags::COMMAND_DATA_SET_TYPE, NO_DATA_SET),
    ])
}

/// The answer to a C-STORE.
pub(super) fn store_response(
    message_id: u16,
    class: &str,
    instance: &str,
    status: u16,
) -> InMemDicomObject {
    InMemDicomObject::command_from_element_iter([
        text(tags::AFFECTED_SOP_CLASS_UID, VR::UI, class),
        unsigned(tags::COMMAND_FIELD, C_STORE_RSP),
        unsigned(tags::MESSAGE_ID_BEING_RESPONDED_TO, message_id),
        unsigned(tags::COMMAND_DATA_SET_TYPE, NO_DATA_SET),
        unsigned(tags::STATUS, status),
        text(tags::AFFECTED_SOP_INSTANCE_UID, VR::UI, instance),
    ])
}

/// The status of an answer of kind `field`.
pub(super) fn status(command: &InMemDicomObject, field: u16) -> Result<u16, Fault> {
    if word(command, tags::COMMAND_FIELD) != Some(field) {
        return Err(Fault::Malformed("another answer than asked for"));
    }
    word(command, tags::STATUS).ok_or(Fault::Malformed("an answer without status"))
}

/// A 16-bit value.
pub(super) fn word(object: &InMemDicomObject, tag: Tag) -> Option<u16> {
    object.get(tag)?.to_int().ok()
}

/// A text value without padding; `None` when absent or empty.
pub(super) fn string(object: &InMemDicomObject, tag: Tag) -> Option<String> {
    let value = object.get(tag)?.to_str().ok()?;
    let value = value.replace(|c: char| c.is_control(), " ");
    let value = value.trim();
    (!value.is_empty()).then(|| value.chars().take(256).collect())
}

/// A UID: digits and dots, at most 64 (PS3.5 9.1).
pub(super) fn uid(object: &InMemDicomObject, tag: Tag) -> Option<String> {
    string(object, tag).filter(|uid| is_uid(uid))
}

/// Digits and dots only: fit for a file name.
pub(super) fn is_uid(uid: &str) -> bool {
    (1..=64).contains(&uid.len())
        && uid.bytes().all(|b| b.is_ascii_digit() || b == b'.')
        && uid.starts_with(|c: char| c.is_ascii_digit())
}

/// The bytes of a data set.
pub(super) fn encode(object: &InMemDicomObject, transfer_syntax: &str) -> Result<Vec<u8>, Fault> {
    let unknown = || Fault::Malformed("an unknown transfer syntax");
    let syntax = TransferSyntaxRegistry
        .get(transfer_syntax)
        .ok_or_else(unknown)?;
    let mut bytes = Vec::new();
    object
        .write_dataset_with_ts(&mut bytes, syntax)
        .map_err(|_| Fault::Malformed("a value that cannot be written"))?;
    Ok(bytes)
}

/// Reads a data set; its structure is checked first.
pub(super) fn decode(bytes: &[u8], transfer_syntax: &str) -> Result<InMemDicomObject, Fault> {
    parse_data_set(bytes, transfer_syntax).map_err(|_| Fault::Malformed("a damaged data set"))
}

/// An identifier: keys with the values that are matched, empty where a value
/// is wanted back.
pub(super) fn identifier(keys: &[(Tag, VR, &str)]) -> InMemDicomObject {
    let mut object = InMemDicomObject::new_empty();
    let is_ascii = keys.iter().all(|(_, _, value)| value.is_ascii());
    if !is_ascii {
        object.put(text(tags::SPECIFIC_CHARACTER_SET, VR::CS, "ISO_IR 192"));
    }
    for (tag, vr, value) in keys {
        let value = match *value {
            "" => PrimitiveValue::Empty,
            value => PrimitiveValue::from(value),
        };
        object.put(DataElement::new(*tag, *vr, value));
    }
    object
}

/// A text element of a command or identifier.
pub(super) fn text(tag: Tag, vr: VR, value: &str) -> InMemElement {
    DataElement::new(tag, vr, PrimitiveValue::from(value))
}

/// The two transfer syntaxes of messages without pictures.
pub(super) fn plain_syntaxes() -> Vec<String> {
    [
        uids::EXPLICIT_VR_LITTLE_ENDIAN,
        uids::IMPLICIT_VR_LITTLE_ENDIAN,
    ]
    .map(str::to_owned)
    .to_vec()
}
