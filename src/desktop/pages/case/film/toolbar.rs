//! The strip above the film: zoom, turn, greys.

use egui::{Button, DragValue, RichText, Ui};

use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::ui::icons::{self, Icon};
use crate::desktop::ui::palette;

/// Shows the strip.
pub fn toolbar(ui: &mut Ui, desk: &mut Desk<'_>) {
    ui.horizontal(|ui| {
        let inverted = desk.workspace.tone.inverted;
        let local = desk.workspace.show_local_contrast;
        for (command, icon) in [
            (Command::TurnLeft, Icon::TurnLeft),
            (Command::TurnRight, Icon::TurnRight),
            (Command::Mirror, Icon::Mirror),
        ] {
            if icons::button(ui, icon, true, &command.hint(ui.ctx())).clicked() {
                desk.commands.push(command);
            }
        }
        for (command, sign, on) in [
            (Command::Fit, "Whole", false),
            (Command::OneToOne, "1:1", false),
            (Command::Invert, "Invert", inverted),
            (Command::AutoContrast, "Auto", false),
            (Command::LocalContrast, "Local", local),
        ] {
            let button = ui
                .add(Button::selectable(on, sign).frame_when_inactive(true))
                .on_hover_text(command.hint(ui.ctx()))
                .accessible_name(command.entry().name);
            if button.clicked() {
                desk.commands.push(command);
            }
        }
        let quiet = palette::of(ui).quiet_text;
        let top = f64::from(desk.workspace.film.film.max_sample());
        let window = &mut desk.workspace.tone.window;
        ui.label(RichText::new("Level").color(quiet));
        ui.add(
            DragValue::new(&mut window.center)
                .speed(top / 500.0)
                .max_decimals(0),
        )
        .accessible_name("Grey level");
        ui.label(RichText::new("Width").color(quiet));
        ui.add(
            DragValue::new(&mut window.width)
                .speed(top / 500.0)
                .range(1.0..=top * 2.0)
                .max_decimals(0),
        )
        .accessible_name("Grey width");
    });
}
