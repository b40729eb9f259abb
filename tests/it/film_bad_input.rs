//! Damaged and hostile films: an error in one line, never a panic, never a
//! film larger than the limit.

use std::io::Write;
use std::path::PathBuf;

use lengthfilm::film::{self, FilmError, FilmFault, OpenLimits, OpenedFilm};
use proptest::prelude::*;

use crate::film::{fixture, fixture_folder};

/// Fixtures of a few hundred pixels: whatever opens under this limit is small.
const LIMITS: OpenLimits = OpenLimits { max_pixels: 4096 };

fn open_bytes(bytes: &[u8]) -> Result<OpenedFilm, FilmError> {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(bytes).unwrap();
    film::open(file.path(), &LIMITS)
}

/// Either a film within the limit or one line.
fn check(bytes: &[u8]) {
    match open_bytes(bytes) {
        Ok(opened) => {
            let film = &opened.film;
            let pixels = u64::from(film.width_px()) * u64::from(film.height_px());
            assert!(pixels <= LIMITS.max_pixels);
            assert_eq!(pixels, film.samples().len() as u64);
            assert!(film.samples().iter().all(|&s| s <= film.max_sample()));
            film::info_json(&opened);
        }
        Err(error) => assert!(!error.to_string().contains('\n'), "{error}"),
    }
}

fn fixtures() -> Vec<PathBuf> {
    let mut paths: Vec<_> = std::fs::read_dir(fixture_folder())
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e != "json"))
        .collect();
    paths.sort();
    assert!(paths.len() > 80);
    paths
}

fn any_fixture() -> impl Strategy<Value = Vec<u8>> {
    proptest::sample::select(fixtures()).prop_map(|path| std::fs::read(path).unwrap())
}

/// First bytes that lead garbage into each decoder.
fn any_signature() -> impl Strategy<Value = Vec<u8>> {
    let mut dicom = vec![0; 128];
    dicom.extend_from_slice(b"DICM");
    proptest::sample::select(vec![
        b"\x89PNG\r\n\x1a\n".to_vec(),
        b"\xFF\xD8\xFF".to_vec(),
        b"II*\0".to_vec(),
        b"MM\0*".to_vec(),
        b"BM".to_vec(),
        dicom,
        Vec::new(),
    ])
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn garbage_is_refused(
        signature in any_signature(),
        garbage in proptest::collection::vec(any::<u8>(), 0..600),
    ) {
        check(&[signature, garbage].concat());
    }

    #[test]
    fn truncated_films_are_refused_or_whole(bytes in any_fixture(), keep in 0.0..1.0_f64) {
        check(&bytes[..(bytes.len() as f64 * keep) as usize]);
    }

    #[test]
    fn flipped_bits_do_no_harm(
        mut bytes in any_fixture(),
        flips in proptest::collection::vec((any::<prop::sample::Index>(), 0..8_u8), 1..12),
    ) {
        for (place, bit) in flips {
            let place = place.index(bytes.len());
            bytes[place] ^= 1 << bit;
        }
        check(&bytes);
    }

    #[test]
    fn overwritten_lengths_do_no_harm(
        mut bytes in any_fixture(),
        place in any::<prop::sample::Index>(),
        word in proptest::sample::select(vec![[0xFF; 4], [0xFF, 0xFF, 0xFF, 0x7F], [0; 4]]),
    ) {
        let place = place.index(bytes.len() - 4);
        bytes[place..place + 4].copy_from_slice(&word);
        check(&bytes);
    }
}

#[test]
fn every_format_cut_in_the_middle_is_refused() {
    for name in [
        "grey16.png",
        "grey8.jpg",
        "grey16_raw.tif",
        "rgb8.bmp",
        "explicit_16.dcm",
        "deflated_16.dcm",
        "rle_16.dcm",
        "jpeg_lossless_16.dcm",
        "jpeg_ls_16.dcm",
        "jpeg2000_16.dcm",
    ] {
        let bytes = std::fs::read(fixture(name)).unwrap();
        // The pixels of these files fill their last part.
        let error = open_bytes(&bytes[..bytes.len() * 9 / 10]).expect_err(name);
        assert!(!error.to_string().contains('\n'), "{error}");
    }
}

#[test]
fn nothing_and_a_folder_are_refused() {
    assert!(open_bytes(b"").is_err());
    assert!(film::open(&fixture_folder(), &LIMITS).is_err());
    let error = film::open(&fixture("no such film.png"), &LIMITS).unwrap_err();
    assert!(error.to_string().contains("no such film.png"));
}

/// A byte pattern put in place of another of equal length.
fn patched(name: &str, from: &[u8], to: &[u8]) -> Vec<u8> {
    let mut bytes = std::fs::read(fixture(name)).unwrap();
    let at = (bytes.windows(from.len()))
        .position(|w| w == from)
        .unwrap_or_else(|| panic!("{name} does not hold {from:02X?}"));
    bytes[at..at + from.len()].copy_from_slice(to);
    bytes
}

/// Headers that announce far more than 200 megapixels in files of a few
/// hundred bytes: refused by the header's size, or as damaged, at once.
#[test]
fn huge_sizes_are_refused_from_the_header() {
    let refused_as_too_large = |bytes: &[u8]| {
        let mut file = tempfile::NamedTempFile::new().unwrap();
        file.write_all(bytes).unwrap();
        let error = film::open(file.path(), &OpenLimits::default()).unwrap_err();
        let large = matches!(error.fault, FilmFault::TooLarge { .. });
        assert!(large, "{error}");
    };
    // PNG: 16 × 12 made 2³⁰ × 2³⁰, its checksum with it.
    let mut header = b"IHDR\x40\0\0\0\x40\0\0\0\x10\0\0\0\0".to_vec();
    let mut checksum = flate2::Crc::new();
    checksum.update(&header);
    header.extend_from_slice(&checksum.sum().to_be_bytes());
    let mut png = std::fs::read(fixture("grey16.png")).unwrap();
    png[12..12 + header.len()].copy_from_slice(&header);
    refused_as_too_large(&png);
    // JPEG, rows and columns of the frame header.
    refused_as_too_large(&patched(
        "grey8.jpg",
        &[8, 0, 12, 0, 16],
        &[8, 0xFF, 0xFF, 0xFF, 0xFF],
    ));
    // TIFF, entries 256 and 257 as LONG, with 278 (rows per strip) to fit.
    let entry = |tag: u8, value: [u8; 2]| [tag, 1, 4, 0, 1, 0, 0, 0, value[0], value[1]];
    let mut tiff = std::fs::read(fixture("grey16_raw.tif")).unwrap();
    for (tag, value) in [(0, 16), (1, 12), (22, 12)] {
        let stored = entry(tag, [value, 0]);
        let at = (tiff.windows(10)).position(|w| w == stored).unwrap();
        tiff[at..at + 10].copy_from_slice(&entry(tag, [0xFF, 0xFF]));
    }
    refused_as_too_large(&tiff);
    // BMP, width and height.
    refused_as_too_large(&patched(
        "grey8.bmp",
        &[16, 0, 0, 0, 12, 0, 0, 0],
        &[0xFF, 0x7F, 0, 0, 0xFF, 0x7F, 0, 0],
    ));
    // DICOM, Rows and Columns.
    let rows = |value: [u8; 2]| [0x28, 0, 0x10, 0, b'U', b'S', 2, 0, value[0], value[1]];
    let columns = |value: [u8; 2]| [0x28, 0, 0x11, 0, b'U', b'S', 2, 0, value[0], value[1]];
    let both = |value: u8, r: u8, c: u8| [rows([r, value]), columns([c, value])].concat();
    refused_as_too_large(&patched(
        "rle_16.dcm",
        &both(0, 12, 16),
        &both(0xFF, 0xFF, 0xFF),
    ));
}

/// A deflated data set that would grow to 96 MB beside a film of 192 px.
#[test]
fn deflated_bomb_is_refused() {
    let plain = std::fs::read(fixture("explicit_16.dcm")).unwrap();
    let deflated = std::fs::read(fixture("deflated_16.dcm")).unwrap();
    let meta_end = |bytes: &[u8]| {
        // Group length stands first: tag, VR, length, then a UL.
        let length = bytes[140..144].try_into().unwrap();
        144 + u32::from_le_bytes(length) as usize
    };
    let mut data_set = plain[meta_end(&plain)..].to_vec();
    let padding = 96_u32 << 20;
    // Data Set Trailing Padding (FFFC,FFFC).
    data_set.extend_from_slice(&[0xFC, 0xFF, 0xFC, 0xFF, b'O', b'B', 0, 0]);
    data_set.extend_from_slice(&padding.to_le_bytes());
    data_set.resize(data_set.len() + padding as usize, 0);
    let mut bomb = deflated[..meta_end(&deflated)].to_vec();
    let mut encoder = flate2::write::DeflateEncoder::new(&mut bomb, flate2::Compression::fast());
    encoder.write_all(&data_set).unwrap();
    encoder.finish().unwrap();
    assert!(bomb.len() < 1 << 20);
    let error = open_bytes(&bomb).unwrap_err();
    assert!(
        matches!(error.fault, FilmFault::TooManyBytes { .. }),
        "{error}"
    );
}

/// A value said to be 2 GB long in a file of a kilobyte.
#[test]
fn false_value_lengths_are_refused_before_memory_is_taken() {
    let bytes = patched(
        "explicit_16.dcm",
        &[0xE0, 0x7F, 0x10, 0, b'O', b'W', 0, 0, 0x80, 1, 0, 0],
        &[0xE0, 0x7F, 0x10, 0, b'O', b'W', 0, 0, 0, 0, 0, 0x80],
    );
    let error = open_bytes(&bytes).unwrap_err();
    assert!(error.to_string().contains("runs past the end"), "{error}");
}

/// JPEG 2000 streams cut anywhere after the header are refused: their decoder
/// alone would fill what is missing with grey.
#[test]
fn cut_jpeg_2000_is_refused() {
    for name in ["jpeg2000_8.dcm", "jpeg2000_16.dcm", "jpeg2000_lossy_12.dcm"] {
        let whole = std::fs::read(fixture(name)).unwrap();
        assert!(open_bytes(&whole).is_ok(), "{name}");
        let start = whole.windows(4).position(|w| w == [0xFF, 0x4F, 0xFF, 0x51]);
        let start = start.unwrap();
        let end = whole.windows(2).rposition(|w| w == [0xFF, 0xD9]).unwrap();
        let fragment = u32::from_le_bytes(whole[start - 4..start].try_into().unwrap()) as usize;
        let rest = whole[start + fragment..].to_vec();
        for share in [0.5, 0.75, 0.9, 0.95] {
            // An item of even length, as the standard asks.
            let kept = ((end - start) as f64 * share) as usize & !1;
            let mut cut = whole[..start + kept].to_vec();
            cut[start - 4..start].copy_from_slice(&(kept as u32).to_le_bytes());
            cut.extend(&rest);
            let error = open_bytes(&cut).expect_err(name).to_string();
            assert!(error.contains("JPEG 2000"), "{error}");
        }
    }
}

/// A small file that asks for a tile to every pixel.
#[test]
fn countless_tiles_are_refused() {
    let mut bytes = std::fs::read(fixture("jpeg2000_16.dcm")).unwrap();
    let start = bytes.windows(4).position(|w| w == [0xFF, 0x4F, 0xFF, 0x51]);
    let start = start.unwrap();
    // XTsiz and YTsiz (T.800 A.5.1).
    bytes[start + 24..start + 32].copy_from_slice(&[0, 0, 0, 1, 0, 0, 0, 1]);
    assert!(open_bytes(&bytes).is_err());
}

/// A picture whose header claims far more than its bytes can hold.
#[test]
fn a_jpeg_of_a_few_bytes_is_no_large_film() {
    let mut bytes = std::fs::read(fixture("grey8.jpg")).unwrap();
    let frame = bytes.windows(2).position(|w| w == [0xFF, 0xC0]).unwrap();
    bytes[frame + 5..frame + 9].copy_from_slice(&[0x36, 0xB0, 0x36, 0xB0]);
    let error = film::open_bytes(&PathBuf::from("a.jpg"), &bytes, &OpenLimits::default());
    let error = error.unwrap_err().to_string();
    assert!(error.contains("holds less than its size needs"), "{error}");
}

/// Bits Allocated as one half of a number of four bytes.
#[test]
fn a_length_that_is_no_whole_value_is_refused() {
    let mut bytes = std::fs::read(fixture("explicit_16.dcm")).unwrap();
    let element = [0x28, 0x00, 0x00, 0x01, b'U', b'S'];
    let at = bytes.windows(6).position(|w| w == element).unwrap();
    bytes[at + 4..at + 6].copy_from_slice(b"FL");
    let error = open_bytes(&bytes).unwrap_err().to_string();
    assert!(error.contains("length its type cannot have"), "{error}");
}
