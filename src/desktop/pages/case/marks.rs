//! Marks and walls: what two films before and after shaping are compared by.

use egui::{Button, Id, RichText, Ui};

use super::tool_button::{line_tool_button, tool_button};
use crate::case::WallSide;
use crate::case::edit::Tool;
use crate::desktop::state::Desk;
use crate::desktop::state::assist::{Request, Sought};
use crate::desktop::state::edit::Edit;
use crate::desktop::ui::checked_field::CheckedField;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::section_heading;

/// Shows the section.
pub fn show(ui: &mut Ui, desk: &mut Desk<'_>) {
    if !section_heading(ui, "Marks and walls", &mut desk.preferences.show_marks) {
        return;
    }
    let what = "To compare this film with one before or after shaping. Place the same marks in \
                the same order on both, around the canal.";
    ui.label(RichText::new(what).color(palette::of(ui).quiet_text));
    let marks = desk.workspace.document.case().marks.len();
    tool_button(ui, desk, Tool::Mark, marks >= 3, "Marks");
    names(ui, desk);
    let case = desk.workspace.document.case();
    let walls = case.canals.get(desk.session.canal);
    let walls = walls
        .and_then(|canal| canal.walls.clone())
        .unwrap_or_default();
    for (side, name) in [
        (WallSide::Left, "Left wall"),
        (WallSide::Right, "Right wall"),
    ] {
        let is_drawn = walls.side(side).len() > 1;
        line_tool_button(ui, desk, Tool::Wall(side), is_drawn, name);
    }
    follow_button(ui, desk);
}

/// Follows both walls of the canal on the film; afterwards they are edited like
/// any line.
fn follow_button(ui: &mut Ui, desk: &mut Desk<'_>) {
    let canal = desk.session.canal;
    let case = desk.workspace.document.case();
    let trace_px = case.canals.get(canal).map(|canal| canal.trace_px.clone());
    let trace_px = trace_px.unwrap_or_default();
    let button = Button::new("Follow both walls");
    let response = ui
        .add_enabled(trace_px.len() >= 2, button)
        .on_hover_text("Finds both walls on the film along the canal's trace. Check them: any point can be moved.")
        .on_disabled_hover_text("Trace the canal first");
    if response.clicked() {
        let sought = Sought::Walls(trace_px);
        desk.session.assist_request = Some(Request { canal, sought });
    }
}

/// The names by which marks of two films belong together.
fn names(ui: &mut Ui, desk: &mut Desk<'_>) {
    let names: Vec<String> = desk
        .workspace
        .document
        .case()
        .marks
        .iter()
        .map(|mark| mark.name.clone())
        .collect();
    ui.horizontal_wrapped(|ui| {
        for (index, name) in names.iter().enumerate() {
            let label = format!("Name of mark {}", index + 1);
            let field = CheckedField {
                label: &label,
                value: name,
                hint: "name",
                width: 52.0,
            };
            let is_taken = |text: &str| {
                let others = names.iter().enumerate();
                others.clone().any(|(i, other)| i != index && other == text)
            };
            let check = |text: &str| match text.trim() {
                "" => Err("A mark needs a name, the same on both films".to_owned()),
                text if is_taken(text) => Err(format!("There is a mark {text} already")),
                _ => Ok(()),
            };
            let id = Id::unique(("mark name", desk.session.case_count, index));
            if let Some(name) = field.show(ui, id, check) {
                desk.apply(Edit::RenameMark { index, name });
            }
        }
    });
}
