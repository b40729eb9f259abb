//! RLE Lossless (PS3.5 annex G): PackBits segments, one per byte of a sample,
//! most significant first.

use crate::film::fault::FilmFault;

const FORMAT: &str = "DICOM RLE";
/// The header: segment count and fifteen offsets.
const HEADER_BYTES: usize = 64;

/// The cells of one frame, channels interleaved; `bytes_per_cell` is 1 or 2.
pub(super) fn decode(
    frame: &[u8],
    pixels: usize,
    samples_per_pixel: usize,
    bytes_per_cell: usize,
) -> Result<Vec<u16>, FilmFault> {
    let damaged = |detail| FilmFault::damaged(FORMAT, detail);
    let header = frame
        .get(..HEADER_BYTES)
        .ok_or_else(|| damaged("it ends within its header"))?;
    let words: Vec<usize> = header
        .chunks_exact(4)
        .map(|b| u32::from_le_bytes([b[0], b[1], b[2], b[3]]) as usize)
        .collect();
    let segments = samples_per_pixel * bytes_per_cell;
    if words[0] != segments || segments > 15 {
        return Err(damaged("its number of segments does not fit the samples"));
    }
    let mut cells = vec![0_u16; pixels * samples_per_pixel];
    for segment in 0..segments {
        let start = words[1 + segment];
        let end = if segment + 1 < segments {
            words[2 + segment]
        } else {
            frame.len()
        };
        let packed = frame
            .get(start..end)
            .ok_or_else(|| damaged("a segment lies outside it"))?;
        let bytes = unpack(packed, pixels)
            .ok_or_else(|| damaged("a segment holds fewer bytes than pixels"))?;
        let channel = segment / bytes_per_cell;
        for (cell, byte) in cells[channel..]
            .iter_mut()
            .step_by(samples_per_pixel)
            .zip(bytes)
        {
            *cell = *cell << 8 | u16::from(byte);
        }
    }
    Ok(cells)
}

/// The first `length` bytes of a PackBits run; `None` when there are fewer.
fn unpack(packed: &[u8], length: usize) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(length);
    let mut rest = packed;
    while bytes.len() < length {
        let (&control, after) = rest.split_first()?;
        rest = match control {
            // 1 to 128 bytes as they are.
            0..=127 => {
                let (literal, after) = after.split_at_checked(usize::from(control) + 1)?;
                bytes.extend_from_slice(literal);
                after
            }
            128 => after,
            // One byte 2 to 128 times.
            129.. => {
                let (&byte, after) = after.split_first()?;
                bytes.resize(bytes.len() + 257 - usize::from(control), byte);
                after
            }
        };
    }
    bytes.truncate(length);
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn packbits_runs_literals_and_no_operation() {
        let packed = [2, 7, 8, 9, 0x80, 0xFE, 5];
        assert_eq!(unpack(&packed, 6).unwrap(), [7, 8, 9, 5, 5, 5]);
        assert_eq!(unpack(&packed, 7), None);
        assert_eq!(unpack(&[5, 1], 1), None);
    }
}
