//! Intervals by Monte Carlo (JCGM 101): the canal is drawn as `measure` draws
//! it, each file's diameters within the tolerance of the standard.

use kurbo::Point;

use super::axis::CanalAxis;
use super::contact::passive_depth;
use super::file_request::FileRequest;
use super::walls::SmoothWalls;
use crate::case::Walls;
use crate::geometry::{StraightArcPath, WallLine, WidthError, WidthProfile};
use crate::measure::{CanalShape, Intervals, Model, Scratch};
use crate::progress::Progress;
use crate::two_view::SpaceCourse;
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::inputs::{Input, InputSet, Shape};
use crate::uncertainty::monte_carlo::{self, draw_outputs};

/// Outputs of one file: peak strain, its place from the apex, times the first
/// file's, tip from the apex where it binds, place of contact.
pub const OUTPUTS: usize = 5;

/// Those that scatter to one side, as curvatures do and what lies at an end of the
/// canal: strain, place of contact.
const SCATTER_TO_ONE_SIDE: [usize; 2] = [0, 4];

/// One canal with its files.
pub struct CanalInput<'a> {
    /// Index in the model.
    pub canal: usize,
    pub files: &'a [FileRequest],
    /// Tip of a file without step-back, from the apex, mm.
    pub tip_mm: f64,
    /// At the best estimates, as the film shows it.
    pub shape: Option<CanalShape>,
    /// The shape in mm; `None` without a scale.
    pub film_axis: Option<CanalAxis>,
    /// What files are bent along: the course in space where two films give it,
    /// else the film's.
    pub axis: Option<CanalAxis>,
    pub course: Option<&'a SpaceCourse>,
    /// `None` without walls, or an axis to smooth them along.
    walls: Option<SmoothWalls>,
}

impl<'a> CanalInput<'a> {
    /// A canal of the model, its files and walls.
    pub fn new(
        model: &Model,
        canal: usize,
        files: &'a [FileRequest],
        walls: Option<&Walls>,
        tip_mm: f64,
        course: Option<&'a SpaceCourse>,
    ) -> Self {
        let shape = model.best_shape(canal, &mut Scratch::default());
        let film_axis = shape.as_ref().and_then(axis_of);
        let factor = shape.as_ref().and_then(|shape| shape.tooth_per_detector);
        let smooth = || {
            Some(SmoothWalls::new(
                model,
                film_axis.as_ref()?,
                factor?,
                walls?,
            ))
        };
        Self {
            canal,
            files,
            tip_mm,
            walls: smooth(),
            axis: course.map_or_else(|| film_axis.clone(), |c| Some(in_space(&c.path))),
            course,
            shape,
            film_axis,
        }
    }

    /// The canal's widths between its walls, without the noise of their points;
    /// `None` without walls.
    pub fn widths(&self) -> Option<Result<WidthProfile, WidthError>> {
        let factor = self.shape.as_ref()?.tooth_per_detector?;
        let walls = self.walls.as_ref()?;
        let axis = self.film_axis.as_ref()?;
        Some(between(axis, &walls.best(factor), walls.unseen()))
    }
}

/// What one draw makes of a canal and its files, mm.
struct Drawn<'d> {
    axis: &'d CanalAxis,
    widths: Option<WidthProfile>,
    /// Deviation of each file's diameters.
    offsets_mm: &'d [f64],
}

/// The outputs at the best estimates.
pub fn best(canals: &[CanalInput]) -> Vec<f64> {
    let mut out = vec![f64::NAN; OUTPUTS * file_count(canals)];
    let mut rest = out.as_mut_slice();
    for input in canals {
        let (own, later) = rest.split_at_mut(OUTPUTS * input.files.len());
        rest = later;
        if let Some(axis) = &input.axis {
            let drawn = Drawn {
                axis,
                widths: input.widths().and_then(Result::ok),
                offsets_mm: &vec![0.0; input.files.len()],
            };
            drawn.evaluate(input, own);
        }
    }
    out
}

/// The intervals about `values`, the outputs at the best estimates. Inputs: the
/// model's, a diameter per file, those of the walls, then which course in space.
///
/// # Errors
/// Too few draws, an input without a finite spread, cancelled.
pub fn intervals(
    model: &Model,
    canals: &[CanalInput],
    values: Vec<f64>,
    settings: monte_carlo::Sampling,
    progress: &Progress,
) -> Result<Intervals, UncertaintyError> {
    let of_model = model.input_set()?;
    let first_offset = of_model.inputs().len();
    let offsets = canals.iter().flat_map(|input| input.files).map(|request| {
        let half_width = request.file.tolerance_mm();
        let name = format!("diameter of {}", request.file.label());
        Input::new(name, 0.0, Shape::Rectangular { half_width })
    });
    let walls = canals.iter().flat_map(|input| &input.walls);
    let places = walls.flat_map(SmoothWalls::inputs);
    let courses = canals.iter().filter_map(|input| input.course);
    let courses = courses.map(|_| Input::new("course in space", 0.5, WHICH));
    let of_model = of_model.inputs().iter().cloned();
    let inputs = InputSet::new(
        of_model
            .chain(offsets)
            .chain(places)
            .chain(courses)
            .collect(),
    )?;
    let files = file_count(canals);
    let wall_inputs = canals.iter().flat_map(|input| &input.walls);
    let wall_inputs: usize = wall_inputs.map(SmoothWalls::input_count).sum();
    let drawn = draw_outputs(
        &inputs,
        OUTPUTS * files,
        settings,
        progress,
        Scratch::default,
        |values, scratch, out| {
            let (of_model, rest) = values.split_at(first_offset);
            let (mut offsets, rest) = rest.split_at(files);
            let (mut places, courses) = rest.split_at(wall_inputs);
            let mut courses = courses.iter();
            let mut out = out;
            for input in canals {
                let (own_offsets, later) = offsets.split_at(input.files.len());
                offsets = later;
                let shape = model.possible_shape(input.canal, of_model, scratch);
                let axis = shape.as_ref().and_then(axis_of);
                let mut widths = None;
                if let Some(walls) = &input.walls {
                    let (own, later) = places.split_at(walls.input_count());
                    places = later;
                    if let (Some(shape), Some(axis)) = (&shape, &axis) {
                        let factor = shape.tooth_per_detector.unwrap_or(f64::NAN);
                        let drawn = walls.drawn(own, factor);
                        let on_film = between(axis, &drawn, walls.unseen()).ok();
                        widths = on_film.and_then(|widths| widths.stretched(shape.stretch));
                    }
                }
                let axis = match input.course {
                    Some(course) => courses.next().and_then(|which| possible(course, *which)),
                    None => axis,
                };
                let (own_out, later) = out.split_at_mut(OUTPUTS * input.files.len());
                out = later;
                if let Some(axis) = &axis {
                    let drawn = Drawn {
                        axis,
                        widths,
                        offsets_mm: own_offsets,
                    };
                    drawn.evaluate(input, own_out);
                }
            }
        },
    )?;
    let mut found = Intervals::from_draws(values, &drawn);
    let to_one_side = |output: &usize| SCATTER_TO_ONE_SIDE.contains(&(output % OUTPUTS));
    for output in (0..found.values.len()).filter(to_one_side) {
        // U reaches to both ends of the middle 95 % of the draws as well.
        if let Some(summary) = drawn.summary(output) {
            let [low, high] = summary.symmetric;
            let (value, u95) = (found.values[output], found.u95[output]);
            found.u95[output] = u95.max(high - value).max(value - low);
        }
    }
    Ok(found)
}

/// Input that chooses one of several, 0 to 1.
const WHICH: Shape = Shape::Rectangular { half_width: 0.5 };

/// A course in space as an axis that ends at the apex.
fn in_space(course: &StraightArcPath) -> CanalAxis {
    CanalAxis::new(course.clone(), course.length())
}

/// The course that `which` (0 to 1) falls on.
fn possible(course: &SpaceCourse, which: f64) -> Option<CanalAxis> {
    let last = course.possible.len().checked_sub(1)?;
    let index = (which * course.possible.len() as f64) as usize;
    Some(in_space(&course.possible[index.min(last)]))
}

/// A canal's shape as an axis in mm; `None` without a scale.
fn axis_of(shape: &CanalShape) -> Option<CanalAxis> {
    let (path, apex_at_mm) = shape.in_mm()?;
    Some(CanalAxis::new(path, apex_at_mm))
}

fn between(
    axis: &CanalAxis,
    walls: &[Vec<Point>; 2],
    unseen: [&[bool]; 2],
) -> Result<WidthProfile, WidthError> {
    let [left, right] = [0, 1].map(|side: usize| WallLine {
        points: &walls[side],
        unseen: unseen[side],
    });
    WidthProfile::between_walls(axis.path(), axis.length_mm(), left, right)
}

fn file_count(canals: &[CanalInput]) -> usize {
    canals.iter().map(|input| input.files.len()).sum()
}

impl Drawn<'_> {
    /// Writes the outputs of a canal's files.
    fn evaluate(&self, input: &CanalInput, out: &mut [f64]) {
        let mut first = f64::NAN;
        let outputs = out.chunks_exact_mut(OUTPUTS);
        for (index, (request, out)) in input.files.iter().zip(outputs).enumerate() {
            let tip_mm = input.tip_mm + request.step_back_mm;
            let offset_mm = self.offsets_mm[index];
            if let Some(widths) = &self.widths {
                let contact = passive_depth(&request.file, offset_mm, widths);
                // Nothing is known apical to the traced walls.
                out[3] = contact.tip_mm.max(widths.samples_mm()[0][0]);
                out[4] = contact.contact_mm.unwrap_or(f64::NAN);
            }
            let Some(peak) = self.axis.peak(&request.file, offset_mm, tip_mm) else {
                continue;
            };
            if index == 0 {
                first = peak.strain;
            }
            out[0] = peak.strain;
            // A file that is not bent has no place where it is bent most.
            if peak.strain > 0.0 {
                out[1] = peak.at_mm;
            }
            if first > 0.0 {
                out[2] = peak.strain / first;
            }
        }
    }
}
