//! The built-in demo: a synthetic film and the case a careful user would make
//! of it, from what is true of the film.

use crate::case::{CanalFile, Case, ScaleObject, ScaleObjectKind, Tooth, ToothNotation};
use crate::desktop::document::kept;
use crate::film::Film;
use crate::phantom::{PhantomSpec, render};
use crate::units::FilmPoint;

/// What the demo has to show: a tip short of the apex.
const TIP_SHORT_MM: f64 = 1.4;
/// Points of the demo's traces.
const FILE_POINTS: usize = 6;
const CANAL_POINTS: usize = 10;

/// The demo case and its film.
///
/// # Errors
/// One line in plain words.
pub fn demo() -> Result<(Case, Film), String> {
    let mut spec = PhantomSpec::default();
    // The foramen opens towards the source: canal and apex lie in one line.
    spec.tooth.apex_side_deg = 90.0;
    let tooth = spec.tooth.clone();
    let phantom =
        render(&spec.with_tip_short_of_apex(TIP_SHORT_MM)).map_err(|error| error.to_string())?;
    let truth = phantom.truth;

    let mut case = super::fresh_case("demo-film.png");
    case.tooth = Some(Tooth {
        notation: ToothNotation::Fdi,
        number: tooth.fdi,
        extra: serde_json::Map::new(),
    });
    let canal = &mut case.canals[0];
    canal.name.clone_from(&tooth.canal_name);
    canal.reference_name = Some(tooth.reference_name);
    canal.reference_px = Some(kept(truth.reference_px));
    canal.apex_px = Some(kept(truth.apex_px));
    canal.foramen_px = Some(kept(truth.foramen_px));
    // The last point but one keeps its distance from the apex, as a user's
    // would.
    let canal_px = &truth.canal_px[..truth.canal_px.len() * 9 / 10];
    canal.trace_px = evenly(canal_px, CANAL_POINTS - 1);
    canal.trace_px.push(kept(truth.apex_px));
    if let Some(file) = truth.file {
        let length_mm = (file.stop_to_tip_mm * 4.0).round() / 4.0;
        let mut points_px = evenly(&file.centre_line_px, FILE_POINTS);
        // The stop rests on the reference point.
        if let Some(stop) = points_px.first_mut() {
            *stop = kept(file.stop_px);
        }
        if let Some(tip) = points_px.last_mut() {
            *tip = kept(file.tip_px);
        }
        canal.reference_px = Some(kept(file.stop_px));
        canal.file = Some(CanalFile {
            set_length_mm: Some(length_mm),
            tip_px: Some(kept(file.tip_px)),
            extra: serde_json::Map::new(),
        });
        case.scale.objects.push(ScaleObject {
            kind: ScaleObjectKind::File,
            canal: Some(tooth.canal_name),
            true_length_mm: Some(length_mm),
            true_diameter_mm: None,
            nominal: false,
            points_px,
            assisted: false,
            extra: serde_json::Map::new(),
        });
    }
    Ok((case, phantom.film))
}

/// `count` points spread over a dense line, both ends among them.
fn evenly(line: &[FilmPoint], count: usize) -> Vec<FilmPoint> {
    let last = line.len().saturating_sub(1);
    (0..count)
        .filter_map(|i| line.get(i * last / (count - 1).max(1)).map(|at| kept(*at)))
        .collect()
}
