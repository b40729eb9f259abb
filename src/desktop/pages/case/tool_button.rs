//! The buttons of tools.

use egui::{Button, RichText, Ui};

use crate::case::edit::Tool;
use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;

/// A tool with its state: a tick once its points are there.
pub fn tool_button(ui: &mut Ui, desk: &mut Desk<'_>, tool: Tool, done: bool, name: &str) {
    let active = desk.session.tool == tool;
    let command = Command::Use(tool);
    let keys = command.keys_in_words(ui.ctx());
    let button = Button::selectable(active, name)
        .frame_when_inactive(true)
        .left_text("    ")
        .right_text(RichText::new(keys).small());
    let state = if done { "placed" } else { "not placed" };
    let response = ui
        .add(button)
        .on_hover_text(command.hint(ui.ctx()))
        .accessible_name(format!("{name}: {state}"));
    let palette = palette::of(ui);
    let (icon, colour) = match (done, active) {
        (_, true) => (if done { Icon::Tick } else { Icon::Dot }, palette.on_accent),
        (true, false) => (Icon::Tick, palette.good),
        (false, false) => (Icon::Dot, palette.quiet_text),
    };
    let side = response.rect.height() * 0.5;
    let place = egui::pos2(response.rect.left() + side, response.rect.center().y);
    let square = egui::Rect::from_center_size(place, egui::Vec2::splat(side));
    icons::paint(ui.painter(), icon, square, colour);
    if response.clicked() {
        desk.commands.push(command);
    }
}

/// The button of a tool that draws a line, with one that ends it while it is drawn.
pub fn line_tool_button(ui: &mut Ui, desk: &mut Desk<'_>, tool: Tool, done: bool, name: &str) {
    ui.horizontal(|ui| {
        tool_button(ui, desk, tool, done, name);
        if desk.session.tool == tool
            && ui
                .button("Finish")
                .on_hover_text(Command::Finish.hint(ui.ctx()))
                .accessible_name("Finish the line")
                .clicked()
        {
            desk.commands.push(Command::Finish);
        }
    });
}
