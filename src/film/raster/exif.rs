//! Orientation and resolution from an EXIF block.

use exif::{In, Reader, Tag, Value};
use image::metadata::Orientation;

use crate::film::scale_facts::ResolutionTag;

/// Orientation and resolution of `block` (a TIFF structure); a damaged block
/// says nothing.
pub(crate) fn read(block: &[u8]) -> (Orientation, Option<ResolutionTag>) {
    let Ok(exif) = Reader::new().read_raw(block.to_vec()) else {
        return (Orientation::NoTransforms, None);
    };
    let number = |tag| {
        exif.get_field(tag, In::PRIMARY)
            .and_then(|field| field.value.get_uint(0))
    };
    let rational = |tag| match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Rational(values) => values.first().map(|r| r.to_f64()),
        _ => None,
    };
    let orientation = number(Tag::Orientation)
        .and_then(|code| Orientation::from_exif(u8::try_from(code).ok()?))
        .unwrap_or(Orientation::NoTransforms);
    let resolution = rational(Tag::XResolution)
        .zip(rational(Tag::YResolution))
        .and_then(|(x, y)| {
            ResolutionTag::from_tiff_unit(
                "EXIF XResolution/YResolution",
                x,
                y,
                number(Tag::ResolutionUnit).unwrap_or(2),
            )
        });
    (orientation, resolution)
}
