//! Real films, where they are at hand: the folder that `LENGTHFILM_FILMS` names.

use lengthfilm::film::{self, OpenLimits, OpenedFilm, ScalePlane};

use crate::support::real_films;

fn real_film(name: &str) -> Option<OpenedFilm> {
    let path = real_films()?.join(name);
    if !path.exists() {
        println!("skipped: {} is not here", path.display());
        return None;
    }
    Some(film::open(&path, &OpenLimits::default()).unwrap_or_else(|e| panic!("{e}")))
}

#[test]
fn intra_oral_object_uses_the_spacing_at_the_detector() {
    let Some(opened) = real_film("denpar_975_IO_imagerpixelspacing.dcm") else {
        return;
    };
    assert_eq!((opened.facts.width_px, opened.facts.height_px), (1168, 883));
    let scale = opened.scale.dicom_scale().unwrap();
    assert_eq!(scale.source.code(), "imager_pixel_spacing");
    assert_eq!(scale.plane, ScalePlane::Detector);
    assert_eq!(scale.magnification, None);
}

#[test]
fn odd_object_opens_and_its_spacing_is_of_unstated_origin() {
    let Some(opened) = real_film("denpar_975_IO_pixelspacing_only_noSOPclass.dcm") else {
        return;
    };
    let scale = opened.scale.dicom_scale().unwrap();
    assert_eq!(scale.source.code(), "pixel_spacing_origin_not_stated");
    assert_eq!(scale.plane, ScalePlane::NotStated);
    // The SOP class stands only in the file meta, and is private.
    let instance = opened.instance.unwrap();
    assert!(instance.sop_class_from_meta);
    assert_eq!(instance.sop_class_name, None);
}

#[test]
fn wrappers_hold_the_pixels_of_the_picture_they_were_made_from() {
    let Some(picture) = real_film("denpar_975_1168x883.png") else {
        return;
    };
    for name in [
        "denpar_975_IO_imagerpixelspacing.dcm",
        "denpar_975_IO_pixelspacing_only_noSOPclass.dcm",
    ] {
        let Some(wrapped) = real_film(name) else {
            return;
        };
        assert_eq!(wrapped.film.width_px(), picture.film.width_px());
        assert_eq!(wrapped.film.samples(), picture.film.samples(), "{name}");
    }
}
