//! PALETTE COLOR: the red, green and blue lookup tables (PS3.3 C.7.6.3.1.5).

use dicom_core::Tag;
use dicom_dictionary_std::tags;
use dicom_object::InMemDicomObject;

use crate::film::fault::FilmFault;
use crate::film::grey::luma;

/// Grey levels of the palette and where they start.
pub(super) struct Palette {
    first_mapped: i64,
    /// Depth of the entries, 8 or 16.
    pub bits: u8,
    grey: Vec<u16>,
}

impl Palette {
    /// Reads the three tables.
    pub(super) fn read(data_set: &InMemDicomObject) -> Result<Self, FilmFault> {
        let table = |descriptor, data| read_table(data_set, descriptor, data);
        let red = table(
            tags::RED_PALETTE_COLOR_LOOKUP_TABLE_DESCRIPTOR,
            tags::RED_PALETTE_COLOR_LOOKUP_TABLE_DATA,
        )?;
        let green = table(
            tags::GREEN_PALETTE_COLOR_LOOKUP_TABLE_DESCRIPTOR,
            tags::GREEN_PALETTE_COLOR_LOOKUP_TABLE_DATA,
        )?;
        let blue = table(
            tags::BLUE_PALETTE_COLOR_LOOKUP_TABLE_DESCRIPTOR,
            tags::BLUE_PALETTE_COLOR_LOOKUP_TABLE_DATA,
        )?;
        let grey = red
            .entries
            .iter()
            .zip(&green.entries)
            .zip(&blue.entries)
            .map(|((&r, &g), &b)| luma(r, g, b))
            .collect();
        Ok(Self {
            first_mapped: red.first_mapped,
            bits: red.bits,
            grey,
        })
    }

    /// Grey of a stored value; values outside the table take its ends.
    pub(super) fn grey(&self, stored: i64) -> u16 {
        let last = self.grey.len() as i64 - 1;
        self.grey[(stored - self.first_mapped).clamp(0, last) as usize]
    }
}

struct Table {
    first_mapped: i64,
    bits: u8,
    entries: Vec<u16>,
}

fn read_table(data_set: &InMemDicomObject, descriptor: Tag, data: Tag) -> Result<Table, FilmFault> {
    let fault = |problem: &str| FilmFault::Attribute {
        attribute: "Palette Color Lookup Table",
        problem: problem.to_owned(),
    };
    let descriptor = data_set
        .get(descriptor)
        .and_then(|element| element.to_multi_int::<i64>().ok())
        .ok_or_else(|| fault("missing"))?;
    let &[entries, first_mapped, bits] = descriptor.as_slice() else {
        return Err(fault("without its three descriptors"));
    };
    let count = match entries {
        // 65536 does not fit the attribute and is written as 0.
        0 => 65536,
        n => usize::from(n as u16),
    };
    let bytes = data_set
        .get(data)
        .and_then(|element| element.to_bytes().ok())
        .ok_or_else(|| fault("missing or segmented, which is not supported"))?;
    let entries: Vec<u16> = match bits {
        8 if bytes.len() < 2 * count => bytes.iter().copied().map(u16::from).collect(),
        8 | 16 => (bytes.chunks_exact(2))
            .map(|b| u16::from_le_bytes([b[0], b[1]]))
            .collect(),
        _ => return Err(fault("neither of 8 nor of 16 bits")),
    };
    let entries = entries
        .get(..count)
        .ok_or_else(|| fault("shorter than it says"))?
        .to_vec();
    Ok(Table {
        first_mapped,
        bits: bits as u8,
        entries,
    })
}
