//! The flattened picture and the facts beside it.

use std::path::{Path, PathBuf};

use image::{ImageBuffer, Luma};
use imageproc::geometric_transformations::{Border, Interpolation, warp_into_with};
use serde::Serialize;
use serde_json::{Value, json};

use super::{FlattenWarning, Flattening};
use crate::atomic_file;
use crate::film::{Film, OpenedFilm};
use crate::units::FilmPoint;

/// The photograph seen straight on, 16 bits, cubic between pixels; what lies
/// outside the photograph is black.
pub fn flat_film(photo: &Film, flattening: &Flattening) -> Option<Film> {
    let raise = 16 - photo.bits_stored();
    let samples: Vec<u16> = photo.samples().iter().map(|s| s << raise).collect();
    let source: ImageBuffer<Luma<u16>, _> =
        ImageBuffer::from_raw(photo.width_px(), photo.height_px(), samples)?;
    let [width, height] = flattening.size_px;
    let mut flat = ImageBuffer::<Luma<u16>, Vec<u16>>::new(width, height);
    // Pixel centres lie at +0.5 here and at whole numbers there.
    let photo_from_flat = |x: f32, y: f32| {
        let centre = FilmPoint::new(f64::from(x) + 0.5, f64::from(y) + 0.5);
        match flattening.photo_from_flat(centre) {
            Some(p) => ((p.x - 0.5) as f32, (p.y - 0.5) as f32),
            None => (-1.0, -1.0),
        }
    };
    warp_into_with(
        &source,
        photo_from_flat,
        Interpolation::Bicubic,
        Border::Constant(Luma([0])),
        &mut flat,
    );
    Film::from_samples(width, height, 16, photo.polarity(), flat.into_raw())
}

/// What is written beside the flattened picture.
#[derive(Clone, Debug, Serialize)]
pub struct Facts {
    pub mm_per_px: f64,
    pub u_mm_per_px: f64,
    /// Distance of the fifth mark, else of the rectangle's edges from straight
    /// lines between the corners, px of the flattened picture.
    pub residual_px: Option<f64>,
    pub residual_source: Option<&'static str>,
    pub edge_residual_px: Option<f64>,
    pub check_residual_px: Option<f64>,
    pub width_px: u32,
    pub height_px: u32,
    pub corners_px: [FilmPoint; 4],
    pub size_mm: [f64; 2],
    pub margin_mm: f64,
    pub warnings: Vec<FlattenWarning>,
}

impl Facts {
    /// The facts of a flattening; `edge_residual_px` in px of the photograph.
    pub fn new(flattening: &Flattening, edge_residual_px: Option<f64>) -> Self {
        let middle = flattening.request.size_mm.map(|side| 0.5 * side);
        let px_per_mm = flattening.photo_from_plane.scale_at(middle);
        let edges = edge_residual_px.map(|px| px / px_per_mm / flattening.pitch_mm);
        let check = flattening.check_residual_px;
        let mut warnings = flattening.warnings.clone();
        let residual_source = match (check, edges) {
            (Some(_), _) => Some("fifth mark"),
            (None, Some(_)) => Some("edges"),
            (None, None) => None,
        };
        if residual_source.is_none() {
            warnings.push(FlattenWarning {
                code: "no_residual",
                text: "four corners always agree with each other, and the rectangle's edges are \
                       not seen: nothing checks them; place a fifth mark (--check)"
                    .to_owned(),
            });
        }
        warnings.push(FlattenWarning {
            code: "lens",
            text: "lens distortion is not corrected: a telephone's lens may bend straight lines \
                   by about 1 % of the picture's height near its border (common practice, no \
                   source); keep the object in the middle of the photograph"
                .to_owned(),
        });
        if flattening.request.deeper.is_none() {
            warnings.push(FlattenWarning {
                code: "depth",
                text: "the scale holds in the plane of the rectangle: a canal deeper in a block \
                       is shown smaller by its depth over the camera's distance; state both \
                       (--deeper-mm, --camera-mm)"
                    .to_owned(),
            });
        }
        Self {
            mm_per_px: flattening.mm_per_px,
            u_mm_per_px: flattening.u_mm_per_px,
            residual_px: check.or(edges),
            residual_source,
            edge_residual_px: edges,
            check_residual_px: check,
            width_px: flattening.size_px[0],
            height_px: flattening.size_px[1],
            corners_px: flattening.request.corners_px,
            size_mm: flattening.request.size_mm,
            margin_mm: flattening.request.margin_mm,
            warnings,
        }
    }
}

/// Where the facts of a flattened picture stand.
pub fn facts_path(out: &Path) -> PathBuf {
    out.with_extension("facts.json")
}

/// Makes the photograph flat and writes the picture to `out`, a 16-bit PNG, with
/// its facts beside it.
///
/// # Errors
/// One line: what cannot be written.
pub fn write(
    photo: &OpenedFilm,
    flattening: &Flattening,
    facts: &Facts,
    out: &Path,
) -> Result<(), String> {
    let flat = flat_film(&photo.film, flattening).ok_or_else(|| {
        let path = photo.path.display();
        format!("{path}: the photograph is empty; take it again")
    })?;
    flat.save_png16(out).map_err(|error| error.to_string())?;
    let json = facts_json(photo, flattening, facts);
    let text = serde_json::to_string_pretty(&json).map_err(|error| error.to_string())? + "\n";
    let path = facts_path(out);
    atomic_file::write(&path, text.as_bytes())
        .map_err(|error| format!("{}: {}", path.display(), atomic_file::reason(&error)))
}

/// The file beside the flattened picture: where it comes from and how.
pub fn facts_json(photo: &OpenedFilm, flattening: &Flattening, facts: &Facts) -> Value {
    json!({
        "format": "lengthfilm-flat",
        "version": 1,
        "photograph": {
            "path": photo.path.display().to_string(),
            "sha256": photo.sha256,
            "width_px": photo.film.width_px(),
            "height_px": photo.film.height_px(),
            "turned_upright": photo.facts.orientation_applied,
        },
        "photo_px_from_plane_mm": flattening.photo_from_plane.rows(),
        "facts": facts,
    })
}
