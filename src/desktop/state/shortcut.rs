//! Keys that mean something, alone and with others.

use egui::{Key, KeyboardShortcut, Modifiers};

/// The key alone.
pub const fn plain(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::NONE, key)
}

/// With Shift.
pub const fn shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::SHIFT, key)
}

/// With Ctrl, or Command where that is the key for it.
pub const fn ctrl(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND, key)
}

/// With both.
pub const fn ctrl_shift(key: Key) -> KeyboardShortcut {
    KeyboardShortcut::new(Modifiers::COMMAND.plus(Modifiers::SHIFT), key)
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
