//! Everything the user can order, its name and its keys; listed by
//! [`super::commands`].
//!
//! Menus, buttons, keys and the list of commands all send a [`Command`]; the
//! application carries it out after the frame's widgets were shown.

use std::borrow::Cow;

use egui::{Key, KeyboardShortcut};

use super::command_group::Group;
use super::page::Page;
use super::records::RecordKind;
use super::shortcut::{ctrl, ctrl_shift, plain, shift};
use crate::case::WallSide;
use crate::case::edit::Tool;

/// An order of the user.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Command {
    Open,
    OpenByPath,
    OpenDemo,
    Save,
    SaveAs,
    DuplicateForNewFilm,
    ScaleOfEarlierFilm,
    OpenNewestFilm,
    WatchFolder,
    Show(Page),
    GradeExercises,
    Quit,
    Undo,
    Redo,
    DeleteHandle,
    InsertPoint,
    PlaceAtCross,
    Finish,
    Cancel,
    NewCanal,
    NextCanal,
    PreviousCanal,
    Use(Tool),
    CopyChartNote,
    CopyPicture,
    Print,
    SaveRecord(RecordKind),
    SendRecord,
    Fit,
    OneToOne,
    ZoomIn,
    ZoomOut,
    TurnLeft,
    TurnRight,
    Mirror,
    Invert,
    AutoContrast,
    LocalContrast,
    FullContrast,
    NextRuler,
    MeasureClickNoise,
    ShowOffers,
    NextConstruction,
    ToggleTheme,
    TextLarger,
    TextSmaller,
    ShowCommands,
    ShowCautions,
}

/// One command with its name, place and keys.
#[derive(Clone)]
pub struct Entry {
    pub command: Command,
    pub name: &'static str,
    pub group: Group,
    pub shortcuts: Cow<'static, [KeyboardShortcut]>,
}

/// A row of the table.
pub const fn entry(
    command: Command,
    name: &'static str,
    group: Group,
    shortcuts: &'static [KeyboardShortcut],
) -> Entry {
    Entry {
        command,
        name,
        group,
        shortcuts: Cow::Borrowed(shortcuts),
    }
}

/// All commands but those that show a page, and the tools that case tables name.
pub const ENTRIES: &[Entry] = &[
    entry(
        Command::Open,
        "Open film or case…",
        Group::Case,
        &[ctrl(Key::O)],
    ),
    entry(
        Command::OpenByPath,
        "Open by path…",
        Group::Case,
        &[ctrl_shift(Key::O)],
    ),
    entry(
        Command::OpenDemo,
        "Open the demo case",
        Group::Case,
        &[ctrl(Key::D)],
    ),
    entry(Command::Save, "Save", Group::Case, &[ctrl(Key::S)]),
    entry(
        Command::SaveAs,
        "Save as…",
        Group::Case,
        &[ctrl_shift(Key::S)],
    ),
    entry(
        Command::DuplicateForNewFilm,
        "Duplicate for a second film…",
        Group::Case,
        &[ctrl_shift(Key::D)],
    ),
    entry(
        Command::ScaleOfEarlierFilm,
        "Take the scale of an earlier film…",
        Group::Case,
        &[],
    ),
    entry(
        Command::OpenNewestFilm,
        "Open the newest film",
        Group::Case,
        &[ctrl(Key::L)],
    ),
    entry(
        Command::WatchFolder,
        "Watch a folder for new films…",
        Group::Case,
        &[ctrl_shift(Key::L)],
    ),
    entry(Command::Quit, "Quit", Group::Case, &[ctrl(Key::Q)]),
    entry(Command::Undo, "Undo", Group::Edit, &[ctrl(Key::Z)]),
    entry(
        Command::Redo,
        "Redo",
        Group::Edit,
        &[ctrl(Key::Y), ctrl_shift(Key::Z)],
    ),
    entry(
        Command::DeleteHandle,
        "Delete point",
        Group::Edit,
        &[plain(Key::Delete), plain(Key::Backspace)],
    ),
    entry(
        Command::InsertPoint,
        "Insert point after this one",
        Group::Edit,
        &[plain(Key::Insert)],
    ),
    entry(Command::NewCanal, "New canal", Group::Edit, &[ctrl(Key::N)]),
    entry(
        Command::NextCanal,
        "Next canal",
        Group::Edit,
        &[plain(Key::PageDown)],
    ),
    entry(
        Command::PreviousCanal,
        "Previous canal",
        Group::Edit,
        &[plain(Key::PageUp)],
    ),
    entry(
        Command::Use(Tool::Select),
        "Move points",
        Group::Place,
        &[plain(Key::V)],
    ),
    entry(
        Command::Use(Tool::File),
        "File: stop, tooth side, then tip",
        Group::Place,
        &[plain(Key::F)],
    ),
    entry(
        Command::Use(Tool::Trace),
        "Canal: orifice to apex",
        Group::Place,
        &[plain(Key::T)],
    ),
    entry(
        Command::Use(Tool::Wall(WallSide::Left)),
        "Left wall of the canal: orifice to apex",
        Group::Place,
        &[plain(Key::W)],
    ),
    entry(
        Command::Use(Tool::Wall(WallSide::Right)),
        "Right wall of the canal: orifice to apex",
        Group::Place,
        &[shift(Key::W)],
    ),
    entry(
        Command::Use(Tool::Mark),
        "Mark found again on another film",
        Group::Place,
        &[plain(Key::P)],
    ),
    entry(
        Command::Use(Tool::FindFile),
        "Find file: click its shank",
        Group::Place,
        &[shift(Key::F)],
    ),
    entry(
        Command::Use(Tool::FollowCanal),
        "Follow canal: orifice, then apex",
        Group::Place,
        &[shift(Key::T)],
    ),
    entry(
        Command::ShowOffers,
        "Suggestions: show or hide",
        Group::Place,
        &[shift(Key::S)],
    ),
    entry(
        Command::Use(Tool::Distance),
        "Distance between two places",
        Group::Place,
        &[plain(Key::D)],
    ),
    entry(
        Command::Use(Tool::Angle),
        "Angle of three places",
        Group::Place,
        &[shift(Key::D)],
    ),
    entry(
        Command::MeasureClickNoise,
        "Measure your placement repeatability",
        Group::Place,
        &[shift(Key::R)],
    ),
    entry(
        Command::PlaceAtCross,
        "Place at the cross",
        Group::Place,
        &[ctrl(Key::Enter)],
    ),
    entry(
        Command::Finish,
        "Finish the line",
        Group::Place,
        &[shift(Key::Enter)],
    ),
    entry(
        Command::Cancel,
        "Deselect tool",
        Group::Place,
        &[plain(Key::Escape)],
    ),
    entry(
        Command::CopyChartNote,
        "Copy chart note",
        Group::Record,
        &[plain(Key::C)],
    ),
    entry(
        Command::CopyPicture,
        "Copy annotated picture",
        Group::Record,
        &[shift(Key::C)],
    ),
    entry(Command::Print, "Print report", Group::Record, &[]),
    entry(
        Command::SaveRecord(RecordKind::Pdf),
        "Save report (PDF)…",
        Group::Record,
        &[ctrl(Key::P)],
    ),
    entry(
        Command::SaveRecord(RecordKind::Html),
        "Save report (HTML)…",
        Group::Record,
        &[ctrl_shift(Key::P)],
    ),
    entry(
        Command::SaveRecord(RecordKind::Csv),
        "Save table (CSV)…",
        Group::Record,
        &[ctrl(Key::T)],
    ),
    entry(
        Command::SaveRecord(RecordKind::Picture),
        "Save annotated film (PNG)…",
        Group::Record,
        &[ctrl(Key::I)],
    ),
    entry(
        Command::SaveRecord(RecordKind::StructuredReport),
        "Save DICOM structured report…",
        Group::Record,
        &[ctrl(Key::R)],
    ),
    entry(
        Command::SendRecord,
        "Send record to the archive",
        Group::Record,
        &[ctrl_shift(Key::R)],
    ),
    entry(
        Command::GradeExercises,
        "Grade an exercise set…",
        Group::Class,
        &[ctrl_shift(Key::G)],
    ),
    entry(
        Command::Fit,
        "Fit to window",
        Group::View,
        &[plain(Key::Home)],
    ),
    entry(
        Command::OneToOne,
        "Actual size (1:1)",
        Group::View,
        &[ctrl(Key::Num1)],
    ),
    entry(
        Command::ZoomIn,
        "Zoom in",
        Group::View,
        &[plain(Key::Plus), plain(Key::Equals)],
    ),
    entry(
        Command::ZoomOut,
        "Zoom out",
        Group::View,
        &[plain(Key::Minus)],
    ),
    entry(
        Command::TurnLeft,
        "Turn left",
        Group::View,
        &[plain(Key::OpenBracket)],
    ),
    entry(
        Command::TurnRight,
        "Turn right",
        Group::View,
        &[plain(Key::CloseBracket)],
    ),
    entry(
        Command::Mirror,
        "Mirror left and right",
        Group::View,
        &[plain(Key::M)],
    ),
    entry(
        Command::Invert,
        "Invert greys",
        Group::View,
        &[plain(Key::N)],
    ),
    entry(
        Command::AutoContrast,
        "Automatic contrast",
        Group::View,
        &[plain(Key::H)],
    ),
    entry(
        Command::FullContrast,
        "Full grey range",
        Group::View,
        &[shift(Key::H)],
    ),
    entry(
        Command::LocalContrast,
        "Local contrast",
        Group::View,
        &[plain(Key::L)],
    ),
    entry(
        Command::NextRuler,
        "Ruler: from the apex, from the reference, none",
        Group::View,
        &[plain(Key::G)],
    ),
    entry(
        Command::NextConstruction,
        "Next curvature construction",
        Group::View,
        &[plain(Key::K)],
    ),
    entry(
        Command::ShowCommands,
        "All commands and keys",
        Group::Window,
        &[plain(Key::F1)],
    ),
    entry(
        Command::ShowCautions,
        "Cautions",
        Group::Window,
        &[plain(Key::F2)],
    ),
    entry(
        Command::ToggleTheme,
        "Dark or light",
        Group::Window,
        &[plain(Key::F3)],
    ),
    entry(
        Command::TextLarger,
        "Larger text",
        Group::Window,
        &[ctrl(Key::Plus), ctrl(Key::Equals)],
    ),
    entry(
        Command::TextSmaller,
        "Smaller text",
        Group::Window,
        &[ctrl(Key::Minus)],
    ),
];

impl Command {
    /// It means something while a page of the case beside its film's is shown.
    pub fn is_for_case_pages(self) -> bool {
        let of_case = matches!(
            self,
            Self::Save
                | Self::SaveAs
                | Self::SaveRecord(_)
                | Self::SendRecord
                | Self::Undo
                | Self::Redo
        );
        of_case || self.is_global()
    }

    /// It means the same whatever page is shown.
    pub fn is_global(self) -> bool {
        match self {
            Self::Open
            | Self::OpenByPath
            | Self::OpenDemo
            | Self::OpenNewestFilm
            | Self::WatchFolder
            | Self::Show(_)
            | Self::GradeExercises
            | Self::Quit
            | Self::ToggleTheme
            | Self::TextLarger
            | Self::TextSmaller
            | Self::ShowCommands
            | Self::ShowCautions => true,
            Self::Save
            | Self::SaveAs
            | Self::DuplicateForNewFilm
            | Self::ScaleOfEarlierFilm
            | Self::Undo
            | Self::Redo
            | Self::DeleteHandle
            | Self::InsertPoint
            | Self::PlaceAtCross
            | Self::Finish
            | Self::Cancel
            | Self::NewCanal
            | Self::NextCanal
            | Self::PreviousCanal
            | Self::Use(_)
            | Self::CopyChartNote
            | Self::CopyPicture
            | Self::Print
            | Self::SaveRecord(_)
            | Self::SendRecord
            | Self::Fit
            | Self::OneToOne
            | Self::ZoomIn
            | Self::ZoomOut
            | Self::TurnLeft
            | Self::TurnRight
            | Self::Mirror
            | Self::Invert
            | Self::AutoContrast
            | Self::LocalContrast
            | Self::FullContrast
            | Self::NextRuler
            | Self::MeasureClickNoise
            | Self::ShowOffers
            | Self::NextConstruction => false,
        }
    }
}
