//! A case becomes a model: every input once, then every part of the model
//! from the inputs at their best estimates.

use kurbo::Point;

use super::Model;
use super::canal::CanalModel;
use super::object::{MeasuredKind, object_mm_per_detector};
use super::readings::{BendPoint, ReadStretch, Source, fit_points};
use super::scale::{ObjectModel, ScaleBasis, drawn, straight_pieces};
use crate::calibration::{
    DetectorFrame, FilmScale, KnownObject, MeasuredObject, magnification_from_distances,
};
use crate::case::{Canal, Case, ScaleObject, ScaleObjectKind};
use crate::curvature::CurvatureLandmark;
use crate::geometry::{DrawnCurve, FitError, MAX_ARCS, SHAPE_MODES, local_scatter_ratio};
use crate::measure::bends::BendModel;
use crate::measure::click_noise::ClickNoise;
use crate::measure::inputs::{
    Inputs, InputsBuilder, PlaceIndex, PlaceKind, Scalar, ScalarIndex, ScalarKind,
};
use crate::measure::lengthening::lengthening;
use crate::measure::path::ProlongedCurve;
use crate::measure::settings::{InputUncertainty, MeasureSettings};
use crate::uncertainty::inputs::Shape;

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
        let mut entry = Entry {
            frame,
            uncertainty,
            clicks: ClickNoise::new(
                case,
                frame,
                object_mm_per_detector(case, frame),
                uncertainty,
            ),
            source_distance_mm,
            magnification: stated_magnification(case),
            inputs: InputsBuilder::default(),
        };
        let tilt = entry.inputs.scalar(Scalar {
            kind: ScalarKind::Tilt,
            value: 0.0,
            spread: Shape::Rectangular {
                half_width: uncertainty.tilt_half_width_rad,
            },
        });
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

/// Magnification that the case states, or that its distances give.
fn stated_magnification(case: &Case) -> Option<f64> {
    let film = &case.film;
    let distances = film.source_to_detector_mm.zip(film.source_to_tooth_mm);
    film.magnification
        .or(distances.and_then(|(detector, tooth)| magnification_from_distances(detector, tooth)))
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

/// An object of known size whose inputs have been entered.
struct EnteredObject {
    kind: ScaleObjectKind,
    canal: Option<String>,
    measured: MeasuredObject,
    in_own_plane: MeasuredObject,
    points: Vec<PlaceIndex>,
    true_size: ScalarIndex,
    depth: ScalarIndex,
}

/// A canal whose inputs have been entered.
struct EnteredCanal {
    name: String,
    allowance_mm: f64,
    has_trace: bool,
    own_file: Option<usize>,
    path: Vec<PlaceIndex>,
    /// What bends of a followed canal are fitted to, with the standard
    /// uncertainty of each that was read, detector units.
    bend_points: Vec<(BendPoint, f64)>,
    reference: Option<PlaceIndex>,
    tip: Option<PlaceIndex>,
    apex: Option<PlaceIndex>,
    set_length: Option<ScalarIndex>,
    form: ScalarIndex,
    shape: [ScalarIndex; SHAPE_MODES],
    planes: [ScalarIndex; MAX_ARCS],
    lateral_offset: Option<[ScalarIndex; 3]>,
    assisted: bool,
    moved: Vec<(CurvatureLandmark, PlaceIndex)>,
}

/// Enters the inputs of a case.
struct Entry<'a> {
    frame: DetectorFrame,
    uncertainty: &'a InputUncertainty,
    clicks: ClickNoise,
    source_distance_mm: f64,
    /// Of the tooth on the detector, where the case states it.
    magnification: Option<f64>,
    inputs: InputsBuilder,
}

impl Entry<'_> {
    fn object(&mut self, object: &ScaleObject) -> Option<EnteredObject> {
        let kind = MeasuredKind::of(object.kind);
        // What lies behind the tooth shows smaller: its size in the tooth's plane.
        let behind_mm = (kind.behind_mm)(self.uncertainty);
        let magnification = self.magnification.filter(|_| behind_mm > 0.0);
        let nearer = magnification.unwrap_or(1.0 + behind_mm / self.source_distance_mm);
        let true_size_mm = object.known_size_mm()? / nearer;
        let half_width_mm = match object.nominal {
            true => self.uncertainty.nominal_half_width_mm,
            false => (kind.half_width_mm)(self.uncertainty),
        };
        let spread = Shape::Rectangular {
            half_width: half_width_mm,
        };
        let in_detector: Vec<_> = object
            .points_px
            .iter()
            .map(|&p| self.frame.detector_from_film(p))
            .collect();
        let known = KnownObject {
            true_size_mm,
            u_true_size_mm: spread.standard_uncertainty(),
            u_apparent: (kind.u_apparent)(&in_detector, &|place| {
                self.clicks.of(place, object.assisted)
            }),
        };
        let by_clicks = known.measured(kind.apparent_size(&in_detector, &mut None)?)?;
        let in_own_plane = by_clicks.with_relative_u((kind.u_tilt)(self.uncertainty));

        let count = object.points_px.len();
        let points = object.points_px.iter().enumerate().map(|(i, &p)| {
            let place = (kind.place_kind)(i, count);
            self.inputs.click(p, place, object.assisted)
        });
        let depth_mm = match magnification {
            Some(_) => self.uncertainty.film_scale_relative * self.source_distance_mm,
            None => (kind.depth_mm)(self.uncertainty),
        };
        Some(EnteredObject {
            kind: object.kind,
            canal: object.canal.clone(),
            measured: in_own_plane.with_relative_u(depth_mm / self.source_distance_mm),
            in_own_plane,
            points: points.collect(),
            true_size: self.inputs.scalar(Scalar {
                kind: kind.size_kind,
                value: true_size_mm,
                spread,
            }),
            depth: self.inputs.scalar(Scalar {
                kind: ScalarKind::Depth,
                value: 1.0,
                spread: Shape::Normal {
                    sd: depth_mm / self.source_distance_mm,
                },
            }),
        })
    }

    fn canal(
        &mut self,
        canal: &Canal,
        case: &Case,
        objects: &[EnteredObject],
        settings: &MeasureSettings,
    ) -> EnteredCanal {
        let own_object = case.own_file(canal);
        let own_file = objects.iter().position(|o| {
            o.kind == ScaleObjectKind::File && o.canal.as_deref() == Some(canal.name.as_str())
        });
        let has_trace = canal.trace_px.len() >= 2;

        let (path_px, assisted): (&[_], _) = match own_object {
            Some(object) if !has_trace => (&object.points_px, object.assisted),
            _ => (&canal.trace_px, canal.assisted),
        };
        let path: Vec<_> = path_px
            .iter()
            .map(|&p| self.inputs.click(p, PlaceKind::Canal, assisted))
            .collect();

        let click = self.clicks.of(PlaceKind::Canal, assisted);
        let read = || fit_points(canal, self.frame, click);
        let bend_points = settings.read_followed.then(read).flatten();
        let bend_points = bend_points.unwrap_or_default();
        let bend_points: Vec<_> = bend_points
            .into_iter()
            .map(|source| match source {
                Source::Click(index) => (BendPoint::Click(path[index]), click),
                Source::Stretch(stretch) => (self.reading(stretch), stretch.u),
            })
            .collect();

        let file = canal.file.as_ref();
        let object_end = |end: fn(&[_]) -> Option<&_>| own_object.and_then(|o| end(&o.points_px));
        let reference_px = canal.reference_px.or(object_end(<[_]>::first).copied());
        let tip_px = file
            .and_then(|f| f.tip_px)
            .or(object_end(<[_]>::last).copied());
        let apex_px = canal.apex_px.or(canal.trace_px.last().copied());
        // Merged with the trace's or the file's own point where it is one, and
        // assisted as that is; else by its own mark.
        let mut landmark =
            |place, kind, assisted| Option::map(place, |p| self.inputs.click(p, kind, assisted));
        let file_assisted = own_object.is_some_and(|o| o.assisted);

        let [reference, tip, apex] = [
            landmark(reference_px, PlaceKind::Reference, file_assisted),
            landmark(
                tip_px,
                PlaceKind::Tip,
                file_assisted || file.is_some_and(|f| f.assisted),
            ),
            landmark(apex_px, PlaceKind::Apex, canal.apex_assisted),
        ];

        let ends_on_apex = apex.is_some() && apex == path.last().copied();
        let lateral_offset = ends_on_apex.then(|| {
            [(); 3].map(|()| {
                self.inputs.scalar(Scalar {
                    kind: ScalarKind::ApexAside,
                    value: 0.0,
                    spread: Shape::Normal {
                        sd: self.clicks.apex_aside(),
                    },
                })
            })
        });

        EnteredCanal {
            name: canal.name.clone(),
            allowance_mm: canal.allowance_mm.unwrap_or(settings.default_allowance_mm),
            has_trace,
            own_file,
            reference,
            tip,
            apex,
            set_length: self.set_length(
                file.and_then(|f| f.set_length_mm),
                own_object.and_then(|o| o.true_length_mm),
                own_file.map(|i| objects[i].true_size),
            ),
            moved: canal
                .landmarks
                .iter()
                .filter_map(|(name, &place)| {
                    let landmark = CurvatureLandmark::from_name(name)?;
                    Some((
                        landmark,
                        self.inputs.click(place, PlaceKind::Curvature, false),
                    ))
                })
                .collect(),
            path,
            bend_points,
            assisted,
            planes: std::array::from_fn(|_| {
                self.inputs.scalar(Scalar {
                    kind: ScalarKind::BendPlane,
                    value: 0.0,
                    spread: Shape::Rectangular {
                        half_width: self.uncertainty.bend_plane_half_width_rad,
                    },
                })
            }),
            lateral_offset,
            shape: std::array::from_fn(|_| {
                self.inputs.scalar(Scalar {
                    kind: ScalarKind::CurveForm,
                    value: 0.0,
                    spread: Shape::Normal { sd: 1.0 },
                })
            }),
            form: self.inputs.scalar(Scalar {
                kind: ScalarKind::CurveForm,
                value: 0.0,
                spread: Shape::Rectangular { half_width: 1.0 },
            }),
        }
    }

    fn reading(&mut self, stretch: ReadStretch) -> BendPoint {
        BendPoint::Reading {
            at: stretch.at,
            across: stretch.across,
            error: self.inputs.scalar(Scalar {
                kind: ScalarKind::FilmReading,
                value: 0.0,
                spread: Shape::Normal { sd: stretch.u },
            }),
        }
    }

    /// The set length of a canal's file: the very input that is the known
    /// length of the traced file where both are one reading.
    fn set_length(
        &mut self,
        typed_mm: Option<f64>,
        traced_mm: Option<f64>,
        traced: Option<ScalarIndex>,
    ) -> Option<ScalarIndex> {
        match typed_mm {
            None => traced,
            Some(typed) if Some(typed) == traced_mm => traced,
            Some(value) => Some(self.inputs.scalar(Scalar {
                kind: ScalarKind::SetLength,
                value,
                spread: Shape::Rectangular {
                    half_width: self.uncertainty.reading_half_width_mm,
                },
            })),
        }
    }

    fn basis(&mut self, objects: &[EnteredObject], film_scale: Option<&FilmScale>) -> ScaleBasis {
        let known = objects
            .iter()
            .map(|o| (MeasuredKind::of(o.kind).rank, &o.measured));
        if let Some(basis) = ScaleBasis::of_objects(known) {
            return basis;
        }
        match film_scale {
            Some(scale) => {
                let factor = self.inputs.scalar(Scalar {
                    kind: ScalarKind::FilmScale,
                    value: 1.0,
                    spread: Shape::Normal {
                        sd: self.uncertainty.film_scale_relative,
                    },
                });
                ScaleBasis::of_film(scale, factor)
            }
            None => ScaleBasis::None,
        }
    }
}
