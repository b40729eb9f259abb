//! The file's structure, checked before any value is read into memory.

use std::io::{Cursor, Read};

use dicom_core::header::{DataElementHeader, HasLength};
use dicom_core::{Length, Tag, VR};
use dicom_dictionary_std::{tags, uids};
use dicom_encoding::transfer_syntax::{TransferSyntax, TransferSyntaxIndex};
use dicom_object::InMemDicomObject;
use dicom_parser::dataset::LazyDataToken;
use dicom_parser::dataset::lazy_read::LazyDataSetReader;
use dicom_parser::stateful::decode::StatefulDecode;
use dicom_transfer_syntax_registry::TransferSyntaxRegistry;
use dicom_transfer_syntax_registry::entries::EXPLICIT_VR_LITTLE_ENDIAN;

use super::attributes::{self, text};
use crate::film::fault::{FilmFault, contained};
use crate::film::limits::OpenLimits;

const FORMAT: &str = "DICOM";
/// Preamble and prefix.
const META_START: usize = 132;
/// Group of the file meta information.
const META_GROUP: u16 = 0x0002;
/// Deepest nesting of sequences that is followed.
const DEEPEST_NESTING: usize = 32;

/// A DICOM file in memory.
pub(crate) struct DicomFile {
    /// File meta information (group 0002).
    pub meta: InMemDicomObject,
    /// Everything else.
    pub data_set: InMemDicomObject,
    /// Transfer syntax UID.
    pub transfer_syntax: &'static TransferSyntax,
}

/// Reads a file that starts with the preamble and `DICM`.
pub(crate) fn read(bytes: &[u8], limits: &OpenLimits) -> Result<DicomFile, FilmFault> {
    let explicit = &EXPLICIT_VR_LITTLE_ENDIAN.erased();
    let after_prefix = &bytes[META_START..];
    let meta_end = check_structure(after_prefix, explicit, |tag| tag.group() != META_GROUP)?;
    let meta = parse(&after_prefix[..meta_end], explicit)?;
    let uid = text(&meta, tags::TRANSFER_SYNTAX_UID).ok_or(FilmFault::Attribute {
        attribute: "Transfer Syntax UID",
        problem: "missing".to_owned(),
    })?;
    // A damaged length may make the rest of the file, names and all, part of
    // the value: nothing but a UID is ever repeated in a message.
    if uid.len() > 64 || !uid.bytes().all(|b| b.is_ascii_digit() || b == b'.') {
        return Err(FilmFault::damaged(FORMAT, "its transfer syntax is no UID"));
    }
    let transfer_syntax = TransferSyntaxRegistry.get(&uid).ok_or_else(|| {
        FilmFault::not_supported(
            format!("the DICOM transfer syntax {uid}"),
            "convert the film to Explicit VR Little Endian",
        )
    })?;

    let stored = &after_prefix[meta_end..];
    let data_set = if uid == uids::DEFLATED_EXPLICIT_VR_LITTLE_ENDIAN {
        parse_checked(&inflate(stored, limits)?, explicit)?
    } else {
        parse_checked(stored, transfer_syntax)?
    };
    Ok(DicomFile {
        meta,
        data_set,
        transfer_syntax,
    })
}

/// Reads a data set that came without a file around it, in the transfer syntax
/// of that UID, its structure checked first.
pub(crate) fn parse_data_set(bytes: &[u8], uid: &str) -> Result<InMemDicomObject, FilmFault> {
    let transfer_syntax = TransferSyntaxRegistry
        .get(uid)
        .ok_or_else(|| FilmFault::damaged(FORMAT, "its transfer syntax is unknown"))?;
    if uid == uids::DEFLATED_EXPLICIT_VR_LITTLE_ENDIAN {
        let inflated = inflate(bytes, &OpenLimits::default())?;
        return parse_checked(&inflated, &EXPLICIT_VR_LITTLE_ENDIAN.erased());
    }
    parse_checked(bytes, transfer_syntax)
}

fn parse_checked(
    bytes: &[u8],
    transfer_syntax: &TransferSyntax,
) -> Result<InMemDicomObject, FilmFault> {
    check_structure(bytes, transfer_syntax, |_| false)?;
    parse(bytes, transfer_syntax)
}

fn parse(bytes: &[u8], transfer_syntax: &TransferSyntax) -> Result<InMemDicomObject, FilmFault> {
    contained(FORMAT, || {
        InMemDicomObject::read_dataset_with_ts(bytes, transfer_syntax)
            .map_err(|e| FilmFault::damaged(FORMAT, attributes::innermost(&e)))
    })
}

/// Walks over all elements without reading their values and makes sure that
/// every value lies within `bytes` and that nesting is bounded; gives the
/// offset of the first element for which `stop` holds, else of the end.
///
/// The object reader takes memory for the length an element announces, so a
/// false length must be found out before.
fn check_structure(
    bytes: &[u8],
    transfer_syntax: &TransferSyntax,
    stop: impl Fn(Tag) -> bool,
) -> Result<usize, FilmFault> {
    let damaged = |detail: &dyn std::fmt::Display| FilmFault::damaged(FORMAT, detail);
    contained(FORMAT, || {
        let mut reader = LazyDataSetReader::new_with_ts(Cursor::new(bytes), transfer_syntax)
            .map_err(|e| damaged(&e))?;
        let mut depth = 0_usize;
        let mut end = 0;
        while let Some(token) = reader.advance() {
            let token = token.map_err(|e| damaged(&attributes::innermost(&e)))?;
            match &token {
                LazyDataToken::ElementHeader(header) if depth == 0 && stop(header.tag) => {
                    return Ok(end);
                }
                LazyDataToken::SequenceStart { tag, .. } if depth == 0 && stop(*tag) => {
                    return Ok(end);
                }
                LazyDataToken::SequenceStart { .. } | LazyDataToken::PixelSequenceStart => {
                    depth += 1;
                    if depth > DEEPEST_NESTING {
                        return Err(damaged(&"its sequences are nested too deeply"));
                    }
                }
                LazyDataToken::SequenceEnd => depth = depth.saturating_sub(1),
                LazyDataToken::LazyValue { header, decoder } => {
                    let left = bytes.len() as u64 - decoder.position().min(bytes.len() as u64);
                    check_length(header.length(), left, header.tag)?;
                    check_whole_values(header)?;
                    end = decoder.position() as usize + header.length().get().unwrap_or(0) as usize;
                }
                LazyDataToken::LazyItemValue { len, decoder } => {
                    let left = bytes.len() as u64 - decoder.position().min(bytes.len() as u64);
                    check_length(Length(*len), left, tags::PIXEL_DATA)?;
                }
                _ => {}
            }
            token
                .skip()
                .map_err(|e| damaged(&attributes::innermost(&e)))?;
        }
        Ok(bytes.len())
    })
}

/// A length that is no multiple of its type's size makes the object reader
/// take memory for values that are not there (PS3.5 6.2).
fn check_whole_values(header: &DataElementHeader) -> Result<(), FilmFault> {
    let size = match header.vr {
        VR::OW | VR::SS | VR::US => 2,
        VR::AT | VR::FL | VR::OF | VR::OL | VR::SL | VR::UL => 4,
        VR::FD | VR::OD | VR::OV | VR::SV | VR::UV => 8,
        _ => 1,
    };
    match header.length().get() {
        Some(length) if length % size != 0 => Err(FilmFault::damaged(
            FORMAT,
            format_args!(
                "the value of {} has a length its type cannot have",
                header.tag
            ),
        )),
        _ => Ok(()),
    }
}

fn check_length(length: Length, left: u64, tag: Tag) -> Result<(), FilmFault> {
    match length.get() {
        Some(length) if u64::from(length) <= left => Ok(()),
        _ => Err(FilmFault::damaged(
            FORMAT,
            format_args!("the value of {tag} runs past the end of the file"),
        )),
    }
}

/// The data set of the deflated transfer syntax (PS3.5 A.5), never more bytes
/// than a film within the limit needs.
///
/// A first pass inflates no further than the attributes before Pixel Data, so
/// that the film's size is known before memory is taken for it.
fn inflate(stored: &[u8], limits: &OpenLimits) -> Result<Vec<u8>, FilmFault> {
    const HEADER_BYTES: u64 = 1 << 20;
    let inflate_up_to = |bytes: u64| {
        let mut inflated = Vec::new();
        flate2::read::DeflateDecoder::new(stored)
            .take(bytes)
            .read_to_end(&mut inflated)
            .map_err(|e| FilmFault::damaged("deflated DICOM", e))?;
        Ok::<_, FilmFault>(inflated)
    };
    let start = inflate_up_to(HEADER_BYTES)?;
    if (start.len() as u64) < HEADER_BYTES {
        return Ok(start);
    }
    let explicit = &EXPLICIT_VR_LITTLE_ENDIAN.erased();
    let header_end = check_structure(&start, explicit, |tag| tag == tags::PIXEL_DATA)?;
    let header = parse(&start[..header_end], explicit)?;
    let rows = attributes::number(&header, tags::ROWS).unwrap_or(0);
    let columns = attributes::number(&header, tags::COLUMNS).unwrap_or(0);
    let most_bytes = limits.check_size(columns.into(), rows.into())?;
    let inflated = inflate_up_to(most_bytes + 1)?;
    if inflated.len() as u64 > most_bytes {
        return Err(FilmFault::TooManyBytes {
            bytes: inflated.len() as u64,
            limit_px: limits.max_pixels,
        });
    }
    Ok(inflated)
}
