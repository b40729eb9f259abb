//! Which commands the keys pressed in a frame mean.

use egui::{Event, Id, Key, KeyboardShortcut, Modifiers, Popup};

use super::command::Command;
use super::commands::entries;

/// The commands among those `heard` whose keys were pressed in this frame. Keys
/// without Ctrl wait while text is typed.
pub fn pressed(ctx: &egui::Context, heard: impl Fn(Command) -> bool) -> Vec<Command> {
    let typing = ctx.text_edit_focused();
    // Escape shuts what is open, or gives a field back, before it deselects a
    // tool; the field has lost the keyboard by now.
    let was_typing = was_typing(ctx);
    ctx.data_mut(|data| data.insert_temp(typing_id(), typing));
    let keeps_escape = was_typing || Popup::is_any_open(ctx);
    ctx.input_mut(|input| {
        let mut found = Vec::new();
        // Shortcuts with more modifiers first: egui lets Ctrl+Z match
        // Ctrl+Shift+Z.
        let mut keys: Vec<(Command, KeyboardShortcut)> = entries()
            .filter(|entry| heard(entry.command))
            .flat_map(|entry| entry.shortcuts.iter().map(|keys| (entry.command, *keys)))
            .collect();
        keys.sort_by_key(|(_, keys)| std::cmp::Reverse(modifier_count(keys.modifiers)));
        for (command, shortcut) in keys {
            let is_text = !shortcut.modifiers.command && !is_function_key(shortcut.logical_key);
            if shortcut.logical_key == Key::Escape && keeps_escape {
                continue;
            }
            if !(typing && is_text) && input.consume_shortcut(&shortcut) {
                found.push(command);
            }
        }
        found
    })
}

/// This key with Ctrl, or this function key, means a command; it types nothing
/// by itself.
pub fn is_command_key(event: &Event) -> bool {
    let Event::Key {
        key,
        pressed: true,
        modifiers,
        ..
    } = event
    else {
        return false;
    };
    let means = |keys: &KeyboardShortcut| {
        let types_nothing = keys.modifiers.command || is_function_key(keys.logical_key);
        types_nothing && keys.logical_key == *key && modifiers.matches_logically(keys.modifiers)
    };
    entries().any(|entry| entry.shortcuts.iter().any(means))
}

fn typing_id() -> Id {
    Id::unique("typed at the frame's start")
}

/// A field had the keyboard when the last look at the keys was taken: at the
/// start of this frame, once that look is over.
pub fn was_typing(ctx: &egui::Context) -> bool {
    ctx.data(|data| data.get_temp(typing_id()).unwrap_or(false))
}

fn modifier_count(modifiers: Modifiers) -> u8 {
    u8::from(modifiers.command) + u8::from(modifiers.shift) + u8::from(modifiers.alt)
}

fn is_function_key(key: Key) -> bool {
    matches!(key, Key::F1 | Key::F2 | Key::F3)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::case::edit::Tool;
    use std::collections::HashMap;

    #[test]
    fn no_two_commands_share_a_key() {
        let mut owner: HashMap<KeyboardShortcut, &str> = HashMap::new();
        for entry in entries() {
            for shortcut in entry.shortcuts.iter() {
                if let Some(other) = owner.insert(*shortcut, entry.name) {
                    panic!("{shortcut:?} means both {other:?} and {:?}", entry.name);
                }
            }
        }
    }

    #[test]
    fn no_command_takes_a_key_that_moves_between_widgets_or_handles() {
        let kept = [
            Key::Tab,
            Key::Enter,
            Key::Space,
            Key::ArrowUp,
            Key::ArrowDown,
            Key::ArrowLeft,
            Key::ArrowRight,
        ];
        for entry in entries() {
            for shortcut in entry.shortcuts.iter() {
                let taken = shortcut.modifiers.is_none() && kept.contains(&shortcut.logical_key);
                assert!(!taken, "{} takes {:?}", entry.name, shortcut.logical_key);
            }
        }
    }

    #[test]
    fn every_tool_has_a_command_with_a_key_and_names_are_told_apart() {
        for tool in Tool::all() {
            assert!(!Command::Use(tool).entry().shortcuts.is_empty());
        }
        let mut names: Vec<&str> = entries().map(|entry| entry.name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), entries().count());
    }
}
