//! A field for text that must be something: what is not is refused with the
//! reason, and what was there is kept.

use egui::{Id, Key, TextEdit, Ui};

use super::palette::{self, text_scale};

/// The field.
pub struct CheckedField<'a> {
    /// Its name, for screen readers and refusals.
    pub label: &'a str,
    pub value: &'a str,
    pub hint: &'a str,
    /// Points, times the text scale.
    pub width: f32,
}

/// What a field holds from frame to frame.
#[derive(Clone, Debug, Default)]
struct Typing {
    text: String,
    has_focus: bool,
    /// The value before it was typed over.
    former: String,
    /// What was refused when the field was left, in words.
    refused: Option<String>,
}

impl CheckedField<'_> {
    /// Shows it; the value to hold from now on, where that has changed.
    /// `check` says what is wrong with a text.
    pub fn show(
        self,
        ui: &mut Ui,
        id: Id,
        check: impl Fn(&str) -> Result<(), String>,
    ) -> Option<String> {
        let mut typing: Typing = ui.data(|data| data.get_temp(id)).unwrap_or_default();
        if !(typing.has_focus || ui.memory(|memory| memory.has_focus(id))) {
            self.value.clone_into(&mut typing.former);
            self.value.clone_into(&mut typing.text);
        }
        let field = TextEdit::singleline(&mut typing.text)
            .id(id)
            .hint_text(self.hint)
            .desired_width(self.width * text_scale(ui));
        let response = ui.add(field).accessible_name(self.label);
        let fault = |text: &str| check(text.trim()).err();
        let mut now = None;
        if response.changed() {
            typing.refused = None;
            now = Some(match fault(&typing.text) {
                None => typing.text.trim().to_owned(),
                Some(_) => typing.former.clone(),
            });
        }
        if ui.input(|input| input.pointer.any_pressed()) {
            typing.refused = None;
        }
        let was_left =
            std::mem::replace(&mut typing.has_focus, response.has_focus()) && !response.has_focus();
        if was_left {
            if ui.input(|input| input.key_pressed(Key::Escape)) {
                now = Some(typing.former.clone());
            } else if let Some(reason) = fault(&typing.text) {
                let kept = match typing.former.as_str() {
                    "" => "nothing",
                    former => former,
                };
                let typed = typing.text.trim();
                typing.refused = Some(format!(
                    "{}: “{typed}” refused, {kept} kept. {reason}",
                    self.label
                ));
            }
        }
        let words = match fault(&typing.text) {
            Some(reason) if typing.has_focus => Some(reason),
            _ => typing.refused.clone(),
        };
        ui.data_mut(|data| data.insert_temp(id, typing));
        if let Some(words) = words {
            refusal(ui, &response, &words);
        }
        now.filter(|now| now != self.value)
    }
}

/// Says beside a field what is wrong, over what lies there: nothing moves.
pub fn refusal(ui: &Ui, field: &egui::Response, words: &str) {
    let palette = palette::of(ui);
    egui::Area::new(field.id.with("refusal"))
        .order(egui::Order::Foreground)
        .fixed_pos(field.rect.left_bottom() + egui::vec2(0.0, 3.0))
        .constrain(true)
        .interactable(false)
        .show(ui.ctx(), |ui| {
            egui::Frame::popup(ui.style()).show(ui, |ui| {
                ui.set_max_width(320.0);
                ui.colored_label(palette.alarm, words);
            });
        });
}
