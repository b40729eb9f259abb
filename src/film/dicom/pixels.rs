//! Pixel Data made a grey [`Film`] at full depth (PS3.3 C.7.6.3, PS3.5 8).

use dicom_core::value::Value;
use dicom_core::{DicomValue, PrimitiveValue};
use dicom_dictionary_std::{tags, uids};
use dicom_object::InMemDicomObject;

use super::attributes::{decimal, number, text};
use super::data_set::DicomFile;
use super::palette::Palette;
use super::{codecs, rle};
use crate::film::fault::{FilmFault, contained};
use crate::film::grey::{Channels, luma};
use crate::film::limits::OpenLimits;
use crate::film::raster::jpeg;
use crate::film::scale_facts::FilmWarning;
use crate::film::{Film, Polarity, Rescale, max_sample};

/// Compressed transfer syntaxes that [`compressed`] decodes, lossless first.
pub(crate) const COMPRESSED_SYNTAXES: &[&str] = &[
    uids::RLE_LOSSLESS,
    uids::JPEG_LOSSLESS_SV1,
    uids::JPEG_LOSSLESS,
    uids::JPEGLS_LOSSLESS,
    uids::JPEG2000_LOSSLESS,
    uids::JPEG_BASELINE8_BIT,
    uids::JPEG_EXTENDED12_BIT,
    uids::JPEGLS_NEAR_LOSSLESS,
    uids::JPEG2000,
];

/// The film and what the user should hear about its pixels.
pub(super) struct DecodedFilm {
    pub film: Film,
    pub warnings: Vec<FilmWarning>,
}

/// Photometric Interpretation (0028,0004), as far as it matters for grey.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Photometric {
    Monochrome1,
    Monochrome2,
    Palette,
    Rgb,
    /// Luma first, chroma at full resolution.
    YbrFull,
    /// Luma first, chroma shared by two columns when uncompressed.
    YbrFull422,
    /// JPEG 2000's own transforms, which its decoder takes back.
    YbrOfJpeg2000,
}

/// The Image Pixel module.
struct Description {
    rows: u32,
    columns: u32,
    samples_per_pixel: usize,
    photometric: Photometric,
    by_plane: bool,
    bits_allocated: u8,
    bits_stored: u8,
    high_bit: u8,
    signed: bool,
}

impl Description {
    fn read(data_set: &InMemDicomObject, limits: &OpenLimits) -> Result<Self, FilmFault> {
        let attribute = |attribute, problem: String| FilmFault::Attribute { attribute, problem };
        let needed =
            |name, tag| number(data_set, tag).ok_or_else(|| attribute(name, "missing".to_owned()));
        let rows = needed("Rows", tags::ROWS)?;
        let columns = needed("Columns", tags::COLUMNS)?;
        limits.check_size(columns.into(), rows.into())?;
        if let Some(frames) = number(data_set, tags::NUMBER_OF_FRAMES).filter(|&n| n > 1) {
            return Err(FilmFault::MultiFrame { frames });
        }
        let samples_per_pixel = number(data_set, tags::SAMPLES_PER_PIXEL).unwrap_or(1);
        let stated = text(data_set, tags::PHOTOMETRIC_INTERPRETATION);
        let photometric = match stated.as_deref() {
            Some("MONOCHROME1") => Photometric::Monochrome1,
            Some("MONOCHROME2") => Photometric::Monochrome2,
            Some("PALETTE COLOR") => Photometric::Palette,
            Some("RGB") => Photometric::Rgb,
            Some("YBR_FULL") => Photometric::YbrFull,
            Some("YBR_FULL_422") => Photometric::YbrFull422,
            Some("YBR_ICT" | "YBR_RCT") => Photometric::YbrOfJpeg2000,
            // Code strings have at most 16 characters (PS3.5 6.2); a longer one
            // is damage and may hold anything.
            Some(other) if other.len() <= 16 => {
                return Err(FilmFault::not_supported(
                    format!("the photometric interpretation {other}"),
                    "convert the film to MONOCHROME2",
                ));
            }
            Some(_) | None => {
                let problem = "missing or damaged".to_owned();
                return Err(attribute("Photometric Interpretation", problem));
            }
        };
        let expected = match photometric {
            Photometric::Monochrome1 | Photometric::Monochrome2 | Photometric::Palette => 1,
            _ => 3,
        };
        if samples_per_pixel != expected {
            return Err(attribute(
                "Samples per Pixel",
                format!(
                    "{samples_per_pixel} where the photometric interpretation needs {expected}"
                ),
            ));
        }
        let bits_allocated = needed("Bits Allocated", tags::BITS_ALLOCATED)?;
        if !matches!(bits_allocated, 8 | 16) {
            return Err(FilmFault::not_supported(
                format!("a film of {bits_allocated} bits allocated"),
                "convert it to 8 or 16 bits allocated",
            ));
        }
        let bits_stored = number(data_set, tags::BITS_STORED).unwrap_or(bits_allocated);
        let high_bit = number(data_set, tags::HIGH_BIT).unwrap_or(bits_stored.saturating_sub(1));
        if bits_stored == 0 || high_bit >= bits_allocated || high_bit + 1 < bits_stored {
            return Err(attribute(
                "Bits Stored",
                format!(
                    "{bits_stored} with high bit {high_bit} in {bits_allocated} bits allocated"
                ),
            ));
        }
        Ok(Self {
            rows,
            columns,
            samples_per_pixel: samples_per_pixel as usize,
            photometric,
            // Planar Configuration has no meaning with one sample.
            by_plane: samples_per_pixel > 1
                && number(data_set, tags::PLANAR_CONFIGURATION) == Some(1),
            bits_allocated: bits_allocated as u8,
            bits_stored: bits_stored as u8,
            high_bit: high_bit as u8,
            signed: number(data_set, tags::PIXEL_REPRESENTATION) == Some(1),
        })
    }

    fn pixels(&self) -> usize {
        self.rows as usize * self.columns as usize
    }
}

/// Cells of a frame before bits, sign and colour are looked at.
struct Cells {
    /// Channels interleaved.
    cells: Vec<u16>,
    /// Significant low bits of a cell: the container's for uncompressed
    /// frames, the precision for compressed ones.
    bits: u8,
    /// What the channels hold after the decoder's own transforms.
    photometric: Photometric,
}

/// Decodes the one frame of a DICOM film.
pub(super) fn decode(file: &DicomFile, limits: &OpenLimits) -> Result<DecodedFilm, FilmFault> {
    let data_set = &file.data_set;
    let description = Description::read(data_set, limits)?;
    let element = data_set
        .get(tags::PIXEL_DATA)
        .ok_or_else(|| FilmFault::Attribute {
            attribute: "Pixel Data",
            problem: "missing".to_owned(),
        })?;
    let cells = match element.value() {
        DicomValue::Primitive(value) => uncompressed(value, &description)?,
        Value::PixelSequence(sequence) => {
            let frame = sequence.fragments().concat();
            compressed(&frame, file.transfer_syntax.uid(), &description, limits)?
        }
        Value::Sequence(_) => {
            return Err(FilmFault::damaged("DICOM", "its Pixel Data are a sequence"));
        }
    };
    into_film(cells, &description, data_set)
}

fn uncompressed(value: &PrimitiveValue, description: &Description) -> Result<Cells, FilmFault> {
    let cells_per_two_pixels = match description.photometric {
        Photometric::YbrFull422 => 4,
        _ => 2 * description.samples_per_pixel,
    };
    let needed = (description.pixels() * cells_per_two_pixels).div_ceil(2);
    let wide = description.bits_allocated == 16;
    // Words arrive in the machine's order, bytes as they stand in the file
    // (little-endian, for big-endian files hold wide cells as words).
    let mut cells: Vec<u16> = match value {
        PrimitiveValue::U16(words) if wide => words.to_vec(),
        PrimitiveValue::U16(words) => words
            .iter()
            .flat_map(|word| word.to_le_bytes().map(u16::from))
            .collect(),
        PrimitiveValue::U8(bytes) if wide => (bytes.chunks_exact(2))
            .map(|b| u16::from_le_bytes([b[0], b[1]]))
            .collect(),
        PrimitiveValue::U8(bytes) => bytes.iter().copied().map(u16::from).collect(),
        _ => {
            return Err(FilmFault::damaged(
                "DICOM",
                "its Pixel Data are neither bytes nor words",
            ));
        }
    };
    if cells.len() < needed {
        return Err(FilmFault::damaged(
            "DICOM",
            format_args!(
                "{needed} samples are announced but {} are there",
                cells.len()
            ),
        ));
    }
    cells.truncate(needed);
    let photometric = match description.photometric {
        Photometric::YbrFull422 => {
            // Y Y Cb Cr for each two columns: the luma is all that is needed.
            cells = cells
                .chunks(4)
                .flat_map(|c| &c[..c.len().min(2)])
                .copied()
                .collect();
            Photometric::Monochrome2
        }
        Photometric::YbrOfJpeg2000 => {
            return Err(FilmFault::damaged(
                "DICOM",
                "uncompressed pixels claim a transform of JPEG 2000",
            ));
        }
        other => other,
    };
    if description.by_plane {
        cells = interleave(&cells, description.pixels());
    }
    Ok(Cells {
        cells,
        bits: description.bits_allocated,
        photometric,
    })
}

/// Planes one after another made pixels.
fn interleave(planes: &[u16], pixels: usize) -> Vec<u16> {
    let channels = planes.len() / pixels;
    (0..pixels)
        .flat_map(|i| (0..channels).map(move |c| planes[c * pixels + i]))
        .collect()
}

fn compressed(
    frame: &[u8],
    transfer_syntax: &str,
    description: &Description,
    limits: &OpenLimits,
) -> Result<Cells, FilmFault> {
    if frame.is_empty() {
        return Err(FilmFault::damaged("DICOM", "its Pixel Data hold no frame"));
    }
    let (picture, raised) = match transfer_syntax {
        uids::RLE_LOSSLESS => {
            let bytes_per_cell = usize::from(description.bits_allocated / 8);
            let cells = rle::decode(
                frame,
                description.pixels(),
                description.samples_per_pixel,
                bytes_per_cell,
            )?;
            return Ok(Cells {
                cells,
                bits: description.bits_allocated,
                photometric: description.photometric,
            });
        }
        uids::JPEG_BASELINE8_BIT
        | uids::JPEG_EXTENDED12_BIT
        | uids::JPEG_LOSSLESS
        | uids::JPEG_LOSSLESS_SV1 => {
            let header = jpeg::read_header(frame)?;
            check_inner_size(header.width_px.into(), header.height_px.into(), description)?;
            let convert = description.photometric != Photometric::Rgb;
            let decode = || jpeg::decode_frame(frame, &header, convert, limits);
            (contained("JPEG", decode)?, false)
        }
        uids::JPEGLS_LOSSLESS | uids::JPEGLS_NEAR_LOSSLESS => {
            let header = jpeg::read_header(frame)?;
            check_inner_size(header.width_px.into(), header.height_px.into(), description)?;
            (codecs::decode_jpeg_ls(frame, limits)?, false)
        }
        uids::JPEG2000_LOSSLESS | uids::JPEG2000 => {
            let frame = codecs::Jpeg2000Frame::read(frame)?;
            check_inner_size(frame.width_px, frame.height_px, description)?;
            frame.decode(limits)?
        }
        other => {
            return Err(FilmFault::not_supported(
                format!("the DICOM transfer syntax {other}"),
                "convert the film to Explicit VR Little Endian",
            ));
        }
    };
    if picture.channels.count() != description.samples_per_pixel {
        return Err(FilmFault::damaged(
            "DICOM",
            "the compressed frame and the attributes disagree about colour",
        ));
    }
    let lossless_jpeg = matches!(
        transfer_syntax,
        uids::JPEG_LOSSLESS | uids::JPEG_LOSSLESS_SV1
    );
    let photometric = match (description.photometric, picture.channels) {
        // Lossless JPEG hands its components out untransformed.
        (Photometric::YbrFull | Photometric::YbrFull422, _) if lossless_jpeg => {
            Photometric::YbrFull
        }
        // JPEG 2000 has no YBR_FULL transform of its own either.
        (Photometric::YbrFull, _) if is_jpeg_2000(transfer_syntax) => Photometric::YbrFull,
        (_, Channels::Rgb) => Photometric::Rgb,
        (stated, _) => stated,
    };
    let mut cells = picture.samples;
    if raised {
        // Back to two's complement, like every other signed frame.
        let half = 1_u16 << (picture.bits - 1);
        for cell in &mut cells {
            *cell = cell.wrapping_sub(half);
        }
    }
    Ok(Cells {
        cells,
        bits: picture.bits,
        photometric,
    })
}

fn is_jpeg_2000(transfer_syntax: &str) -> bool {
    matches!(transfer_syntax, uids::JPEG2000_LOSSLESS | uids::JPEG2000)
}

/// A compressed frame must have the size its attributes state: memory was
/// allowed for that size only.
fn check_inner_size(
    width_px: u32,
    height_px: u32,
    description: &Description,
) -> Result<(), FilmFault> {
    if (width_px, height_px) == (description.columns, description.rows) {
        return Ok(());
    }
    Err(FilmFault::damaged(
        "DICOM",
        format_args!(
            "the compressed frame is {width_px} × {height_px} px but Columns and Rows say {} × {}",
            description.columns, description.rows
        ),
    ))
}

fn into_film(
    cells: Cells,
    description: &Description,
    data_set: &InMemDicomObject,
) -> Result<DecodedFilm, FilmFault> {
    let mut warnings = Vec::new();
    // A container holds the sample below High Bit; a codec's precision may be
    // narrower than Bits Stored, and then tells the true depth.
    let bits = description.bits_stored.min(cells.bits);
    if bits < description.bits_stored {
        warnings.push(FilmWarning::new(
            "bits_stored_disagree",
            format!(
                "the compressed frame has {bits} bits where Bits Stored says {}: {bits} bits are used",
                description.bits_stored
            ),
        ));
    }
    let shift = if cells.bits > bits {
        (description.high_bit + 1 - description.bits_stored).min(16 - bits)
    } else {
        0
    };
    let mask = max_sample(bits);
    let half = 1_u16 << (bits - 1);
    // Signed samples are raised by half the range: two's complement with its
    // sign bit turned.
    let raise = if description.signed { half } else { 0 };
    let sample = |cell: u16| (cell >> shift & mask) ^ raise;

    let (samples, bits, polarity): (Vec<u16>, u8, Polarity) = match cells.photometric {
        Photometric::Monochrome1 => (
            cells.cells.into_iter().map(sample).collect(),
            bits,
            Polarity::LowIsOpaque,
        ),
        Photometric::Monochrome2 => (
            cells.cells.into_iter().map(sample).collect(),
            bits,
            Polarity::HighIsOpaque,
        ),
        Photometric::Palette => {
            let palette = Palette::read(data_set)?;
            let offset = i64::from(raise);
            let grey = |cell| palette.grey(i64::from(sample(cell)) - offset);
            (
                cells.cells.into_iter().map(grey).collect(),
                palette.bits,
                Polarity::HighIsOpaque,
            )
        }
        Photometric::Rgb | Photometric::YbrOfJpeg2000 => (
            (cells.cells.chunks_exact(3))
                .map(|p| luma(sample(p[0]), sample(p[1]), sample(p[2])))
                .collect(),
            bits,
            Polarity::HighIsOpaque,
        ),
        Photometric::YbrFull | Photometric::YbrFull422 => (
            (cells.cells.chunks_exact(3))
                .map(|p| sample(p[0]))
                .collect(),
            bits,
            Polarity::HighIsOpaque,
        ),
    };
    let stored_offset = match cells.photometric {
        Photometric::Palette => 0.0,
        _ => f64::from(raise),
    };
    let rescale = rescale(data_set, stored_offset, &mut warnings);
    if data_set.get(tags::MODALITY_LUT_SEQUENCE).is_some() {
        warnings.push(FilmWarning::new(
            "modality_lut_not_applied",
            "the film has a Modality LUT, which is not applied: samples are shown as stored",
        ));
    }
    let film = Film::from_samples(
        description.columns,
        description.rows,
        bits,
        polarity,
        samples,
    )
    .ok_or_else(|| FilmFault::damaged("DICOM", "it holds too few pixels for its size"))?;
    Ok(DecodedFilm {
        film: film.with_rescale(rescale),
        warnings,
    })
}

/// Rescale Slope and Intercept for samples that stand `offset` above the
/// stored values.
fn rescale(data_set: &InMemDicomObject, offset: f64, warnings: &mut Vec<FilmWarning>) -> Rescale {
    let slope = decimal(data_set, tags::RESCALE_SLOPE).unwrap_or(1.0);
    let intercept = decimal(data_set, tags::RESCALE_INTERCEPT).unwrap_or(0.0);
    let stated = if slope.is_finite() && slope != 0.0 && intercept.is_finite() {
        Rescale { slope, intercept }
    } else {
        warnings.push(FilmWarning::new(
            "rescale_ignored",
            "Rescale Slope or Intercept is not a usable number and is ignored",
        ));
        Rescale::IDENTITY
    };
    Rescale {
        slope: stated.slope,
        intercept: stated.intercept - stated.slope * offset,
    }
}
