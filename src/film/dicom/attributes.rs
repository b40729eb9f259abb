//! Values of single attributes, forgiving where a file breaks a rule that
//! does not matter.

use std::error::Error;

use dicom_core::Tag;
use dicom_object::InMemDicomObject;

/// The text of an attribute without padding and control characters; `None`
/// when absent or empty.
pub(super) fn text(object: &InMemDicomObject, tag: Tag) -> Option<String> {
    let value = object.get(tag)?.to_str().ok()?;
    let value = value.replace(|c: char| c.is_control(), " ");
    let value = value.trim();
    (!value.is_empty()).then(|| value.to_owned())
}

/// The text of an attribute that is printed: at most the 64 characters of a
/// long string (PS3.5 6.2), so that a damaged length cannot drag other
/// attributes into it.
pub(super) fn label(object: &InMemDicomObject, tag: Tag) -> Option<String> {
    Some(text(object, tag)?.chars().take(64).collect())
}

/// A whole number (US, UL, IS).
pub(super) fn number(object: &InMemDicomObject, tag: Tag) -> Option<u32> {
    object.get(tag)?.to_int().ok()
}

/// The decimal strings of an attribute, each a number or not.
pub(super) fn decimals(object: &InMemDicomObject, tag: Tag) -> Option<Vec<Option<f64>>> {
    let stored = text(object, tag)?;
    Some(
        stored
            .split('\\')
            .map(|part| part.trim().parse().ok())
            .collect(),
    )
}

/// The first decimal of an attribute.
pub(super) fn decimal(object: &InMemDicomObject, tag: Tag) -> Option<f64> {
    decimals(object, tag)?.first().copied().flatten()
}

/// The error at the end of a chain: the one that says what happened.
pub(super) fn innermost<'a>(error: &'a (dyn Error + 'static)) -> &'a (dyn Error + 'static) {
    let mut error = error;
    while let Some(source) = error.source() {
        error = source;
    }
    error
}
