//! Films decoded here against what other readers see in the same files.
//!
//! `tests/data/film` is made by `tests/scripts/make_film_fixtures.py`.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use dicom_core::value::DataSetSequence;
use dicom_core::{DataElement, PrimitiveValue, VR};
use dicom_dictionary_std::tags;
use dicom_object::InMemDicomObject;
use lengthfilm::film::dicom::{IntraOralFilm, write_intra_oral};
use lengthfilm::film::{
    self, Film, FilmFault, OpenLimits, OpenedFilm, Polarity, ScalePlane, WindowFunction,
};
use lengthfilm::tooth::{ToothNotation, ToothNumber};
use serde::Deserialize;

pub fn fixture_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/film")
}

pub fn fixture(name: &str) -> PathBuf {
    fixture_folder().join(name)
}

fn open(name: &str) -> OpenedFilm {
    film::open(&fixture(name), &OpenLimits::default()).unwrap_or_else(|e| panic!("{e}"))
}

fn fault(name: &str) -> FilmFault {
    match film::open(&fixture(name), &OpenLimits::default()) {
        Ok(_) => panic!("{name} opened"),
        Err(error) => error.fault,
    }
}

#[derive(Deserialize)]
struct Expected {
    width: u32,
    height: u32,
    bits: u8,
    low_is_opaque: bool,
    tolerance: f64,
    read_by: String,
    values: Vec<f64>,
}

#[test]
fn every_encoding_gives_the_values_other_readers_see() {
    let text = std::fs::read_to_string(fixture("expected.json")).unwrap();
    let expected: BTreeMap<String, Expected> = serde_json::from_str(&text).unwrap();
    assert!(expected.len() > 80, "{} fixtures", expected.len());
    let mut wrong = Vec::new();
    for (name, expected) in &expected {
        let opened = match film::open(&fixture(name), &OpenLimits::default()) {
            Ok(opened) => opened,
            Err(error) => {
                wrong.push(error.to_string());
                continue;
            }
        };
        let film = &opened.film;
        let low = film.polarity() == Polarity::LowIsOpaque;
        let size = (film.width_px(), film.height_px());
        if size != (expected.width, expected.height)
            || film.bits_stored() != expected.bits
            || low != expected.low_is_opaque
        {
            wrong.push(format!(
                "{name}: {size:?}, {} bits, low opaque {low}",
                film.bits_stored()
            ));
            continue;
        }
        let worst = (film.samples().iter().zip(&expected.values))
            .map(|(&sample, value)| (film.value_of(sample) - value).abs())
            .fold(0.0, f64::max);
        if worst > expected.tolerance {
            wrong.push(format!(
                "{name}: off by {worst}, allowed {} (read by {})",
                expected.tolerance, expected.read_by
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn samples_are_reached_by_column_and_row() {
    let opened = open("grey16.png");
    let film = &opened.film;
    assert_eq!(film.sample(0, 0), Some(0));
    assert_eq!(film.sample(1, 0), Some(65535));
    assert_eq!(film.sample(3, 2), Some(film.samples()[2 * 16 + 3]));
    assert_eq!(film.sample(16, 0), None);
    assert_eq!(film.sample(0, 12), None);
}

#[test]
fn content_decides_the_format_not_the_name() {
    let folder = tempfile::tempdir().unwrap();
    let disguised = folder.path().join("film.png");
    std::fs::copy(fixture("explicit_16.dcm"), &disguised).unwrap();
    let opened = film::open(&disguised, &OpenLimits::default()).unwrap();
    assert_eq!(opened.facts.format.name(), "DICOM");
}

#[test]
fn kinds_that_cannot_be_decoded_say_so_and_how_to_mend_it() {
    assert!(matches!(
        fault("three_frames.dcm"),
        FilmFault::MultiFrame { frames: 3 }
    ));
    let twelve_bits = fault("jpeg_extended_12.dcm");
    assert!(matches!(twelve_bits, FilmFault::NotSupported { .. }));
    assert!(twelve_bits.to_string().contains("12 bits"));
    let inner = fault("inner_size_disagrees.dcm");
    assert!(inner.to_string().contains("4096 × 4096"), "{inner}");
    let palette = fault("palette8.tif");
    assert!(matches!(palette, FilmFault::NotSupported { .. }));
    for fault in [twelve_bits, inner, palette] {
        assert!(!fault.to_string().contains('\n'));
    }
}

#[test]
fn decoded_size_is_limited_before_decoding() {
    // 16 × 12 = 192 px, one more than allowed.
    let tight = OpenLimits { max_pixels: 191 };
    let wide = OpenLimits { max_pixels: 192 };
    for name in [
        "grey16.png",
        "grey8.jpg",
        "grey16_raw.tif",
        "grey8.bmp",
        "explicit_16.dcm",
        "deflated_16.dcm",
        "rle_16.dcm",
        "jpeg_baseline_8.dcm",
        "jpeg_lossless_16.dcm",
        "jpeg_ls_16.dcm",
    ] {
        let error = film::open(&fixture(name), &tight).unwrap_err();
        assert!(
            matches!(
                error.fault,
                FilmFault::TooLarge {
                    width_px: 16,
                    height_px: 12,
                    limit_px: 191
                }
            ),
            "{error}"
        );
        film::open(&fixture(name), &wide).unwrap_or_else(|e| panic!("{e}"));
    }
}

#[test]
fn scale_facts_are_listed_believed_and_ranked() {
    let opened = open("scale_facts.dcm");
    let facts = &opened.scale;
    assert_eq!(facts.pixel_spacing_mm, Some([0.0231, 0.0242]));
    assert_eq!(facts.imager_pixel_spacing_mm, Some([0.02541, 0.02662]));
    assert_eq!(facts.nominal_scanned_pixel_spacing_mm, None);
    assert_eq!(facts.detector_element_spacing_mm, None);
    assert_eq!(facts.estimated_magnification, Some(1.1));
    assert_eq!(facts.source_to_detector_mm, Some(330.0));
    assert_eq!(facts.source_to_patient_mm, Some(300.0));
    assert_eq!(facts.devices[0].length_mm, Some(21.0));
    assert_eq!(facts.devices[0].diameter_mm, Some(5.0));
    let ignored = facts.warnings.iter().map(|w| w.text.as_str());
    let ignored: Vec<_> = ignored.filter(|t| t.contains("ignored")).collect();
    assert_eq!(ignored.len(), 2, "{ignored:?}");

    let scale = facts.dicom_scale().unwrap();
    assert_eq!(scale.source.code(), "pixel_spacing_geometry");
    assert_eq!(scale.plane, ScalePlane::Tooth);
    assert!(scale.description.contains("ratio of distances"));
    // 0.02541 / 0.0231 = 0.02662 / 0.0242 = 1.1.
    assert!((scale.magnification.unwrap() - 1.1).abs() < 1e-9);

    let windows = &opened.windows;
    assert_eq!(windows.len(), 2);
    assert_eq!((windows[1].center, windows[1].width), (1000.5, 200.0));
    assert_eq!(windows[1].explanation.as_deref(), Some("NARROW"));
    assert_eq!(windows[0].function, WindowFunction::Sigmoid);
    assert!(opened.warnings.iter().any(|w| w.code == "window_ignored"));
}

#[test]
fn resolution_tags_are_offered_and_follow_the_orientation() {
    let pitch = |name: &str| {
        let opened = open(name);
        assert_eq!(opened.scale.dicom_scale(), None, "{name}");
        opened.scale.resolution_tags[0].pitch_mm
    };
    let close = |a: [f64; 2], row: f64, column: f64| {
        (a[0] / row - 1.0).abs() < 1e-3 && (a[1] / column - 1.0).abs() < 1e-3
    };
    // [row, column]: dpi was given as (horizontal, vertical).
    assert!(close(pitch("grey8.png"), 25.4 / 300.0, 25.4 / 600.0));
    assert!(close(pitch("grey8.jpg"), 25.4 / 300.0, 25.4 / 300.0));
    assert!(close(pitch("grey16_raw.tif"), 25.4 / 500.0, 25.4 / 1000.0));
    assert!(close(pitch("grey8.bmp"), 25.4 / 600.0, 25.4 / 600.0));
    // 400 and 200 per cm.
    assert!(close(
        pitch("grey8_orientation1.jpg"),
        10.0 / 200.0,
        10.0 / 400.0
    ));
    assert!(close(
        pitch("grey8_orientation6.jpg"),
        10.0 / 400.0,
        10.0 / 200.0
    ));
}

#[test]
fn info_names_every_fact_and_no_person() {
    let opened = open("scale_facts.dcm");
    let json = film::info_json(&opened);
    let text = film::info_text(&opened);
    assert_eq!(json["width_px"], 16);
    assert_eq!(json["bits_stored"], 12);
    assert_eq!(json["photometric"], "MONOCHROME2");
    assert_eq!(json["scale"]["source"], "pixel_spacing_geometry");
    assert_eq!(json["sop_class"]["from"], "data set");
    let names = json["scale_facts"].as_array().unwrap().iter();
    let names: Vec<_> = names.map(|fact| fact["name"].as_str().unwrap()).collect();
    for name in [
        "Pixel Spacing",
        "Imager Pixel Spacing",
        "Nominal Scanned Pixel Spacing",
        "Device Length",
    ] {
        assert!(names.contains(&name), "{name} not among {names:?}");
        assert!(text.contains(name), "{name} not in {text}");
    }
    assert_eq!(opened.identity.id.as_deref(), Some("PHANTOM-ID"));
    for printed in [json.to_string(), text, format!("{opened:?}")] {
        assert!(!printed.contains("PHANTOM-ID") && !printed.contains("Nobody"));
    }
}

#[test]
fn partly_transparent_films_are_shown_over_black_with_a_warning() {
    let codes = |name: &str| -> Vec<_> { open(name).warnings.iter().map(|w| w.code).collect() };
    assert_eq!(codes("rgba8.png"), ["transparency"]);
    assert!(codes("rgba8.bmp").is_empty());
}

fn ramp() -> Film {
    let samples = (0..40 * 30).map(|i| (i * 53 % 65536) as u16).collect();
    Film::from_samples(40, 30, 16, Polarity::HighIsOpaque, samples).unwrap()
}

fn of_tooth_43() -> IntraOralFilm {
    IntraOralFilm {
        imager_pixel_spacing_mm: [0.025, 0.03],
        source_to_detector_mm: Some(330.0),
        source_to_patient_mm: Some(315.0),
        estimated_magnification: None,
        tooth: ToothNumber::parse(ToothNotation::Fdi, "43").expect("a tooth"),
        phantom_name: "PHANTOM".into(),
        seed: 7,
    }
}

/// Code values of PS3.16, CID 4018 and 4019, not taken from the program.
#[test]
fn a_tooth_is_believed_where_the_header_names_one_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("film.dcm");
    write_intra_oral(&path, &ramp(), &of_tooth_43()).unwrap();
    let text = |tag, vr, value: &str| DataElement::new(tag, vr, PrimitiveValue::from(value));
    type Code = (&'static str, &'static str);
    let code = |(value, scheme): &Code| {
        InMemDicomObject::from_element_iter([
            text(tags::CODE_VALUE, VR::SH, value),
            text(tags::CODING_SCHEME_DESIGNATOR, VR::SH, scheme),
        ])
    };
    const FIRST_MOLAR: Code = ("866006002", "SCT");
    let cases: [(&[Code], Option<u8>); 7] = [
        (&[FIRST_MOLAR], Some(36)),
        (&[("17505006", "SCT")], Some(54)),
        (&[FIRST_MOLAR, ("863898000", "SCT")], None),
        (&[], None),
        (&[("866006002", "99OWN")], None),
        (&[("80891009", "SCT")], None), // the heart
        (&[("", "SCT")], None),
    ];
    for (codes, expected) in cases {
        let mut object = dicom_object::open_file(&path).unwrap();
        object.put(DataElement::new(
            tags::PRIMARY_ANATOMIC_STRUCTURE_SEQUENCE,
            VR::SQ,
            DataSetSequence::from(codes.iter().map(code).collect::<Vec<_>>()),
        ));
        let changed = folder.path().join("changed.dcm");
        object.write_to_file(&changed).unwrap();
        let opened = film::open(&changed, &OpenLimits::default()).unwrap();
        let tooth = opened.facts.tooth.map(ToothNumber::fdi);
        assert_eq!(tooth, expected, "{codes:?}");
    }
}

#[test]
fn written_png_and_dicom_come_back_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let film = ramp();
    let png = folder.path().join("film.png");
    film.save_png16(&png).unwrap();
    let back = film::open(&png, &OpenLimits::default()).unwrap();
    assert_eq!(back.film.samples(), film.samples());
    assert_eq!(back.film.bits_stored(), 16);

    let facts = of_tooth_43();
    let dicom = folder.path().join("film.dcm");
    write_intra_oral(&dicom, &film, &facts).unwrap();
    let back = film::open(&dicom, &OpenLimits::default()).unwrap();
    assert_eq!(back.film.samples(), film.samples());
    let scale = back.scale.dicom_scale().unwrap();
    assert_eq!(scale.source.code(), "imager_pixel_spacing_sid_sod");
    assert_eq!(scale.pitch_mm, [0.025, 0.03]);
    assert_eq!(scale.magnification, Some(330.0 / 315.0));
    assert_eq!(back.facts.tooth, Some(facts.tooth));
    assert_eq!(film::info_json(&back)["tooth_fdi"], 43);
    assert!(film::info_text(&back).contains("tooth: 43 (FDI)"));
    let instance = back.instance.unwrap();
    assert_eq!(
        instance.sop_class_uid.as_deref(),
        Some("1.2.840.10008.5.1.4.1.1.1.3")
    );

    // Same input, same bytes; another seed, another instance.
    let again = folder.path().join("again.dcm");
    write_intra_oral(&again, &film, &facts).unwrap();
    assert_eq!(
        std::fs::read(&dicom).unwrap(),
        std::fs::read(&again).unwrap()
    );
    let other = IntraOralFilm { seed: 8, ..facts };
    write_intra_oral(&again, &film, &other).unwrap();
    let other = film::open(&again, &OpenLimits::default()).unwrap();
    assert_ne!(
        other.instance.unwrap().sop_instance_uid,
        instance.sop_instance_uid
    );
}
