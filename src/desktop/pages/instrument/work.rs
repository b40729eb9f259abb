//! What is worked out: nominal values for every frame, uncertainties beside
//! the window.

use std::path::PathBuf;

use egui::Context;

use crate::calibration::DetectorFrame;
use crate::case::Case;
use crate::desktop::state::Desk;
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::reading::{Modelled, courses, modelled};
use crate::instrumentation::{self, Assessment, CanalAxis, InSpace, Options};
use crate::measure::{MeasureSettings, Precision, Scratch};
use crate::units::FilmPoint;

/// One state of a case under one set of conventions.
#[derive(Clone, Debug, PartialEq)]
struct Of {
    case_count: usize,
    revision: u64,
    settings: MeasureSettings,
}

/// What is asked of it.
#[derive(Clone, Debug, PartialEq)]
struct Asked {
    of: Of,
    tip_from_apex_mm: Option<f64>,
}

/// Places along a canal on the film, by their distance from the apex along its
/// course.
#[derive(Clone, Debug)]
pub struct OnFilm {
    frame: DetectorFrame,
    tooth_per_detector: f64,
    /// The canal's shadow.
    axis: CanalAxis,
    /// The course's length over the shadow's.
    stretch: f64,
}

impl OnFilm {
    /// Where a place shows.
    pub fn place(&self, from_apex_mm: f64) -> FilmPoint {
        let at_mm = self.axis.at_mm(from_apex_mm / self.stretch);
        let at = self.axis.path().point_at_length(at_mm).to_vec2() / self.tooth_per_detector;
        self.frame.film_from_detector(at.to_point())
    }

    /// Distance from the apex of the place that shows nearest to a film point.
    pub fn distance_from_apex_mm(&self, at: FilmPoint) -> f64 {
        let at = self.frame.detector_from_film(at).to_vec2() * self.tooth_per_detector;
        let along_mm = self.axis.path().project(at.to_point()).length_at;
        (self.axis.length_mm() - along_mm) * self.stretch
    }
}

/// Findings with what they are drawn from.
#[derive(Clone)]
pub struct Found {
    pub assessment: Assessment,
    /// Of each canal with an axis on the film.
    pub on_film: Vec<Option<OnFilm>>,
    /// The intervals are there.
    pub with_intervals: bool,
}

/// A result beside the question it answers.
type Answered = (Asked, Result<Found, String>);

/// What a second film is asked about: a case without its files, which canals
/// have some, and the conventions.
#[derive(Clone, Debug, PartialEq)]
struct Subject {
    case_count: usize,
    case: Case,
    with_files: Vec<bool>,
    settings: MeasureSettings,
}

impl Subject {
    fn new(case: &Case, of: &Of) -> Self {
        let mut case = case.clone();
        let files = case.canals.iter_mut().map(|c| &mut c.shaping_files);
        let with_files = files.map(|files| !std::mem::take(files).is_empty());
        Self {
            case_count: of.case_count,
            with_files: with_files.collect(),
            settings: of.settings.clone(),
            case,
        }
    }
}

/// What a second film says.
#[derive(Clone)]
struct SecondFilm {
    of: Subject,
    says: InSpace,
}

/// The page's own work.
#[derive(Default)]
pub struct Work {
    jobs: Jobs<(Answered, Option<SecondFilm>)>,
    second_film: Option<SecondFilm>,
    measured: Option<(Of, Result<Modelled, String>)>,
    nominal: Option<Answered>,
    drawn: Option<Answered>,
}

impl Work {
    /// Answers for the case as it stands, with intervals once they are there:
    /// they are drawn beside the window while nothing is dragged. `None`:
    /// there are no files to answer for.
    pub fn answer(
        &mut self,
        ctx: &Context,
        desk: &Desk<'_>,
        tip_from_apex_mm: Option<f64>,
    ) -> Option<&Result<Found, String>> {
        let case = desk.workspace.document.case();
        if case
            .canals
            .iter()
            .all(|canal| canal.shaping_files.is_empty())
        {
            return None;
        }
        let of = Of {
            case_count: desk.session.case_count,
            revision: desk.workspace.document.revision(),
            settings: desk.workspace.settings().clone(),
        };
        let asked = Asked {
            of,
            tip_from_apex_mm,
        };
        self.find_nominal(desk, &asked);
        let is_drawn = self.drawn.as_ref().is_some_and(|(of, _)| *of == asked);
        let dragging = ctx.input(|input| input.pointer.any_down());
        if !is_drawn && !dragging {
            self.draw(ctx, desk, asked);
        }
        let best = if is_drawn { &self.drawn } else { &self.nominal };
        best.as_ref().map(|(_, found)| found)
    }

    fn find_nominal(&mut self, desk: &Desk<'_>, asked: &Asked) {
        if self.nominal.as_ref().is_some_and(|(of, _)| of == asked) {
            return;
        }
        let is_measured = self
            .measured
            .as_ref()
            .is_some_and(|(of, _)| *of == asked.of);
        if !is_measured {
            let settings = with_precision(&asked.of.settings, Precision::ValuesOnly);
            let workspace = &desk.workspace;
            let name = workspace.case_name();
            let measured = modelled(workspace.document.case(), &workspace.film, &name, &settings);
            self.measured = Some((asked.of.clone(), measured));
        }
        let Some((_, measured)) = &self.measured else {
            return;
        };
        let found = match measured {
            Ok(measured) => {
                let of = Subject::new(&measured.case, &asked.of);
                let known = self.second_film.as_ref().filter(|second| second.of == of);
                let says = known.map_or_else(InSpace::default, |second| second.says.clone());
                found(measured, asked, Precision::ValuesOnly, says)
            }
            Err(problem) => Err(problem.clone()),
        };
        self.nominal = Some((asked.clone(), found));
    }

    fn draw(&mut self, ctx: &Context, desk: &Desk<'_>, asked: Asked) {
        if self.jobs.is_running(JobName::Intervals) {
            return;
        }
        let workspace = &desk.workspace;
        let case = workspace.document.case().clone();
        let film = workspace.film.clone();
        let name = workspace.case_name();
        let path = workspace.document.case_path().map(PathBuf::from);
        let known = self.second_film.clone();
        self.jobs.start(ctx, JobName::Intervals, move || {
            let settings = with_precision(&asked.of.settings, Precision::Full);
            let measured = match modelled(&case, &film, &name, &settings) {
                Ok(measured) => measured,
                Err(problem) => return ((asked, Err(problem)), known),
            };
            let of = Subject::new(&measured.case, &asked.of);
            let second_film = known.filter(|second| second.of == of).unwrap_or_else(|| {
                let path = path.unwrap_or_default();
                let says = courses(&measured.case, &path, &film, &settings);
                SecondFilm { of, says }
            });
            let says = second_film.says.clone();
            let drawn = found(&measured, &asked, Precision::Full, says);
            ((asked, drawn), Some(second_film))
        });
    }

    /// Takes what the job has brought.
    pub fn poll(&mut self) {
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done((drawn, second_film)) => {
                    self.drawn = Some(drawn);
                    self.second_film = second_film;
                    self.nominal = None;
                }
                // The nominal values stay.
                JobEnd::Lost(_) => self.drawn = self.nominal.clone(),
            }
        }
    }

    /// Intervals are being drawn.
    pub fn is_busy(&self) -> bool {
        self.jobs.is_running(JobName::Intervals)
    }
}

fn with_precision(settings: &MeasureSettings, precision: Precision) -> MeasureSettings {
    MeasureSettings {
        precision,
        ..settings.clone()
    }
}

fn found(
    measured: &Modelled,
    asked: &Asked,
    precision: Precision,
    in_space: InSpace,
) -> Result<Found, String> {
    let options = Options {
        tip_from_apex_mm: asked.tip_from_apex_mm,
        in_space,
        settings: with_precision(&asked.of.settings, precision),
        ..Options::default()
    };
    let Modelled {
        case,
        findings,
        model,
    } = measured;
    let assessment = instrumentation::assess_measured(case, findings, model, &options)
        .map_err(|error| error.to_string())?;
    let on_film = (0..case.canals.len()).map(|canal| {
        let shape = model.best_shape(canal, &mut Scratch::default())?;
        let axis = assessment.film_axes[canal].clone()?;
        let course = assessment.axes[canal].as_ref()?;
        Some(OnFilm {
            frame: model.frame,
            tooth_per_detector: shape.tooth_per_detector?,
            stretch: course.length_mm() / axis.length_mm(),
            axis,
        })
    });
    Ok(Found {
        on_film: on_film.collect(),
        assessment,
        with_intervals: precision != Precision::ValuesOnly,
    })
}
