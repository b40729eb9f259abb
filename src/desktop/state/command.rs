//! Everything the user can order, its name and its keys.
//!
//! Menus, buttons, keys and the list of commands all send a [`Command`]; the
//! application carries it out after the frame's widgets were shown.

use std::borrow::Cow;
use std::sync::LazyLock;

use egui::{Key, KeyboardShortcut, Modifiers};

use super::page::{PAGES, Page};
use super::records::RecordKind;
use crate::case::edit::Tool;
use crate::case::{LANDMARKS, OBJECTS, WallSide};

/// An order of the user.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Command {
    Open,
    OpenByPath,
    OpenDemo,
    Save,
    SaveAs,
    DuplicateForNewFilm,
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

/// Where a command stands in menus and lists.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Group {
    Case,
    Edit,
    Place,
    Record,
    Class,
    View,
    Window,
}

impl Group {
    /// Every group, in menu order.
    pub const ALL: [Group; 7] = [
        Group::Case,
        Group::Edit,
        Group::Place,
        Group::Record,
        Group::Class,
        Group::View,
        Group::Window,
    ];

    /// Its menu's title.
    pub fn title(self) -> &'static str {
        match self {
            Group::Case => "Case",
            Group::Edit => "Edit",
            Group::Place => "Place",
            Group::Record => "Record",
            Group::Class => "Class",
            Group::View => "Film view",
            Group::Window => "Window",
        }
    }
}

/// One command with its name, place and keys.
#[derive(Clone)]
pub struct Entry {
    pub command: Command,
    pub name: &'static str,
    pub group: Group,
    pub shortcuts: Cow<'static, [KeyboardShortcut]>,
}

const fn plain(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::NONE, key)
}

const fn shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::SHIFT, key)
}

const fn ctrl(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND, key)
}

const fn ctrl_shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), key)
}

const fn entry(
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

/// All commands, in menu order.
pub fn entries() -> impl Iterator<Item = &'static Entry> + Clone {
    static ALL: LazyLock<Vec<Entry>> = LazyLock::new(|| {
        let is_line_tool = |entry: &Entry| entry.command == Command::Use(Tool::Trace);
        let lines_end = ENTRIES.iter().position(is_line_tool).map_or(0, |i| i + 1);
        let (before, after) = ENTRIES.split_at(lines_end);
        let pages = PAGES.iter().map(|row| Entry {
            shortcuts: Cow::Borrowed(std::slice::from_ref(&row.key)),
            ..entry(
                Command::Show(row.page),
                row.command,
                group_of(row.page),
                &[],
            )
        });
        [&pages.collect::<Vec<_>>(), before, &tool_entries(), after].concat()
    });
    ALL.iter()
}

/// Menu of the entry that shows a page.
fn group_of(page: Page) -> Group {
    match page {
        Page::Class | Page::Exercises => Group::Class,
        Page::Case
        | Page::Assessment
        | Page::Instrument
        | Page::TwoFilms
        | Page::Archive
        | Page::BeforeAfter
        | Page::Flatten => Group::Case,
    }
}

/// The tools that case tables name: one for each landmark and object.
fn tool_entries() -> Vec<Entry> {
    let tool = |tool: Tool, name, key| Entry {
        shortcuts: Key::from_name(key).into_iter().map(plain).collect(),
        ..entry(Command::Use(tool), name, Group::Place, &[])
    };
    let landmarks = LANDMARKS
        .iter()
        .map(|row| tool(Tool::Landmark(row.landmark), row.tool_name, row.key));
    let objects = OBJECTS.iter().filter_map(|row| {
        let of_kind = row.tool.as_ref()?;
        Some(tool(Tool::Object(row.kind), of_kind.name, of_kind.key))
    });
    landmarks.chain(objects).collect()
}

/// All commands but those that show a page, and the tools of [`tool_entries`].
const ENTRIES: &[Entry] = &[
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
    /// Its entry in [`entries`].
    pub fn entry(self) -> &'static Entry {
        entries()
            .find(|entry| entry.command == self)
            .expect("a test holds that every command is listed")
    }

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

    /// Its first keys in words; empty when it has none.
    pub fn keys_in_words(self, ctx: &egui::Context) -> String {
        let keys = self.entry().shortcuts.first();
        keys.map_or(String::new(), |keys| keys_in_words(ctx, keys))
    }

    /// Name and first key, for hints.
    pub fn hint(self, ctx: &egui::Context) -> String {
        let entry = self.entry();
        match entry.shortcuts.first() {
            Some(shortcut) => format!("{} ({})", entry.name, keys_in_words(ctx, shortcut)),
            None => entry.name.to_owned(),
        }
    }
}

/// Keys as they are written on the keyboard.
pub fn keys_in_words(ctx: &egui::Context, keys: &KeyboardShortcut) -> String {
    /// Names of keys that are no words, and what stands on the key.
    const SIGNS: [(&str, &str); 8] = [
        ("OpenBracket", "["),
        ("CloseBracket", "]"),
        ("Plus", "+"),
        ("Minus", "−"),
        ("Equals", "="),
        ("PageDown", "Page Down"),
        ("PageUp", "Page Up"),
        ("Escape", "Esc"),
    ];
    let mut words = ctx.format_shortcut(keys);
    for (name, sign) in SIGNS {
        words = words.replace(name, sign);
    }
    words
}
