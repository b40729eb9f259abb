//! Curvature against distance from the apex; the place under the pointer is
//! marked on the film, and the film's on the graph.

use egui::{RichText, Ui};
use egui_plot::{FilledArea, Line, Plot, PlotPoints, VLine};

use crate::desktop::state::Desk;
use crate::desktop::ui::palette;

/// Height of the graph, points.
const HEIGHT: f32 = 150.0;

/// Shows the graph of the canal worked on, if it has one.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let Some(drawing) = desk
        .workspace
        .last_reading()
        .drawings
        .get(desk.session.canal)
    else {
        return;
    };
    if drawing.profile.is_empty() {
        return;
    }
    let palette = palette::of(ui);
    ui.label(RichText::new("Curvature along the canal, ° per mm").color(palette.quiet_text));
    let xs: Vec<f64> = drawing.profile.iter().map(|s| s.from_apex_mm).collect();
    let low: Vec<f64> = drawing.profile.iter().map(|s| s.low_deg_per_mm).collect();
    let high: Vec<f64> = drawing.profile.iter().map(|s| s.high_deg_per_mm).collect();
    let curve: PlotPoints<'_> = drawing
        .profile
        .iter()
        .map(|s| [s.from_apex_mm, s.curvature_deg_per_mm])
        .collect();
    let marked = desk.session.marked_from_apex_mm;
    let plot = Plot::new("curvature profile")
        .height(HEIGHT)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .show_background(false)
        .grid_spacing(egui::Rangef::new(10.0, 40.0))
        .x_axis_label("mm from the apex")
        .include_y(0.0);
    let response = plot.show(ui, |plot| {
        plot.add(FilledArea::new("95 % band", &xs, &low, &high).fill_color(palette.raised_more));
        plot.line(
            Line::new("curvature", curve)
                .color(palette.accent)
                .width(2.0),
        );
        if let Some(mm) = marked {
            plot.vline(VLine::new("place", mm).color(palette.caution).width(2.0));
        }
        plot.response()
            .hover_pos()
            .and(plot.pointer_coordinate())
            .map(|at| at.x)
    });
    if let Some(mm) = response.inner
        && desk.session.marked_from_apex_mm != Some(mm)
    {
        desk.session.marked_from_apex_mm = Some(mm);
        ui.ctx().request_repaint();
    }
}
