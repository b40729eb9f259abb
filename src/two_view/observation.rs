//! One film's side of the canal: its points in mm of the tooth's plane, turned
//! so that the canal runs down the film.

use kurbo::Point;
use nalgebra::Vector2;

use super::error::TwoViewError;
use super::exposures::SCALE_PLACE_HALF_WIDTH_MM;
use super::film_plane::FilmPlane;
use crate::calibration::DetectorUnit;
use crate::case::{Canal, Case, OBJECTS};
use crate::measure::click_noise::ClickNoise;
use crate::measure::findings::{CanalFindings, Findings};
use crate::measure::{
    FilmSummary, MeasureSettings, Model, PlaceKind, Precision, measure_with_model,
};
use crate::units::FilmPoint;

/// One of the two cases, with its film.
#[derive(Clone, Copy, Debug)]
pub struct Side<'a> {
    pub case: &'a Case,
    pub film: &'a FilmSummary,
    /// The case's name, for messages.
    pub name: &'a str,
}

/// A traced file of known length, two points or more.
#[derive(Clone, Debug)]
pub struct FileTrace {
    pub points: Vec<Vector2<f64>>,
    pub sd: f64,
    pub true_length_mm: f64,
    /// Half width of that length, mm.
    pub half_width_mm: f64,
}

impl FileTrace {
    /// Stop and tip.
    pub fn ends(&self) -> [Vector2<f64>; 2] {
        [self.points[0], self.points[self.points.len() - 1]]
    }
}

/// A side as measured. Film coordinates are mm in the tooth's plane by this
/// film's own scale, from the film's centre, the apex down.
#[derive(Clone, Debug)]
pub struct Observation {
    pub name: String,
    /// Clockwise right angles that the film was turned by to bring the apex
    /// down.
    pub quarter_turns: u8,
    pub points: Vec<Vector2<f64>>,
    /// Standard deviation of each point, mm.
    pub sd: Vec<f64>,
    /// The trace ends on the radiographic apex, not on the canal's end.
    pub ends_on_apex: bool,
    pub reference: Option<Vector2<f64>>,
    pub reference_sd: f64,
    pub file: Option<FileTrace>,
    /// Other canals of the case: name and trace.
    pub others: Vec<(String, Vec<Vector2<f64>>)>,
    /// Relative standard uncertainty of the scale.
    pub u_scale: f64,
    /// Code of what the scale rests on.
    pub scale_source: String,
    /// The place whose depth the scale holds at: the middle of the canal's own
    /// file, for a film's own scale the tooth's middle half way from reference
    /// to apex. `None` where it is not known.
    pub scale_place: Option<Vector2<f64>>,
    /// Distance from the source to the tooth, mm, where known.
    pub source_mm: Option<f64>,
    /// What this film alone gives.
    pub alone: CanalFindings,
    pub allowance_mm: f64,
    /// mm of the tooth's plane per px, mean of both directions.
    pub mm_per_px: f64,
    /// What brings places of the film to these coordinates and back.
    pub plane: FilmPlane,
}

/// A scale of this source is given by an object on the film.
fn is_of_object(scale_source: &str) -> bool {
    OBJECTS.iter().any(|row| row.code == scale_source)
}

/// Fewest points of a trace, as for any curvature.
pub const FEWEST_POINTS: usize = 4;

impl Observation {
    /// What a side says about a canal.
    ///
    /// # Errors
    /// A case that cannot be measured; no scale; no such canal; too few points.
    pub fn new(
        side: &Side,
        canal_name: &str,
        settings: &MeasureSettings,
    ) -> Result<Self, TwoViewError> {
        let settings = MeasureSettings {
            precision: Precision::Live,
            ..settings.clone()
        };
        let (findings, model) = measure_with_model(side.case, side.film, side.name, &settings)
            .map_err(|error| TwoViewError::Input {
                case: side.name.to_owned(),
                error,
            })?;
        let no_canal = || TwoViewError::NoSuchCanal {
            case: side.name.to_owned(),
            canal: canal_name.to_owned(),
            has: names(side.case),
        };
        let index = side.case.canals.iter().position(|c| c.name == canal_name);
        let index = index.ok_or_else(no_canal)?;
        let canal = &side.case.canals[index];
        let alone = findings.canals.iter().find(|c| c.name == canal_name);
        let alone = alone.ok_or_else(no_canal)?.clone();
        if canal.trace_px.len() < FEWEST_POINTS {
            return Err(TwoViewError::TooFewPoints {
                case: side.name.to_owned(),
                canal: canal_name.to_owned(),
                found: canal.trace_px.len(),
                needed: FEWEST_POINTS,
            });
        }
        let frame = ToothPlane::new(side, canal, &findings, &model)?;
        let seen = frame.observe(side, canal, alone, &findings, &settings);
        Ok(seen.read_between_ends(&frame, &model.read_places(index)))
    }
}

/// The canals of a case, for messages.
pub fn names(case: &Case) -> String {
    let names: Vec<&str> = case.canals.iter().map(|c| c.name.as_str()).collect();
    if names.is_empty() {
        "none".to_owned()
    } else {
        names.join(", ")
    }
}

/// From the film's px to mm of the tooth's plane, apex down.
struct ToothPlane<'a> {
    model: &'a Model,
    mm_per_px: f64,
    plane: FilmPlane,
}

impl<'a> ToothPlane<'a> {
    fn new(
        side: &Side,
        canal: &Canal,
        findings: &Findings,
        model: &'a Model,
    ) -> Result<Self, TwoViewError> {
        let mm_per_px = findings.scale.mm_per_px.ok_or(TwoViewError::NoScale {
            case: side.name.to_owned(),
        })?;
        let mut plane = Self {
            model,
            mm_per_px,
            plane: FilmPlane {
                frame: model.frame,
                mm_per_detector: mm_per_px / model.frame.mean_pitch(),
                centre: FilmPoint::new(
                    0.5 * f64::from(side.film.width_px),
                    0.5 * f64::from(side.film.height_px),
                ),
                quarter_turns: 0,
                is_mirrored: false,
            },
        };
        if let [first, .., last] = canal.trace_px.as_slice() {
            let chord = plane.mm(*last) - plane.mm(*first);
            plane.plane.quarter_turns = match (chord.x.abs() > chord.y.abs(), chord.x > 0.0) {
                (false, _) if chord.y >= 0.0 => 0,
                (false, _) => 2,
                (true, true) => 1,
                (true, false) => 3,
            };
        }
        Ok(plane)
    }

    fn mm(&self, point: FilmPoint) -> Vector2<f64> {
        self.plane.mm_from_film(point)
    }

    fn observe(
        &self,
        side: &Side,
        canal: &Canal,
        alone: CanalFindings,
        findings: &Findings,
        settings: &MeasureSettings,
    ) -> Observation {
        let case = side.case;
        let uncertainty = settings.uncertainty.stated_in(case);
        let in_px = self.model.frame.unit() == DetectorUnit::Px;
        let clicks = ClickNoise::new(
            case,
            self.model.frame,
            in_px.then_some(self.mm_per_px),
            &uncertainty,
        );
        let sd_mm = |kind, assisted| clicks.of(kind, assisted) * self.plane.mm_per_detector;
        let line = |points: &[FilmPoint]| points.iter().map(|&p| self.mm(p)).collect::<Vec<_>>();
        let ends_on_apex =
            canal.apex_px.is_some() && canal.apex_px == canal.trace_px.last().copied();
        let mut sd = vec![sd_mm(PlaceKind::Canal, canal.assisted); canal.trace_px.len()];
        if let (true, Some(last)) = (ends_on_apex, sd.last_mut()) {
            *last = sd_mm(PlaceKind::Apex, false);
        }
        let own_file = case.own_file(canal);
        let file = own_file.filter(|object| object.points_px.len() >= 2);
        let file = file.and_then(|object| {
            Some(FileTrace {
                points: line(&object.points_px),
                sd: sd_mm(PlaceKind::ScaleObject, object.assisted),
                true_length_mm: object.true_length_mm?,
                half_width_mm: if object.nominal {
                    uncertainty.nominal_half_width_mm
                } else {
                    uncertainty.reading_half_width_mm
                },
            })
        });
        let others = case.canals.iter().filter(|c| c.name != canal.name);
        let middle = |from: Vector2<f64>, to: Vector2<f64>| (from + to) * 0.5;
        let scale_place = match (findings.scale.source.as_str(), &file) {
            ("file", Some(file)) => {
                let [stop, tip] = file.ends();
                Some(middle(stop, tip))
            }
            (source, _) if is_of_object(source) => None,
            _ => canal
                .reference_px
                .zip(canal.apex_px.or(canal.trace_px.last().copied()))
                .map(|(reference, apex)| middle(self.mm(reference), self.mm(apex))),
        };
        let u_scale = findings.scale.u_mm_per_px.unwrap_or(0.0) / self.mm_per_px;
        Observation {
            name: side.name.to_owned(),
            quarter_turns: self.plane.quarter_turns,
            plane: self.plane.clone(),
            points: line(&canal.trace_px),
            sd,
            ends_on_apex,
            reference: canal.reference_px.map(|p| self.mm(p)),
            reference_sd: sd_mm(PlaceKind::Reference, false),
            file,
            others: others
                .filter(|c| c.trace_px.len() >= 2)
                .map(|c| (c.name.clone(), line(&c.trace_px)))
                .collect(),
            u_scale,
            scale_source: findings.scale.source.clone(),
            scale_place,
            source_mm: case
                .film
                .source_to_tooth_mm
                .filter(|_| case.film.source_to_detector_mm.is_some()),
            allowance_mm: alone.allowance_mm,
            alone,
            mm_per_px: self.mm_per_px,
        }
    }
}

impl Observation {
    /// The same side with what the film says of a followed line in place of its
    /// trace, ends excepted.
    fn read_between_ends(mut self, frame: &ToothPlane, read: &[(Point, f64)]) -> Self {
        let last = self.points.len() - 1;
        if !read.is_empty() {
            let mm = |at: Point| frame.mm(frame.model.frame.film_from_detector(at));
            let sd_mm = |sd: f64| sd * self.plane.mm_per_detector;
            let places = read.iter().map(|(at, sd)| (mm(*at), sd_mm(*sd)));
            let (points, sd): (Vec<_>, Vec<_>) = places.unzip();
            self.points.splice(1..last, points);
            self.sd.splice(1..last, sd);
        }
        self
    }

    /// The same side with its scale multiplied by `factor`.
    pub fn rescaled(mut self, factor: f64, u_scale: f64) -> Self {
        let marks = self.reference.iter_mut().chain(self.scale_place.iter_mut());
        let points = self.points.iter_mut().chain(marks);
        for point in points.chain(self.others.iter_mut().flat_map(|(_, line)| line)) {
            *point *= factor;
        }
        if let Some(file) = &mut self.file {
            for point in &mut file.points {
                *point *= factor;
            }
        }
        self.mm_per_px *= factor;
        self.plane.mm_per_detector *= factor;
        self.u_scale = u_scale;
        self
    }

    /// The same side with the film seen from behind: left and right changed.
    pub fn mirrored(mut self) -> Self {
        let marks = self.reference.iter_mut().chain(self.scale_place.iter_mut());
        let points = self.points.iter_mut().chain(marks);
        for point in points.chain(self.others.iter_mut().flat_map(|(_, line)| line)) {
            point.x = -point.x;
        }
        self.plane.is_mirrored = !self.plane.is_mirrored;
        self
    }

    /// Half width of the place at whose depth the scale holds, mm; none of a
    /// scale that an object gives, whose place counts in the scale itself.
    pub fn scale_place_half_width_mm(&self) -> f64 {
        if is_of_object(&self.scale_source) {
            0.0
        } else {
            SCALE_PLACE_HALF_WIDTH_MM
        }
    }

    /// Half way between the ends of the trace, mm.
    pub fn middle(&self) -> Vector2<f64> {
        (self.points[0] + self.points[self.points.len() - 1]) * 0.5
    }

    /// Height from the first to the last trace point, mm.
    pub fn height_mm(&self) -> f64 {
        self.points[self.points.len() - 1].y - self.points[0].y
    }
}
