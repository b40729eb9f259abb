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
