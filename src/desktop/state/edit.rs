//! Every change of a case that is one step: its name, what it merges with,
//! and what it does.

use super::assist::Suggestion;
use super::offers::Offer;
use super::own_click_noise::OwnClickNoise;
use crate::assessment::FormRow;
use crate::case::edit::{self, Handle, Tool, name_of};
use crate::case::{Case, EarlierFilm, SecondFilm, ShapingFile, Student, Tooth};
use crate::curvature::DifficultyClass;
use crate::measure::{PlaceKind, StatedInput, click_noise};
use crate::units::FilmPoint;

/// A change of the case. Parts of the window send these; none writes the case
/// itself.
pub enum Edit {
    FilmDate(Option<String>),
    Observer(Option<String>),
    /// Who hands the case in.
    Student(Option<Student>),
    /// mm, both ways.
    PixelPitch(Option<f64>),
    Magnification(Option<f64>),
    /// What made the film; with its pixel pitch where that is known.
    Equipment {
        name: Option<String>,
        pitch_mm: Option<f64>,
    },
    /// The scale of an earlier film.
    EarlierFilm(Option<Box<EarlierFilm>>),
    Tooth(Option<Tooth>),
    NewCanal,
    RenameCanal {
        canal: usize,
        name: String,
    },
    RemoveCanal {
        canal: usize,
    },
    ReferenceName {
        canal: usize,
        name: Option<String>,
    },
    /// Length set between stop and tip, mm; a traced file's known length too.
    SetLength {
        canal: usize,
        length_mm: Option<f64>,
    },
    /// Length of a ruler or diameter of a ball, mm.
    KnownLength {
        object: usize,
        length_mm: Option<f64>,
    },
    /// How far short of the apex to end, mm.
    Allowance {
        canal: usize,
        /// `None`: the usual one.
        mm: Option<f64>,
    },
    /// Standard deviation of one click per coordinate, mm at the detector.
    ClickNoise {
        kind: PlaceKind,
        sd_mm: Option<f64>,
    },
    Uncertainty {
        input: &'static StatedInput,
        value: Option<f64>,
    },
    /// Class of a row of the assessment form.
    AssessRow {
        row: &'static FormRow,
        class: Option<DifficultyClass>,
    },
    /// Whether a canal belongs to the neighbouring tooth.
    Neighbour {
        canal: usize,
        is_neighbour: bool,
    },
    /// The files a canal is to be shaped with, in the order of use.
    ShapingFiles {
        canal: usize,
        files: Vec<ShapingFile>,
    },
    /// How far short of the working length one of them is set, mm.
    StepBack {
        canal: usize,
        file: usize,
        mm: f64,
    },
    /// Which film is the second one, and how it was taken.
    SecondFilm(Option<Box<SecondFilm>>),
    /// Angle to it and half width of its uncertainty, degrees.
    SecondFilmAngle {
        angle_deg: f64,
        half_width_deg: Option<f64>,
    },
    UseClickNoise(OwnClickNoise),
    ForgetClickNoise(OwnClickNoise),
    Nudge {
        handle: Handle,
        to: FilmPoint,
    },
    /// What one click with a tool places.
    Place {
        tool: Tool,
        canal: usize,
        at: FilmPoint,
    },
    InsertOnLine {
        on: Handle,
        at: FilmPoint,
    },
    Delete(Handle),
    InsertAfter(Handle),
    /// A last point nearer to the apex than `joins_px` was meant to be on it.
    FinishTrace {
        canal: usize,
        joins_px: f64,
    },
    /// Walls from the orifice, and each on its own side.
    FinishWalls {
        canal: usize,
    },
    RenameMark {
        index: usize,
        name: String,
    },
    Suggestion(Box<Suggestion>),
    /// Takes what was found on the film without being asked for.
    TakeOffer {
        canal: usize,
        offer: Box<Offer>,
        /// Scale the film was read with.
        mm_per_px: Option<f64>,
    },
}

/// What an edit has come to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Applied {
    /// Name of the step, if there was one.
    pub step: Option<String>,
    /// The point it has made.
    pub handle: Option<Handle>,
}

impl Edit {
    /// The step's name.
    pub(super) fn label(&self, case: &Case) -> String {
        let name = match self {
            Self::FilmDate(_) => "Type the film's date",
            Self::Observer(_) => "Name the observer",
            Self::Student(_) => "Name the student",
            Self::PixelPitch(_) => "Type the pixel pitch",
            Self::Magnification(_) => "Type the magnification",
            Self::Equipment { .. } => "Name the equipment",
            Self::EarlierFilm(Some(_)) => "Take the scale of an earlier film",
            Self::EarlierFilm(None) => "Remove the scale of an earlier film",
            Self::Tooth(_) => "Name the tooth",
            Self::NewCanal => "New canal",
            Self::RenameCanal { .. } => "Rename canal",
            Self::RemoveCanal { .. } => "Remove canal",
            Self::ReferenceName { .. } => "Name the reference point",
            Self::SetLength { .. } => "Set the file's length",
            Self::KnownLength { .. } => "State a known length",
            Self::Allowance { .. } => "Set the allowance",
            Self::ClickNoise { .. } => "State a click uncertainty",
            Self::Uncertainty { .. } => "State an uncertainty",
            Self::AssessRow { .. } => "Assess a row",
            Self::Neighbour { .. } => "Choose the neighbouring tooth",
            Self::ShapingFiles { .. } => "Choose the files",
            Self::StepBack { .. } => "Set a step-back",
            Self::SecondFilm(_) => "Choose the second film",
            Self::SecondFilmAngle { .. } => "State the angle between the films",
            Self::UseClickNoise(_) => "Use my placement repeatability",
            Self::ForgetClickNoise(_) => "Forget my placement repeatability",
            Self::Nudge { handle, .. } => return format!("Nudge {}", name_of(case, handle)),
            Self::Delete(handle) => return format!("Delete {}", name_of(case, handle)),
            Self::Place { .. } => "Place point",
            Self::InsertOnLine { .. } | Self::InsertAfter(_) => "Insert point",
            Self::FinishTrace { .. } => "Finish the canal at its apex",
            Self::FinishWalls { .. } => "Set the walls in order",
            Self::RenameMark { .. } => "Rename mark",
            Self::Suggestion(suggestion) => suggestion.label(),
            Self::TakeOffer { offer, .. } => offer.label(),
        };
        name.to_owned()
    }

    /// Edits with the same key, one after the other, are one step: typing a
    /// number, nudging a point.
    pub(super) fn merge_key(&self) -> Option<String> {
        Some(match self {
            Self::FilmDate(_) => "date".to_owned(),
            Self::Observer(_) => "observer".to_owned(),
            Self::Student(_) => "student".to_owned(),
            Self::PixelPitch(_) => "pitch".to_owned(),
            Self::Magnification(_) => "magnification".to_owned(),
            Self::Equipment { .. } => "equipment".to_owned(),
            Self::Tooth(_) => "tooth".to_owned(),
            Self::RenameCanal { canal, .. } => format!("rename {canal}"),
            Self::ReferenceName { canal, .. } => format!("reference {canal}"),
            Self::SetLength { canal, .. } => format!("length {canal}"),
            Self::KnownLength { object, .. } => format!("object {object}"),
            Self::Allowance { canal, .. } => format!("allowance {canal}"),
            Self::ClickNoise { kind, .. } => format!("click noise {kind:?}"),
            Self::Uncertainty { input, .. } => format!("stated {}", input.key),
            Self::StepBack { canal, file, .. } => format!("step-back {canal} {file}"),
            Self::SecondFilmAngle { .. } => "angle between the films".to_owned(),
            Self::Nudge { handle, .. } => format!("nudge {handle:?}"),
            Self::RenameMark { index, .. } => format!("mark {index}"),
            Self::NewCanal
            | Self::RemoveCanal { .. }
            | Self::AssessRow { .. }
            | Self::Neighbour { .. }
            | Self::ShapingFiles { .. }
            | Self::SecondFilm(_)
            | Self::EarlierFilm(_)
            | Self::UseClickNoise(_)
            | Self::ForgetClickNoise(_)
            | Self::Place { .. }
            | Self::InsertOnLine { .. }
            | Self::Delete(_)
            | Self::InsertAfter(_)
            | Self::FinishTrace { .. }
            | Self::FinishWalls { .. }
            | Self::Suggestion(_)
            | Self::TakeOffer { .. } => return None,
        })
    }

    /// Changes the case; the point made, if it makes one. What the case does
    /// not hold is left alone.
    pub(super) fn change(self, case: &mut Case) -> Option<Handle> {
        match self {
            Self::FilmDate(date) => case.film.date = date,
            Self::Observer(observer) => case.observer = observer,
            Self::Student(student) => case.student = student,
            Self::PixelPitch(mm) => case.film.pixel_pitch_mm = mm.map(|mm| [mm, mm]),
            Self::Magnification(factor) => case.film.magnification = factor,
            Self::Equipment { name, pitch_mm } => {
                case.film.equipment = name;
                if let Some(mm) = pitch_mm {
                    case.film.pixel_pitch_mm = Some([mm, mm]);
                }
            }
            Self::EarlierFilm(earlier) => case.scale.earlier_film = earlier.map(|e| *e),
            Self::Tooth(tooth) => case.tooth = tooth,
            Self::NewCanal => {
                edit::add_canal(case);
            }
            Self::RenameCanal { canal, name } => {
                edit::rename_canal(case, canal, &name);
            }
            Self::RemoveCanal { canal } => edit::remove_canal(case, canal),
            Self::ReferenceName { canal, name } => {
                if let Some(canal) = case.canals.get_mut(canal) {
                    canal.reference_name = name;
                }
            }
            Self::SetLength { canal, length_mm } => edit::set_length(case, canal, length_mm),
            Self::KnownLength { object, length_mm } => {
                edit::place_scale_length(case, object, length_mm);
            }
            Self::Allowance { canal, mm } => {
                if let Some(canal) = case.canals.get_mut(canal) {
                    canal.allowance_mm = mm;
                }
            }
            Self::ClickNoise { kind, sd_mm } => click_noise::state(case, kind, sd_mm),
            Self::Uncertainty { input, value } => input.state(case, value),
            Self::AssessRow { row, class } => edit::assess_row(case, row.key, class),
            Self::Neighbour {
                canal,
                is_neighbour,
            } => edit::set_neighbour(case, canal, is_neighbour),
            Self::ShapingFiles { canal, files } => edit::set_shaping_files(case, canal, files),
            Self::StepBack { canal, file, mm } => edit::set_step_back(case, canal, file, mm),
            Self::SecondFilm(second) => case.second_film = second.map(|second| *second),
            Self::SecondFilmAngle {
                angle_deg,
                half_width_deg,
            } => {
                if let Some(second) = &mut case.second_film {
                    second.angle_deg = angle_deg;
                    second.angle_half_width_deg = half_width_deg;
                }
            }
            Self::UseClickNoise(own) => own.write_into(case),
            Self::ForgetClickNoise(own) => own.take_from(case),
            Self::Nudge { handle, to } => edit::move_to(case, &handle, to),
            Self::Place { tool, canal, at } => {
                return edit::place(case, tool, canal, at).map(|placed| placed.handle);
            }
            Self::InsertOnLine { on, at } => return edit::insert_near(case, &on, at),
            Self::Delete(handle) => edit::delete(case, &handle),
            Self::InsertAfter(handle) => return edit::insert_next(case, &handle),
            Self::FinishTrace { canal, joins_px } => edit::finish_trace(case, canal, joins_px),
            Self::FinishWalls { canal } => edit::finish_walls(case, canal),
            Self::RenameMark { index, name } => edit::rename_mark(case, index, &name),
            Self::Suggestion(suggestion) => suggestion.apply(case),
            Self::TakeOffer {
                canal,
                offer,
                mm_per_px,
            } => offer.apply(case, canal, mm_per_px),
        }
        None
    }
}
