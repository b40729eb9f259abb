//! What a person's own case comes to by their own entries: the scale they
//! made, the length they set on the file, the working length they would chart.

use std::collections::BTreeMap;

use crate::case::Case;
use crate::measure::{FilmSummary, MeasureSettings, Precision, measure};
use crate::tooth::ToothNumber;

/// One canal by its owner's entries, true mm; `None` where the case does not
/// give it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct OwnCanal {
    /// Length set on the file.
    pub set_length_mm: Option<f64>,
    /// Working length, additive, else by proportion.
    pub working_length_mm: Option<f64>,
    /// The same rounded for the chart.
    pub chart_mm: Option<f64>,
    /// From the reference point to the apex: working length and allowance.
    pub tooth_length_mm: Option<f64>,
    /// The length rests on the scale of the reference: the case has none.
    pub by_reference_scale: bool,
}

/// One case by its owner's entries.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OwnNumbers {
    /// Scale, true mm per px of the raster that the case is compared on.
    pub mm_per_px: Option<f64>,
    /// By the canal's name.
    pub canals: BTreeMap<String, OwnCanal>,
    /// The tooth, where its number names one.
    pub tooth: Option<ToothNumber>,
}

impl OwnNumbers {
    /// Measures `case` on its own film. `px_per_raster_px`: px of that film
    /// per px of the raster it is compared on.
    ///
    /// # Errors
    /// One clear line: the case cannot be measured.
    pub fn of(case: &Case, film: &FilmSummary, px_per_raster_px: f64) -> Result<Self, String> {
        let settings = MeasureSettings {
            precision: Precision::ValuesOnly,
            ..MeasureSettings::default()
        };
        // Only canals with a file have a working length; the others' traces
        // need not be fitted again.
        let mut measured = case.clone();
        measured.canals.retain(|canal| {
            let traced = case.own_file(canal).and_then(|file| file.true_length_mm);
            canal.file.as_ref().and_then(|f| f.set_length_mm).is_some() || traced.is_some()
        });
        measured.second_film = None;
        let found = measure(&measured, film, "", &settings).map_err(|error| error.to_string())?;
        let canals = measured.canals.iter().zip(&found.canals);
        let canals = canals.map(|(canal, found)| {
            let traced = case.own_file(canal).and_then(|file| file.true_length_mm);
            let set = canal.file.as_ref().and_then(|file| file.set_length_mm);
            let length = found
                .working_length_additive_mm
                .or(found.working_length_proportion_mm);
            let length = length.map(|quantity| quantity.value);
            let own = OwnCanal {
                set_length_mm: set.or(traced),
                working_length_mm: length,
                chart_mm: found.working_length_chart_mm,
                tooth_length_mm: length.map(|length| length + found.allowance_mm),
                by_reference_scale: false,
            };
            (canal.name.clone(), own)
        });
        Ok(Self {
            mm_per_px: found.scale.mm_per_px.map(|scale| scale * px_per_raster_px),
            canals: canals.collect(),
            tooth: case
                .tooth
                .as_ref()
                .and_then(|tooth| ToothNumber::parse(tooth.notation, &tooth.number).ok()),
        })
    }
}
