//! All canals of the tooth side by side.

use egui::{Button, Grid, RichText, Ui};

use crate::curvature::CurvatureQuantity;
use crate::desktop::state::Desk;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::spoken;
use crate::measure::findings::CanalFindings;
use crate::report::numbers::chart;

/// Shows the table, where there are two canals or more.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    let found = desk.workspace.last_reading().findings.canals.clone();
    if found.len() < 2 {
        return;
    }
    ui.separator();
    ui.label(RichText::new("Canals").heading());
    let quiet = palette::of(ui).quiet_text;
    Grid::new("canals")
        .striped(true)
        .num_columns(5)
        .show(ui, |ui| {
            for (name, meaning) in [
                ("", ""),
                ("WL", "Working length for the chart, mm"),
                ("Tip", "Tip to apex, mm; minus: beyond the apex"),
                ("Length", "Curved length, orifice to apex, mm"),
                ("Schneider", "Schneider angle, degrees, as projected"),
            ] {
                let head = ui.label(RichText::new(name).color(quiet).small());
                if !meaning.is_empty() {
                    head.on_hover_text(meaning);
                }
            }
            ui.end_row();
            for (index, canal) in found.iter().enumerate() {
                let chosen = index == desk.session.canal;
                let name = Button::selectable(chosen, &canal.name);
                let name = ui
                    .add(name)
                    .accessible_name(format!("Turn to {}", canal.name));
                if name.clicked() {
                    desk.session.canal = index;
                }
                let cells = cells(canal);
                for (cell, what) in
                    cells
                        .iter()
                        .zip(["working length", "tip", "length", "Schneider"])
                {
                    let shown = ui.label(cell);
                    spoken(&shown, &format!("{}, {what}: {cell}", canal.name));
                }
                ui.end_row();
            }
        });
}

/// Working length, tip, curved length, Schneider angle; a dash for what is not
/// known.
fn cells(canal: &CanalFindings) -> [String; 4] {
    let curvature = canal.curvature.as_ref();
    let schneider = curvature.and_then(|found| found[CurvatureQuantity::Schneider]);
    [
        canal.working_length_chart_mm.map(chart),
        canal.tip_to_apex_mm.map(|tip| format!("{:.1}", tip.value)),
        canal.curved_length_mm.map(|l| format!("{:.1}", l.value)),
        schneider.map(|angle| format!("{:.0}°", angle.value)),
    ]
    .map(|cell| cell.unwrap_or_else(|| "–".to_owned()))
}
