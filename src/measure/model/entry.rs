//! The inputs of a case, each entered once: clicks, known sizes and what no
//! click shows, such as depth and tilt.

use super::object::{MeasuredKind, object_mm_per_detector};
use super::readings::{BendPoint, ReadStretch, Source, fit_points};
use super::scale::ScaleBasis;
use crate::calibration::{
    DetectorFrame, FilmScale, KnownObject, MeasuredObject, magnification_from_distances,
};
use crate::case::{Canal, Case, ScaleObject, ScaleObjectKind};
use crate::curvature::CurvatureLandmark;
use crate::geometry::{MAX_ARCS, SHAPE_MODES};
use crate::measure::click_noise::ClickNoise;
use crate::measure::inputs::{
    InputsBuilder, PlaceIndex, PlaceKind, Scalar, ScalarIndex, ScalarKind,
};
use crate::measure::settings::{InputUncertainty, MeasureSettings};
use crate::uncertainty::inputs::Shape;

/// An object of known size whose inputs have been entered.
pub(super) struct EnteredObject {
    pub(super) kind: ScaleObjectKind,
    pub(super) canal: Option<String>,
    pub(super) measured: MeasuredObject,
    pub(super) in_own_plane: MeasuredObject,
    pub(super) points: Vec<PlaceIndex>,
    pub(super) true_size: ScalarIndex,
    pub(super) depth: ScalarIndex,
}

/// A canal whose inputs have been entered.
pub(super) struct EnteredCanal {
    pub(super) name: String,
    pub(super) allowance_mm: f64,
    pub(super) has_trace: bool,
    pub(super) own_file: Option<usize>,
    pub(super) path: Vec<PlaceIndex>,
    /// What bends of a followed canal are fitted to, with the standard
    /// uncertainty of each that was read, detector units.
    pub(super) bend_points: Vec<(BendPoint, f64)>,
    pub(super) reference: Option<PlaceIndex>,
    pub(super) tip: Option<PlaceIndex>,
    pub(super) apex: Option<PlaceIndex>,
    pub(super) set_length: Option<ScalarIndex>,
    pub(super) form: ScalarIndex,
    pub(super) shape: [ScalarIndex; SHAPE_MODES],
    pub(super) planes: [ScalarIndex; MAX_ARCS],
    pub(super) lateral_offset: Option<[ScalarIndex; 3]>,
    pub(super) assisted: bool,
    pub(super) moved: Vec<(CurvatureLandmark, PlaceIndex)>,
}

/// Enters the inputs of a case.
pub(super) struct Entry<'a> {
    frame: DetectorFrame,
    uncertainty: &'a InputUncertainty,
    pub(super) clicks: ClickNoise,
    source_distance_mm: f64,
    /// Of the tooth on the detector, where the case states it.
    magnification: Option<f64>,
    pub(super) inputs: InputsBuilder,
}

impl<'a> Entry<'a> {
    pub(super) fn new(
        case: &Case,
        frame: DetectorFrame,
        uncertainty: &'a InputUncertainty,
        source_distance_mm: f64,
    ) -> Self {
        let mm_per_detector = object_mm_per_detector(case, frame);
        Self {
            frame,
            uncertainty,
            clicks: ClickNoise::new(case, frame, mm_per_detector, uncertainty),
            source_distance_mm,
            magnification: stated_magnification(case),
            inputs: InputsBuilder::default(),
        }
    }

    /// Angle between root and detector.
    pub(super) fn tilt(&mut self) -> ScalarIndex {
        self.inputs.scalar(Scalar {
            kind: ScalarKind::Tilt,
            value: 0.0,
            spread: Shape::Rectangular {
                half_width: self.uncertainty.tilt_half_width_rad,
            },
        })
    }

    pub(super) fn object(&mut self, object: &ScaleObject) -> Option<EnteredObject> {
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

    pub(super) fn canal(
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
        let bend_points = fit_points(canal, self.frame, click, settings.read_followed);
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

    pub(super) fn basis(
        &mut self,
        objects: &[EnteredObject],
        film_scale: Option<&FilmScale>,
    ) -> ScaleBasis {
        let known = objects
            .iter()
            .map(|o| (MeasuredKind::of(o.kind).rank, &o.measured));
        if let Some(basis) = ScaleBasis::of_objects(known) {
            return basis;
        }
        match film_scale {
            Some(scale) => {
                let stated = self.uncertainty.film_scale_relative;
                let factor = self.inputs.scalar(Scalar {
                    kind: ScalarKind::FilmScale,
                    value: 1.0,
                    spread: Shape::Normal {
                        sd: scale.u_relative.unwrap_or(stated),
                    },
                });
                ScaleBasis::of_film(scale, factor)
            }
            None => ScaleBasis::None,
        }
    }
}

/// Magnification that the case states, or that its distances give.
fn stated_magnification(case: &Case) -> Option<f64> {
    let film = &case.film;
    let distances = film.source_to_detector_mm.zip(film.source_to_tooth_mm);
    film.magnification
        .or(distances.and_then(|(detector, tooth)| magnification_from_distances(detector, tooth)))
}
