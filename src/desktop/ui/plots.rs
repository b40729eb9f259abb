//! What every plot has in common.

use egui::AsIdSalt;
use egui_plot::Plot;

/// A plot that neither drags nor zooms, on the ground of its page.
pub fn still<'a>(id: impl AsIdSalt) -> Plot<'a> {
    Plot::new(id)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .allow_double_click_reset(false)
        .show_background(false)
}
