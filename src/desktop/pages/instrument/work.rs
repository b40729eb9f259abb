//! What is worked out: nominal values for every frame, uncertainties beside
//! the window.

use egui::Context;
use kurbo::Point;

use crate::calibration::DetectorFrame;
use crate::desktop::state::Desk;
use crate::desktop::state::jobs::{JobEnd, JobName, Jobs};
use crate::desktop::state::reading::{Modelled, modelled};
use crate::instrumentation::{self, Assessment, CanalAxis, Options};
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

/// From mm of the tooth to the film and back.
#[derive(Clone, Debug)]
pub struct OnFilm {
    frame: DetectorFrame,
    tooth_per_detector: f64,
}

impl OnFilm {
    /// Where a place of the axis shows on the film.
    pub fn film_from_tooth(&self, at_mm: Point) -> FilmPoint {
        let at = at_mm.to_vec2() / self.tooth_per_detector;
        self.frame.film_from_detector(at.to_point())
    }

    /// The place of a film point, mm.
    pub fn tooth_from_film(&self, at: FilmPoint) -> Point {
        let at = self.frame.detector_from_film(at).to_vec2();
        (at * self.tooth_per_detector).to_point()
    }

    /// The place of an axis at a distance from the apex.
    pub fn on_axis(&self, axis: &CanalAxis, from_apex_mm: f64) -> FilmPoint {
        self.film_from_tooth(axis.path().point_at_length(axis.at_mm(from_apex_mm)))
    }
}

/// Findings with what they are drawn from.
#[derive(Clone)]
pub struct Found {
    pub assessment: Assessment,
    /// Of each canal with an axis.
    pub on_film: Vec<Option<OnFilm>>,
    /// The intervals are there.
    pub with_intervals: bool,
}

/// A result beside the question it answers.
type Answered = (Asked, Result<Found, String>);

/// The page's own work.
#[derive(Default)]
pub struct Work {
    jobs: Jobs<Answered>,
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
            Ok(measured) => found(measured, asked, Precision::ValuesOnly),
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
        self.jobs.start(ctx, JobName::Intervals, move || {
            let settings = with_precision(&asked.of.settings, Precision::Full);
            let drawn = modelled(&case, &film, &name, &settings)
                .and_then(|measured| found(&measured, &asked, Precision::Full));
            (asked, drawn)
        });
    }

    /// Takes what the job has brought.
    pub fn poll(&mut self) {
        for end in self.jobs.poll() {
            match end {
                JobEnd::Done(drawn) => self.drawn = Some(drawn),
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

fn found(measured: &Modelled, asked: &Asked, precision: Precision) -> Result<Found, String> {
    let options = Options {
        tip_from_apex_mm: asked.tip_from_apex_mm,
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
        Some(OnFilm {
            frame: model.frame,
            tooth_per_detector: shape.tooth_per_detector?,
        })
    });
    Ok(Found {
        on_film: on_film.collect(),
        assessment,
        with_intervals: precision != Precision::ValuesOnly,
    })
}
