//! What traces are held against: one expert, or the consensus of several.

use kurbo::{ParamCurve, Point};
use serde::Serialize;

use super::distances::runs_backwards;
use super::length_unit::LengthUnit;
use super::measures::{Measure, compared_u95, compared_values};
use super::own::{OwnCanal, OwnNumbers};
use super::path::MeasuredPath;
use super::private::PrivateText;
use super::reference_canal::{
    DrawnCanal, ReferenceCanal, ReferenceError, is_same_name, reference_canal,
};
use super::submission::Submission;
use crate::calibration::DetectorFrame;
use crate::case::{Canal, Case, RightOfFilm, StatedUncertainty};
use crate::geometry::DrawnCurve;
use crate::measure::findings::Findings;
use crate::measure::{
    FilmSummary, InputUncertainty, MeasureSettings, Precision, measure_with_model,
};
use crate::tooth::ToothNumber;
use crate::units::FilmPoint;

/// Straight pieces per gap between two points of a trace.
const PIECES_PER_GAP: usize = 8;

/// The reference of a class, with the scale every trace is measured by.
#[derive(Clone, Debug)]
pub struct Reference {
    /// Its canals.
    pub canals: Vec<ReferenceCanal>,
    /// The scale in force: source in words, mm per px.
    pub scale: ReferenceScale,
    /// What the user should know.
    pub warnings: Vec<PrivateText>,
    /// What lies to the right on the film, once an expert has said it.
    pub right_is: Option<RightOfFilm>,
    /// The tooth, once an expert has said it.
    pub tooth: Option<ToothNumber>,
    film: FilmSummary,
    /// The reference is the truth itself: it has no click noise.
    is_exact: bool,
    /// Whose scale objects and film facts are in force.
    scale_case: Case,
    frame: DetectorFrame,
    tooth_per_detector: Option<f64>,
    settings: MeasureSettings,
}

/// The scale every trace is measured by.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ReferenceScale {
    /// Source in words.
    pub description: String,
    /// True mm per px; `null` without a scale.
    pub mm_per_px: Option<f64>,
}

/// The measuring of traces: values, and the uncertainty that clicks alone
/// give them. What trace and reference share, the scale, the film and the
/// tooth's place before it, cancels in their difference.
fn settings() -> MeasureSettings {
    MeasureSettings {
        precision: Precision::Live,
        uncertainty: InputUncertainty {
            reading_half_width_mm: 0.0,
            nominal_half_width_mm: 0.0,
            ruler_half_width_mm: 0.0,
            ball_half_width_mm: 0.0,
            film_scale_relative: 0.0,
            depth_to_other_canal_mm: 0.0,
            depth_to_object_mm: 0.0,
            tilt_half_width_rad: 0.0,
            bend_plane_half_width_rad: 0.0,
            apex_aside_mm: 0.0,
            ..InputUncertainty::default()
        },
        ..MeasureSettings::default()
    }
}

impl Reference {
    /// The reference of `experts`, whose points are px of `film`.
    ///
    /// The scale is that of the first of them that has one.
    ///
    /// # Errors
    /// [`ReferenceError`], one clear line.
    pub fn new(experts: &[Submission], film: FilmSummary) -> Result<Self, ReferenceError> {
        let first = experts.first().ok_or(ReferenceError::None)?;
        let settings = settings();
        let mut scale_source = None;
        for expert in experts {
            let measured = measure_with_model(&expert.case, &film, &expert.file, &settings);
            let (findings, model) =
                measured.map_err(|e| ReferenceError::Unusable(format!("{}: {e}", expert.file)))?;
            let scaled = findings.scale.mm_per_px.is_some();
            if scaled || scale_source.is_none() {
                scale_source = Some((expert, findings, model));
            }
            if scaled {
                break;
            }
        }
        let (scale_expert, findings, model) = scale_source.ok_or(ReferenceError::None)?;
        let tooth_per_detector = model.nominal_tooth_per_detector();

        let mut reference = Self {
            canals: Vec::new(),
            scale: ReferenceScale {
                description: findings.scale.description,
                mm_per_px: findings.scale.mm_per_px,
            },
            warnings: Vec::new(),
            right_is: experts
                .iter()
                .find_map(|e| e.case.second_film.as_ref()?.right_is),
            tooth: None,
            film,
            is_exact: false,
            scale_case: scale_expert.case.clone(),
            frame: model.frame,
            tooth_per_detector,
            settings,
        };
        if tooth_per_detector.is_none() {
            reference.warnings.push(
                "the reference has no scale: distances are in px, limits in mm are not assessed"
                    .into(),
            );
        } else if scale_expert.file != first.file {
            reference.warnings.push(PrivateText::new(
                format!("the scale is that of {}", scale_expert.file),
                "the scale is not that of the first reference case",
            ));
        }
        let own = experts.iter().map(|expert| reference.own(expert));
        let own: Vec<OwnNumbers> = own
            .collect::<Result<_, _>>()
            .map_err(ReferenceError::Unusable)?;
        reference.tooth = own.iter().find_map(|own| own.tooth);
        reference.canals = reference.consensus_of(experts)?;
        Ok(reference)
    }

    /// The same reference taken for the truth itself, which no hand drew.
    #[must_use]
    pub fn exact(mut self) -> Self {
        self.is_exact = true;
        for canal in &mut self.canals {
            canal.u95.clear();
        }
        self
    }

    /// Known without the noise of a hand.
    pub fn is_exact(&self) -> bool {
        self.is_exact
    }

    /// A case by its owner's entries.
    ///
    /// # Errors
    /// One clear line.
    pub fn own(&self, submission: &Submission) -> Result<OwnNumbers, String> {
        match &submission.own {
            Some(own) => Ok(own.clone()),
            None => OwnNumbers::of(&submission.case, &self.film, 1.0)
                .map_err(|error| format!("{}: {error}", submission.file)),
        }
    }

    /// The unit of every length of the reference, and of what is held against
    /// it.
    pub fn length_unit(&self) -> LengthUnit {
        match self.tooth_per_detector {
            Some(_) => LengthUnit::Millimetre,
            None => LengthUnit::Pixel,
        }
    }

    /// There is a scale: paths are in mm.
    pub fn has_scale(&self) -> bool {
        self.tooth_per_detector.is_some()
    }

    /// Film → the frame of the paths.
    pub fn tooth_from_film(&self, place: FilmPoint) -> Point {
        let detector = self.frame.detector_from_film(place).to_vec2();
        (detector * self.tooth_per_detector.unwrap_or(1.0)).to_point()
    }

    /// The frame of the paths → film.
    pub fn film_from_tooth(&self, place: Point) -> FilmPoint {
        let detector = place.to_vec2() / self.tooth_per_detector.unwrap_or(1.0);
        self.frame.film_from_detector(detector.to_point())
    }

    /// Measures every traced canal of a case by the reference's scale.
    ///
    /// # Errors
    /// One clear line.
    pub fn drawn_canals(&self, submission: &Submission) -> Result<Vec<DrawnCanal>, String> {
        let mut case = submission.case.clone();
        let drawn_count = case.canals.iter().filter(|c| c.trace_px.len() > 1).count();
        let mut traced: Vec<Canal> = Vec::with_capacity(drawn_count);
        let mut tips = Vec::new();
        let mut turned = Vec::new();
        for mut canal in std::mem::take(&mut case.canals) {
            if canal.trace_px.len() < 2 {
                continue;
            }
            if traced.iter().any(|c| is_same_name(&c.name, &canal.name)) {
                return Err(format!(
                    "{}: canal names must be unique; {} is there twice",
                    submission.file, canal.name
                ));
            }
            let tip = own_tip(&submission.case, &canal);
            if let Some(tip) = tip {
                canal.file.get_or_insert_default().tip_px = Some(tip);
            }
            let backwards = self.is_backwards(&canal, drawn_count);
            if backwards {
                canal.trace_px.reverse();
            }
            turned.push(backwards);
            tips.push(tip);
            traced.push(canal);
        }
        case.canals = traced;
        case.scale = self.scale_case.scale.clone();
        case.film = self.scale_case.film.clone();
        // Everyone is measured with the same care: what noise a student states
        // decides nothing.
        case.click_noise_mm = self.scale_case.click_noise_mm;
        case.click_noise_by_kind_mm = self.scale_case.click_noise_by_kind_mm;
        case.click_noise_dof_by_kind = self.scale_case.click_noise_dof_by_kind;
        case.input_uncertainty =
            self.scale_case
                .input_uncertainty
                .map(|stated| StatedUncertainty {
                    assisted_mm: stated.assisted_mm,
                    assisted_apex_mm: stated.assisted_apex_mm,
                    click_px: stated.click_px,
                    ..StatedUncertainty::default()
                });
        let own = self.own(submission)?;
        let findings = self.measured(&case, submission)?;
        let canals = case.canals.iter().zip(&findings.canals);
        canals
            .zip(tips.into_iter().zip(turned))
            .map(|((canal, found), (tip, turned))| {
                let path = self
                    .path_of(canal)
                    .map_err(|e| format!("{}: canal {}: {e}", submission.file, canal.name))?;
                let mut values = compared_values(found);
                let mut own_canal = own.canals.get(&canal.name).copied().unwrap_or_default();
                if tip.is_none() {
                    // It would rest on the reference's own file.
                    values.remove(&Measure::TipToApexErrorMm);
                } else if own.mm_per_px.is_none() {
                    let length = found.working_length_additive_mm.map(|length| length.value);
                    own_canal = OwnCanal {
                        working_length_mm: length,
                        chart_mm: length.and(found.working_length_chart_mm),
                        tooth_length_mm: length.map(|length| length + found.allowance_mm),
                        by_reference_scale: length.is_some(),
                        ..own_canal
                    };
                }
                // By their own entries, not on the reference's scale.
                for (measure, value) in [
                    (Measure::WorkingLengthErrorMm, own_canal.working_length_mm),
                    (Measure::ChartErrorMm, own_canal.chart_mm),
                    (Measure::SetLengthErrorMm, own_canal.set_length_mm),
                ] {
                    values.remove(&measure);
                    values.extend(value.map(|value| (measure, value)));
                }
                let apex = match canal.apex_px {
                    Some(apex) => self.tooth_from_film(apex),
                    None => path.end(),
                };
                let warnings = turned
                    .then(|| "drawn from apex to orifice: taken the other way round".to_owned());
                Ok(DrawnCanal {
                    name: canal.name.clone(),
                    path,
                    values,
                    apex,
                    tip: tip.map(|tip| self.tooth_from_film(tip)),
                    allowance_mm: found.allowance_mm,
                    u95: compared_u95(found),
                    own: own_canal,
                    assisted: canal.assisted,
                    trace_px: canal.trace_px.clone(),
                    warnings: warnings.into_iter().collect(),
                })
            })
            .collect()
    }

    fn measured(&self, case: &Case, submission: &Submission) -> Result<Findings, String> {
        measure_with_model(case, &self.film, &submission.file, &self.settings)
            .map(|(findings, _)| findings)
            .map_err(|error| format!("{}: {error}", submission.file))
    }

    /// Which canal of the reference a drawn one is matched with: that of its
    /// name; with a single canal on both sides, that one.
    pub fn matching<'a>(&'a self, name: &str, drawn: usize) -> Option<&'a ReferenceCanal> {
        match self.canals.as_slice() {
            [only] if drawn == 1 => Some(only),
            several => several.iter().find(|canal| is_same_name(&canal.name, name)),
        }
    }

    fn is_backwards(&self, canal: &Canal, drawn: usize) -> bool {
        let Some(reference) = self.matching(&canal.name, drawn) else {
            return false;
        };
        let points: Vec<Point> = canal
            .trace_px
            .iter()
            .map(|&p| self.tooth_from_film(p))
            .collect();
        MeasuredPath::new(&points).is_ok_and(|trace| runs_backwards(&reference.path, &trace))
    }

    /// The drawn curve of a trace, flattened.
    fn path_of(&self, canal: &Canal) -> Result<MeasuredPath, String> {
        let points: Vec<Point> = canal
            .trace_px
            .iter()
            .map(|&p| self.tooth_from_film(p))
            .collect();
        let curve = DrawnCurve::through(&points).map_err(|e| e.to_string())?;
        let mut flat = vec![curve.start()];
        for segment in curve.to_bez_path().segments() {
            flat.extend(
                (1..=PIECES_PER_GAP).map(|i| segment.eval(i as f64 / PIECES_PER_GAP as f64)),
            );
        }
        MeasuredPath::new(&flat).map_err(|e| e.to_string())
    }

    fn consensus_of(&self, experts: &[Submission]) -> Result<Vec<ReferenceCanal>, ReferenceError> {
        let mut drawn = Vec::with_capacity(experts.len());
        for expert in experts {
            drawn.push(
                self.drawn_canals(expert)
                    .map_err(ReferenceError::Unusable)?,
            );
        }
        let singles = drawn.iter().all(|canals| canals.len() == 1);
        let mut names: Vec<&str> = Vec::new();
        for canal in drawn.iter().flatten() {
            let is_new = names.iter().all(|name| !is_same_name(name, &canal.name));
            if is_new && (names.is_empty() || !singles) {
                names.push(&canal.name);
            }
        }
        if names.is_empty() {
            return Err(ReferenceError::NoCanal);
        }
        names
            .into_iter()
            .map(|name| {
                let same = drawn
                    .iter()
                    .flatten()
                    .filter(|c| singles || is_same_name(&c.name, name));
                reference_canal(name, &same.collect::<Vec<_>>())
            })
            .collect()
    }
}

/// Where a case shows the tip of a canal's file.
fn own_tip(case: &Case, canal: &Canal) -> Option<FilmPoint> {
    let marked = canal.file.as_ref().and_then(|f| f.tip_px);
    let traced = || case.own_file(canal)?.points_px.last().copied();
    marked.or_else(traced)
}
