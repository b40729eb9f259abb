//! The strip above the film: zoom, turn, greys.

use egui::{Button, DragValue, Ui};

use crate::desktop::state::Desk;
use crate::desktop::state::command::Command;
use crate::desktop::ui::icons::{self, Icon};

/// Shows the strip, in as many rows as it needs; their height, points.
pub fn toolbar(ui: &mut Ui, desk: &mut Desk<'_>) -> f32 {
    let shown = ui.horizontal_wrapped(|ui| {
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
            (Command::Fit, "Fit", false),
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
        let hide = ui
            .add(Button::new("Bare film"))
            .on_hover_text("Hold to hide all marks (X)")
            .accessible_name("Hold to hide all marks");
        desk.session.hides_by_button = hide.is_pointer_button_down_on();
        let top = f64::from(desk.workspace.film.film.max_sample());
        let window = &mut desk.workspace.tone.window;
        for (name, grey, range) in [
            ("Level", &mut window.center, 0.0..=100.0),
            ("Width", &mut window.width, 0.1..=200.0),
        ] {
            let mut percent = *grey / top * 100.0;
            let field = DragValue::new(&mut percent)
                .speed(0.2)
                .range(range)
                .max_decimals(1)
                .prefix(format!("{name} "))
                .suffix(" %");
            let name = format!("Grey {}, per cent of the film's range", name.to_lowercase());
            if ui.add(field).accessible_name(name).changed() {
                *grey = percent / 100.0 * top;
            }
        }
    });
    shown.response.rect.height()
}
