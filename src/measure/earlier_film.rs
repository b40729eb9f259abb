//! The scale of one film taken over to a later one.

use thiserror::Error;

use super::input_error::InputError;
use super::model::ScaleBasis;
use super::pipeline::{FilmSummary, measure_with_model, typed_scale};
use super::settings::{MeasureSettings, Precision};
use crate::calibration::film_scales;
use crate::case::{Case, EarlierFilm};

/// Why an earlier film gives no scale for a later one.
#[derive(Debug, Error, PartialEq)]
pub enum NoEarlierScale {
    /// Its own case cannot be used.
    #[error("the earlier film cannot be measured: {0}")]
    Input(#[from] InputError),
    /// It has no scale, or none in the tooth's plane.
    #[error(
        "the earlier film has no scale in the tooth's plane: trace a file of known length, a \
         ruler or a ball there, or state its magnification"
    )]
    NoScale,
    /// Its scale comes from yet another film.
    #[error(
        "the scale of that film comes from yet another one: choose the film it was measured on"
    )]
    FromAnother,
    /// Another receptor or resolution.
    #[error(
        "the earlier film has {earlier_width} x {earlier_height} px and this one {width} x {height} \
         px: receptor or resolution differ, so its scale does not hold here"
    )]
    OtherReceptor {
        earlier_width: u32,
        earlier_height: u32,
        width: u32,
        height: u32,
    },
}

/// The scale of an earlier film, whose case `stored` names, for a later one of
/// `size_px` (columns, rows) px.
///
/// # Errors
/// [`NoEarlierScale`], one clear line.
pub fn earlier_film(
    earlier: &Case,
    film: &FilmSummary,
    stored: String,
    size_px: [u32; 2],
    settings: &MeasureSettings,
) -> Result<EarlierFilm, NoEarlierScale> {
    let settings = MeasureSettings {
        precision: Precision::Live,
        ..settings.clone()
    };
    let (findings, model) = measure_with_model(earlier, film, "", &settings)?;
    if let ScaleBasis::Film { .. } = model.basis {
        let stated = film_scales(&film.scale, &typed_scale(earlier));
        let used = stated.first().ok_or(NoEarlierScale::NoScale)?;
        if used.u_relative.is_some() {
            return Err(NoEarlierScale::FromAnother);
        }
        used.tooth_mm_per_px().ok_or(NoEarlierScale::NoScale)?;
    }
    let scale = findings.scale;
    let (Some(mm_per_px), Some(u_mm_per_px)) = (scale.mm_per_px, scale.u_mm_per_px) else {
        return Err(NoEarlierScale::NoScale);
    };
    let found = EarlierFilm {
        case: stored,
        mm_per_px,
        u_mm_per_px,
        basis: scale.description,
        size_px: [film.width_px, film.height_px],
        extra: Default::default(),
    };
    if found.has_size_of(size_px) {
        return Ok(found);
    }
    let [width, height] = size_px;
    Err(NoEarlierScale::OtherReceptor {
        earlier_width: film.width_px,
        earlier_height: film.height_px,
        width,
        height,
    })
}
