//! A case becomes a model: every input is entered once, then every part of
//! the model is made from the inputs at their best estimates.

use kurbo::Point;

use super::Model;
use super::canal::CanalModel;
use super::entry::{EnteredCanal, EnteredObject, Entry};
use super::object::MeasuredKind;
use super::readings::BendPoint;
use super::scale::{ObjectModel, drawn, straight_pieces};
use crate::calibration::{DetectorFrame, FilmScale};
use crate::case::{Case, ScaleObjectKind};
use crate::geometry::{DrawnCurve, FitError, local_scatter_ratio};
use crate::measure::bends::BendModel;
use crate::measure::click_noise::ClickNoise;
use crate::measure::inputs::{Inputs, PlaceIndex, PlaceKind};
use crate::measure::lengthening::lengthening;
use crate::measure::path::ProlongedCurve;
use crate::measure::settings::MeasureSettings;

impl Model {
    /// The model of a case that has passed [`crate::measure::check::check`], on
    /// a film whose own scale is `film_scale`.
    pub fn new(case: &Case, film_scale: Option<&FilmScale>, settings: &MeasureSettings) -> Self {
        let frame = film_scale.map_or_else(DetectorFrame::without_pitch, |scale| {
            DetectorFrame::with_pitch(scale.pitch_mm)
        });
        let uncertainty = &settings.uncertainty.stated_in(case);
        let source_distance_mm = case
            .film
            .source_to_tooth_mm
            .or(case.film.source_to_detector_mm)
            .unwrap_or(uncertainty.source_distance_mm);
        let mut entry = Entry::new(case, frame, uncertainty, source_distance_mm);
        let tilt = entry.tilt();
        let objects: Vec<_> = case
            .scale
            .objects
            .iter()
            .filter_map(|object| entry.object(object))
            .collect();
        let canals: Vec<_> = case
            .canals
            .iter()
            .map(|canal| entry.canal(canal, case, &objects, settings))
            .collect();
        let basis = entry.basis(&objects, film_scale);
        let clicks = entry.clicks;

        // Every input has been entered: what follows is read at their best
        // estimates.
        let inputs = entry.inputs.build();
        let best = BestEstimates {
            nominal: inputs.nominal(),
            frame,
            clicks,
            inputs: &inputs,
        };
        let objects: Vec<_> = objects
            .into_iter()
            .map(|object| best.object(object))
            .collect();
        let canals: Vec<_> = canals
            .into_iter()
            .map(|canal| best.canal(canal, &objects, settings))
            .collect();
        let nominal = best.nominal;
        let mut inputs = inputs;
        for canal in &canals {
            let excess = canal.bends.as_ref().map_or(1.0, BendModel::scatter_excess);
            for point in &canal.bend_points {
                if let BendPoint::Reading { error, .. } = point {
                    inputs.widen_scalar(*error, excess);
                }
            }
            if canal.bend_points.is_empty() {
                for &point in &canal.path {
                    inputs.widen(point, excess);
                }
            }
        }
        let mut model = Self {
            inputs,
            frame,
            basis,
            objects,
            canals,
            clicks,
            tilt,
            source_per_detector: 0.0,
            nominal,
        };
        if let Some(mm) = model.nominal_tooth_per_detector() {
            model.source_per_detector = mm / source_distance_mm;
        }
        model
    }
}

/// The inputs at their best estimates.
struct BestEstimates<'a> {
    nominal: Vec<f64>,
    frame: DetectorFrame,
    clicks: ClickNoise,
    inputs: &'a Inputs,
}

impl BestEstimates<'_> {
    fn place(&self, index: PlaceIndex) -> Point {
        self.frame
            .detector_from_film(self.inputs.place(&self.nominal, index))
    }

    fn places(&self, indices: &[PlaceIndex]) -> Vec<Point> {
        indices.iter().map(|&i| self.place(i)).collect()
    }

    /// Standard deviation of a click per coordinate.
    fn sd_of(&self, index: PlaceIndex) -> f64 {
        let click = self.inputs.click(index);
        self.clicks.of(click.kind, click.assisted)
    }

    fn object(&self, entered: EnteredObject) -> ObjectModel {
        let mut memory = None;
        let lengthening = lengthening(
            &self.places(&entered.points),
            |i| self.sd_of(entered.points[i]),
            |points| MeasuredKind::of(entered.kind).apparent_size(points, &mut memory),
        );
        // A file's own scatter, where its points are enough to show it.
        let sd = self.sd_of(entered.points[entered.points.len() / 2]);
        let ratio = local_scatter_ratio(&self.places(&entered.points), sd);
        let shown = match entered.kind {
            ScaleObjectKind::File if ratio.is_finite() => ratio.min(1.0).powi(2),
            _ => 0.0,
        };
        ObjectModel {
            kind: entered.kind,
            canal: entered.canal,
            measured: entered.measured,
            in_own_plane: entered.in_own_plane,
            points: entered.points,
            lengthening,
            lengthening_shown: shown * lengthening,
            true_size: entered.true_size,
            depth: entered.depth,
        }
    }

    /// The bends of a followed canal. The ends of a trace, where a press may be
    /// beside the line, count for less.
    fn fit_to_readings(
        &self,
        entered: &EnteredCanal,
        settings: &MeasureSettings,
    ) -> Result<BendModel, FitError> {
        let last = entered.bend_points.len() - 1;
        let known = entered.bend_points.iter().enumerate();
        let (points, sds): (Vec<Point>, Vec<f64>) = known
            .map(|(index, (point, u))| match *point {
                BendPoint::Click(click) if index == 0 || index == last => {
                    (self.place(click), self.clicks.followed_end())
                }
                BendPoint::Click(click) => (self.place(click), self.sd_of(click)),
                BendPoint::Reading { at, .. } => (at, *u),
            })
            .unzip();
        let mut sorted = sds.clone();
        sorted.sort_by(f64::total_cmp);
        let typical = sorted[sorted.len() / 2];
        let weights: Vec<f64> = sds.iter().map(|sd| (typical / sd).powi(2)).collect();
        let power = Some(settings.read_form_power);
        BendModel::fit_weighted(&points, &weights, typical, power, settings)
    }

    fn canal(
        &self,
        entered: EnteredCanal,
        objects: &[ObjectModel],
        settings: &MeasureSettings,
    ) -> CanalModel {
        let points = self.places(&entered.path);
        let click = self.clicks.of(PlaceKind::Canal, entered.assisted);
        // The file's line is no canal: nothing bends along it.
        let traced = if entered.has_trace { &points[..] } else { &[] };
        let bends = if entered.bend_points.is_empty() {
            BendModel::fit(traced, click, settings)
        } else {
            self.fit_to_readings(&entered, settings)
        };
        let mut memory = None;
        let by_statement = lengthening(
            &points,
            |i| self.sd_of(entered.path[i]),
            |points| {
                let curve = if entered.has_trace {
                    drawn(&mut memory, points)
                } else {
                    straight_pieces(&mut memory, points)
                };
                Some(curve?.length())
            },
        );
        let (excess, lengthening_shown) = match &bends {
            // The line that was followed is smooth.
            Ok(_) if !entered.bend_points.is_empty() => (1.0, 0.0),
            Ok(bends) => (
                bends.scatter_excess(),
                bends.lengthening_shown(by_statement),
            ),
            Err(_) => (1.0, 0.0),
        };
        let curve = if entered.has_trace {
            DrawnCurve::through(&points)
        } else {
            DrawnCurve::straight_pieces(&points)
        }
        .ok();
        let is_on_path = |place: Option<PlaceIndex>| {
            let path = curve.as_ref().map(|curve| ProlongedCurve::new(curve, None));
            path.zip(place).is_some_and(|(path, place)| {
                let station = path.station(self.place(place));
                station.length_at > station.distance
            })
        };
        let stop = entered.own_file.map(|file| objects[file].points[0]);
        CanalModel {
            reference_on_path: is_on_path(entered.reference),
            stop_on_path: is_on_path(stop),
            lengthening: by_statement * excess * excess,
            lengthening_shown,
            bends,
            name: entered.name,
            allowance_mm: entered.allowance_mm,
            has_trace: entered.has_trace,
            own_file: entered.own_file,
            path: entered.path,
            bend_points: entered.bend_points.into_iter().map(|(p, _)| p).collect(),
            reference: entered.reference,
            tip: entered.tip,
            apex: entered.apex,
            set_length: entered.set_length,
            form: entered.form,
            shape: entered.shape,
            planes: entered.planes,
            lateral_offset: entered.lateral_offset,
            assisted: entered.assisted,
            moved: entered.moved,
        }
    }
}
