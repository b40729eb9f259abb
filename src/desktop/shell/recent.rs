//! Files opened lately, newest first.

use egui::{Response, RichText, Ui};

use crate::desktop::state::preferences::Preferences;
use crate::desktop::state::session::{Next, Session};
use crate::desktop::ui::palette;

/// Lists them as `entry` shows one name; `true` when one was chosen. Nothing
/// when there are none.
pub fn list(
    ui: &mut Ui,
    preferences: &Preferences,
    session: &mut Session,
    entry: impl Fn(&mut Ui, &str) -> Response,
) -> bool {
    let mut chosen = false;
    if preferences.recent.is_empty() {
        return chosen;
    }
    ui.label(RichText::new("Recent").color(palette::of(ui).quiet_text));
    for path in &preferences.recent {
        let name = path.file_name().unwrap_or(path.as_os_str());
        let shown = entry(ui, &name.to_string_lossy());
        if shown.on_hover_text(path.to_string_lossy()).clicked() {
            session.next = Some(Next::Open(path.clone()));
            chosen = true;
        }
    }
    chosen
}

/// Whether the list is kept, and the way to empty it.
pub fn choices(ui: &mut Ui, preferences: &mut Preferences) {
    if !preferences.recent.is_empty() && ui.button("Clear the recent list").clicked() {
        preferences.recent.clear();
    }
    let mut keep = preferences.keeps_recent;
    ui.checkbox(&mut keep, "Keep a recent list")
        .on_hover_text("Off: what is opened is remembered nowhere, and the list is emptied");
    if keep != preferences.keeps_recent {
        preferences.keep_recent(keep);
    }
}
