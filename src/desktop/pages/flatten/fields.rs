//! What is typed of the rectangle: its size, and where the fifth mark lies.

use egui::{Id, RichText, Ui};

use super::FlattenPage;
use crate::desktop::ui::palette;
use crate::desktop::ui::widgets::{NumberEdit, NumberField};
use crate::flatten::FILM_PACKETS_MM;
use crate::units::FilmPoint;

impl FlattenPage {
    /// The fifth mark, placed or not, and where it lies on the rectangle.
    pub(super) fn check_mark(&mut self, ui: &mut Ui) {
        let Some(photo) = &mut self.photo else {
            return;
        };
        let mut is_placed = photo.check.is_some();
        let hint = "A place of the rectangle whose distance from its sides is known: it shows \
                    whether corners and size are right";
        let tick = ui.checkbox(&mut is_placed, "Fifth mark to check");
        let mut changed = tick.on_hover_text(hint).changed();
        if changed {
            let [a, b, c, d] = photo.corners;
            let middle = FilmPoint::new(
                0.25 * (a.x + b.x + c.x + d.x),
                0.25 * (a.y + b.y + c.y + d.y),
            );
            photo.check = is_placed.then_some(middle);
            photo.is_check_placed = false;
        }
        if is_placed && !photo.is_check_placed {
            let words = "Drag mark 5 onto a place that you know";
            ui.label(RichText::new(words).color(palette::of(ui).caution));
        }
        if is_placed {
            for (place, label) in ["From the left", "From the top"].into_iter().enumerate() {
                ui.horizontal(|ui| {
                    let field = NumberField {
                        label: ["Mark from the left side", "Mark from the top side"][place],
                        value: self.check_at_mm[place],
                        step: 0.5,
                        unit: "mm",
                        range: 0.0..=500.0,
                        example: "10",
                        default: self.size_mm[place].map(|mm| 0.5 * mm),
                        take_focus: false,
                        typed: None,
                    };
                    ui.label(label);
                    if let NumberEdit::Changed(mm) = field.show(ui, Id::unique(("mark", place))) {
                        self.check_at_mm[place] = mm;
                        changed = true;
                    }
                });
            }
        }
        if changed {
            self.work_out();
        }
    }

    /// The rectangle's size, typed or one of the film packets.
    pub(super) fn size(&mut self, ui: &mut Ui) {
        let mut changed = false;
        for (place, label) in ["Width", "Height"].into_iter().enumerate() {
            ui.horizontal(|ui| {
                ui.label(label);
                let field = NumberField {
                    label: ["Width of the rectangle", "Height of the rectangle"][place],
                    value: self.size_mm[place],
                    step: 0.5,
                    unit: "mm",
                    range: 2.0..=500.0,
                    example: ["31", "41"][place],
                    default: None,
                    take_focus: false,
                    typed: None,
                };
                let id = Id::unique(("rectangle", place));
                if let NumberEdit::Changed(mm) = field.show(ui, id) {
                    self.size_mm[place] = mm;
                    changed = true;
                }
            });
        }
        ui.horizontal_wrapped(|ui| {
            ui.label(RichText::new("Film packet").color(palette::of(ui).quiet_text));
            for (name, [width, height]) in FILM_PACKETS_MM {
                let button = ui.small_button(name);
                let button = button.on_hover_text(format!("{width} × {height} mm, upright"));
                let spoken = format!("Film packet {name}, {width} × {height} mm");
                if button.accessible_name(spoken).clicked() {
                    self.size_mm = [Some(width), Some(height)];
                    changed = true;
                }
            }
        });
        if changed {
            self.work_out();
        }
    }
}
