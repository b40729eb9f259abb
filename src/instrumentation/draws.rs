//! Intervals by Monte Carlo (JCGM 101): the canal is drawn as `measure` draws
//! it, each file's diameters within the tolerance of the standard.

use kurbo::Point;

use super::axis::CanalAxis;
use super::contact::passive_depth;
use super::file_request::FileRequest;
use super::walls::SmoothWalls;
use crate::case::Walls;
use crate::geometry::{WidthError, WidthProfile};
use crate::measure::{CanalShape, Intervals, Model, Scratch};
use crate::progress::Progress;
use crate::uncertainty::UncertaintyError;
use crate::uncertainty::inputs::{Input, InputSet, Shape};
use crate::uncertainty::monte_carlo::{self, draw_outputs};

/// Outputs of one file: peak strain, its place from the apex, times the first
/// file's, tip from the apex where it binds, place of contact.
pub const OUTPUTS: usize = 5;

/// One canal with its files.
pub struct CanalInput<'a> {
    /// Index in the model.
    pub canal: usize,
    pub files: &'a [FileRequest],
    pub walls: Option<&'a Walls>,
    /// Tip of a file without step-back, from the apex, mm.
    pub tip_mm: f64,
}

/// What one draw makes of a canal and its files, mm.
struct Drawn<'d> {
    axis: CanalAxis,
    widths: Option<WidthProfile>,
    /// Deviation of each file's diameters.
    offsets_mm: &'d [f64],
}

/// The outputs at the best estimates.
pub fn best(model: &Model, canals: &[CanalInput]) -> Vec<f64> {
    let mut out = vec![f64::NAN; OUTPUTS * file_count(canals)];
    let mut from = 0;
    for input in canals {
        let count = OUTPUTS * input.files.len();
        let shape = model.best_shape(input.canal, &mut Scratch::default());
        let none = vec![0.0; input.files.len()];
        if let Some(shape) = shape
            && let Some(axis) = axis_of(&shape)
        {
            let widths = input
                .walls
                .and_then(|walls| widths(model, &shape, &axis, walls).ok());
            let drawn = Drawn {
                axis,
                widths,
                offsets_mm: &none,
            };
            drawn.evaluate(input, &mut out[from..from + count]);
        }
        from += count;
    }
    out
}

/// The intervals about `values`, the outputs at the best estimates. Inputs: the
/// model's, a diameter per file, then x and y of each wall's points.
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
    let places = canals
        .iter()
        .flat_map(|input| input.walls)
        .flat_map(|walls| {
            let points = walls.left_px.iter().chain(&walls.right_px);
            let sd = model.wall_point(walls.u_px);
            points.flat_map(move |&point| {
                let at = model.frame.detector_from_film(point);
                [at.x, at.y].map(|value| Input::normal("wall", value, sd))
            })
        });
    let of_model = of_model.inputs().iter().cloned();
    let inputs = InputSet::new(of_model.chain(offsets).chain(places).collect())?;
    let files = file_count(canals);
    let smooth: Vec<Option<SmoothWalls>> = canals
        .iter()
        .map(|input| {
            let shape = model.best_shape(input.canal, &mut Scratch::default())?;
            let factor = shape.tooth_per_detector?;
            Some(SmoothWalls::new(
                model,
                &axis_of(&shape)?,
                factor,
                input.walls?,
            ))
        })
        .collect();
    let drawn = draw_outputs(
        &inputs,
        OUTPUTS * files,
        settings,
        progress,
        Scratch::default,
        |values, scratch, out| {
            let (of_model, rest) = values.split_at(first_offset);
            let (mut offsets, mut places) = rest.split_at(files);
            let mut out = out;
            for (input, smooth) in canals.iter().zip(&smooth) {
                let (own_offsets, later) = offsets.split_at(input.files.len());
                offsets = later;
                let wall_points = input
                    .walls
                    .map(|walls| [walls.left_px.len(), walls.right_px.len()]);
                let shape = model.possible_shape(input.canal, of_model, scratch);
                let axis = shape.as_ref().and_then(axis_of);
                let mut widths = None;
                if let Some([left, right]) = wall_points {
                    let (own, later) = places.split_at(2 * (left + right));
                    places = later;
                    if let (Some(shape), Some(axis), Some(smooth)) = (&shape, &axis, smooth) {
                        let factor = shape.tooth_per_detector.unwrap_or(f64::NAN);
                        let [left, right] = smooth.drawn(own, factor);
                        let on_film = between(axis, &left, &right).ok();
                        widths = on_film.and_then(|widths| widths.stretched(shape.stretch));
                    }
                }
                let (own_out, later) = out.split_at_mut(OUTPUTS * input.files.len());
                out = later;
                if let Some(axis) = axis {
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
    for output in (0..found.values.len()).step_by(OUTPUTS) {
        // Curvatures scatter to one side: U reaches to both ends of the middle
        // 95 % of the draws as well.
        if let Some(summary) = drawn.summary(output) {
            let [low, high] = summary.symmetric;
            let (value, u95) = (found.values[output], found.u95[output]);
            found.u95[output] = u95.max(high - value).max(value - low);
        }
    }
    Ok(found)
}

/// A canal's shape as an axis in mm; `None` without a scale.
pub fn axis_of(shape: &CanalShape) -> Option<CanalAxis> {
    let (path, apex_at_mm) = shape.in_mm()?;
    Some(CanalAxis::new(path, apex_at_mm))
}

/// The canal's widths between its walls, without the noise of their points.
///
/// # Errors
/// Why the walls give none.
pub fn widths(
    model: &Model,
    shape: &CanalShape,
    axis: &CanalAxis,
    walls: &Walls,
) -> Result<WidthProfile, WidthError> {
    let factor = shape.tooth_per_detector.unwrap_or(f64::NAN);
    let [left, right] = SmoothWalls::new(model, axis, factor, walls).best(factor);
    between(axis, &left, &right)
}

fn between(axis: &CanalAxis, left: &[Point], right: &[Point]) -> Result<WidthProfile, WidthError> {
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
