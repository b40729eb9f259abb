//! Elements of a data set.

use dicom_core::value::DataSetSequence;
use dicom_core::{DataElement, PrimitiveValue, Tag, VR};
use dicom_object::InMemDicomObject;

/// Text with typographic dashes as hyphens, which every character set has.
pub fn plain_dashes(value: &str) -> String {
    value.replace(['–', '−', '‐'], "-")
}

/// An element of text.
pub fn text(tag: Tag, vr: VR, value: &str) -> DataElement<InMemDicomObject> {
    DataElement::new(tag, vr, PrimitiveValue::from(value))
}

/// An element of items.
pub fn sequence(tag: Tag, items: Vec<InMemDicomObject>) -> DataElement<InMemDicomObject> {
    DataElement::new(tag, VR::SQ, DataSetSequence::from(items))
}
