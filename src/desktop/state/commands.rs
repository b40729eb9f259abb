//! All commands, in menu order.

use std::borrow::Cow;
use std::sync::LazyLock;

use egui::Key;

use super::command::{Command, ENTRIES, Entry, entry};
use super::command_group::Group;
use super::page::{PAGES, Page};
use super::shortcut::{keys_in_words, plain};
use crate::case::edit::Tool;
use crate::case::{LANDMARKS, OBJECTS};

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

impl Command {
    /// Its entry in [`entries`].
    pub fn entry(self) -> &'static Entry {
        entries()
            .find(|entry| entry.command == self)
            .expect("a test holds that every command is listed")
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
