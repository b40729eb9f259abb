//! Damaged and hostile films: an error in one line, never a panic, never a
//! film larger than the limit.

use std::io::Write;
use std::path::PathBuf;

use lengthfilm::film::{self, FilmError, OpenLimits, OpenedFilm};
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
