//! Small widgets used by several panels.

use std::ops::RangeInclusive;

use egui::{Id, Key, Response, RichText, Role, ScrollArea, Ui, WidgetInfo};

use super::checked_field::refusal;
use super::icons::{self, Icon};
use super::palette::{self, text_scale};

/// A number that may be absent, typed or stepped.
pub struct NumberField<'a> {
    /// Its name, for screen readers and hints.
    pub label: &'a str,
    pub value: Option<f64>,
    pub step: f64,
    pub unit: &'a str,
    pub range: RangeInclusive<f64>,
    /// An example for an empty field.
    pub example: &'a str,
    /// What holds while the field is empty, shown in the example's place.
    pub default: Option<f64>,
    /// Take the keyboard in this frame.
    pub take_focus: bool,
    /// Typed elsewhere for this field, in place of what it holds.
    pub typed: Option<&'a str>,
}

/// What the user has done to a [`NumberField`].
pub enum NumberEdit {
    Unchanged,
    Changed(Option<f64>),
}

/// What a field holds from frame to frame.
#[derive(Clone, Debug, Default)]
struct Typing {
    text: String,
    /// It had the keyboard in the last frame.
    has_focus: bool,
    /// The value before it was typed over.
    former: Option<f64>,
    /// What was refused when the field was left, in words.
    refused: Option<String>,
}

impl NumberField<'_> {
    /// Shows the field with its stepping buttons. What is typed holds at once
    /// while it is in range; out of range, the value from before holds again,
    /// and the field returns to it when it is left.
    pub fn show(self, ui: &mut Ui, id: Id) -> NumberEdit {
        let mut typing: Typing = ui.data(|data| data.get_temp(id)).unwrap_or_default();
        if !(typing.has_focus || ui.memory(|memory| memory.has_focus(id))) {
            typing.former = self.value;
            if parse(&typing.text) != Some(self.value) {
                typing.text = self.value.map(plain_number).unwrap_or_default();
            }
        }
        let mut edit = NumberEdit::Unchanged;
        if ui.input(|input| input.pointer.any_pressed()) {
            typing.refused = None;
        }
        let field = ui.horizontal(|ui| {
            let mut stepped = self.step_button(ui, "−", "less", -1.0);
            let hint = match self.default {
                Some(default) => default.to_string(),
                None => format!("e.g. {}", self.example),
            };
            // Wide enough for what it shows while it is empty.
            let is_long = self.default.is_none() && self.example.len() > 2;
            let width = if is_long { 84.0 } else { 66.0 } * text_scale(ui);
            let field = |text| {
                egui::TextEdit::singleline(text)
                    .id(id)
                    .hint_text(hint)
                    .desired_width(width)
                    .align(egui::Align2::RIGHT_CENTER)
            };
            if let Some(typed) = self.typed {
                typed.clone_into(&mut typing.text);
            }
            let field = field(&mut typing.text);
            let response = ui.add(field).accessible_name(self.label);
            if self.take_focus || self.typed.is_some() {
                response.request_focus();
                let end = typing.text.chars().count();
                let begin = if self.typed.is_some() { end } else { 0 };
                select(ui, id, begin, end);
            }
            if response.has_focus() {
                stepped += ui.input(|input| {
                    input.num_presses(Key::ArrowUp) as f64
                        - input.num_presses(Key::ArrowDown) as f64
                });
            }
            stepped += self.step_button(ui, "+", "more", 1.0);
            ui.label(RichText::new(self.unit).color(palette::of(ui).quiet_text));

            if stepped != 0.0 {
                let to = self.stepped(stepped);
                typing.text = plain_number(to);
                typing.former = Some(to);
                typing.refused = None;
                edit = NumberEdit::Changed(Some(to));
            } else if response.changed() || self.typed.is_some() {
                typing.refused = None;
                let holds = self.usable(&typing.text).unwrap_or(typing.former);
                if holds != self.value {
                    edit = NumberEdit::Changed(holds);
                }
            }
            let was_left = std::mem::replace(&mut typing.has_focus, response.has_focus())
                && !response.has_focus();
            let is_usable = self.usable(&typing.text).is_some();
            if was_left && is_usable && ui.input(|input| input.key_pressed(Key::Escape)) {
                typing.text = typing.former.map(plain_number).unwrap_or_default();
                if typing.former != self.value {
                    edit = NumberEdit::Changed(typing.former);
                }
            } else if was_left && !is_usable {
                let kept = match typing.former {
                    Some(former) => format!("{} {}", plain_number(former), self.unit),
                    None => "nothing".to_owned(),
                };
                let typed = typing.text.trim();
                typing.refused = Some(format!("“{typed}” refused, {kept} kept. {}", self.wanted()));
                typing.text = typing.former.map(plain_number).unwrap_or_default();
            }
            response
        });
        let fault = match self.usable(&typing.text) {
            None => Some(self.wanted()),
            Some(_) => typing.refused.clone(),
        };
        if let Some(fault) = fault {
            refusal(ui, &field.inner, &fault);
        }
        ui.data_mut(|data| data.insert_temp(id, typing));
        edit
    }

    /// A button that steps by `sign`; what it was pressed for.
    fn step_button(&self, ui: &mut Ui, text: &str, word: &str, sign: f64) -> f64 {
        let name = format!("{} {word} {} {}", self.label, self.step, self.unit);
        let button = ui.button(text).on_hover_text(&name).accessible_name(&name);
        if button.clicked() { sign } else { 0.0 }
    }

    /// The value `count` steps further, on whole steps.
    fn stepped(&self, count: f64) -> f64 {
        let from = self.value.or(self.default);
        let from = from.unwrap_or(*self.range.start());
        let to = ((from + count * self.step) / self.step).round() * self.step;
        to.clamp(*self.range.start(), *self.range.end())
    }

    /// What a text says, if that may be.
    fn usable(&self, text: &str) -> Option<Option<f64>> {
        parse(text).filter(|value| value.is_none_or(|value| self.range.contains(&value)))
    }

    /// What may be typed.
    fn wanted(&self) -> String {
        format!(
            "{}: a number from {} to {} {}, for example {}",
            self.label,
            self.range.start(),
            self.range.end(),
            self.unit,
            self.example
        )
    }
}

/// A typed number with point or comma; `Some(None)` for an empty field,
/// `None` for anything else.
fn parse(typed: &str) -> Option<Option<f64>> {
    let typed = typed.trim().replace(',', ".");
    if typed.is_empty() {
        return Some(None);
    }
    let value: f64 = typed.parse().ok()?;
    value.is_finite().then_some(Some(value))
}

/// At most six decimals, no trailing zeros beyond the first.
fn plain_number(value: f64) -> String {
    let text = format!("{value:.6}");
    let text = text.trim_end_matches('0');
    if text.ends_with('.') {
        format!("{text}0")
    } else {
        text.to_owned()
    }
}

/// Selects a field's whole text, to be typed over.
pub fn select_all(ui: &Ui, id: Id, text: &str) {
    select(ui, id, 0, text.chars().count());
}

/// Selects part of a field's text, in letters.
fn select(ui: &Ui, id: Id, begin: usize, end: usize) {
    use egui::text::{CCursor, CCursorRange};
    let mut state = egui::text_edit::TextEditState::load(ui.ctx(), id).unwrap_or_default();
    let range = CCursorRange::two(CCursor::new(begin), CCursor::new(end));
    state.cursor.set_char_range(Some(range));
    state.store(ui.ctx(), id);
}

/// A page in place of the case: title, what it is for, and its parts in a
/// column of readable width.
pub fn page(ui: &mut Ui, title: &str, purpose: &str, show: impl FnOnce(&mut Ui)) {
    let quiet = palette::of(ui).quiet_text;
    let width = ui.available_width().min(720.0);
    let left = (ui.available_width() - width) / 2.0;
    ScrollArea::vertical().id_salt(title).show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.add_space(left);
            ui.vertical(|ui| {
                ui.set_width(width);
                ui.add_space(18.0);
                ui.label(RichText::new(title).heading().strong().size(22.0));
                ui.label(RichText::new(purpose).color(quiet));
                show(ui);
            });
        });
    });
}

/// A field of a form, with its name before it.
pub fn field_row(ui: &mut Ui, name: &str, field: impl FnOnce(&mut Ui)) {
    let width = 100.0 * text_scale(ui);
    ui.horizontal_wrapped(|ui| {
        let size = egui::vec2(width, ui.spacing().interact_size.y);
        let left = egui::Layout::left_to_right(egui::Align::Center);
        ui.allocate_ui_with_layout(size, left, |ui| {
            ui.set_min_width(width);
            ui.label(name);
        });
        field(ui);
    });
}

/// Progress with a button that stops it; whether it was clicked.
pub fn stoppable_progress(ui: &mut Ui, (done, total): (usize, usize), words: &str) -> bool {
    ui.horizontal(|ui| {
        let share = done as f32 / total.max(1) as f32;
        ui.add(egui::ProgressBar::new(share).desired_width(300.0))
            .accessible_name(words);
        let stopped = ui.button("Stop").clicked();
        // Beside the bar: on it, words would stand half on either ground.
        ui.label(words);
        stopped
    })
    .inner
}

/// How far slow work is, with a button that stops it; whether it was clicked.
/// Nothing while there are no words.
pub fn slow_with_stop(ui: &mut Ui, words: Option<String>, stop: &str) -> bool {
    let Some(words) = words else {
        return false;
    };
    ui.horizontal(|ui| {
        ui.label(words);
        let button = ui.button(stop);
        button
            .on_hover_text("What is open stays as it is")
            .clicked()
    })
    .inner
}

/// What a screen reader says for words that mean more together.
pub fn spoken(response: &Response, words: &str) {
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
}

/// A named value as one readable item: quiet name left, value right; one
/// above the other where both do not fit side by side.
pub fn named_value(ui: &mut Ui, name: &str, value: &str) {
    let quiet_name = RichText::new(name).color(palette::of(ui).quiet_text);
    let width_of = |text: &str| {
        let galley = egui::WidgetText::from(text).into_galley(
            ui,
            Some(egui::TextWrapMode::Extend),
            f32::INFINITY,
            egui::TextStyle::Body,
        );
        galley.size().x
    };
    let needed = width_of(name) + ui.spacing().item_spacing.x + width_of(value);
    if needed > ui.available_width() {
        ui.label(quiet_name);
        spoken(&ui.label(value), &format!("{name}: {value}"));
        return;
    }
    ui.horizontal(|ui| {
        ui.label(quiet_name);
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            spoken(&ui.label(value), &format!("{name}: {value}"));
        });
    });
}

/// A heading that opens and shuts what stands below it; whether it is open.
pub fn section_heading(ui: &mut Ui, title: &str, open: &mut bool) -> bool {
    let (icon, state) = if *open {
        (Icon::Opened, "shown")
    } else {
        (Icon::Shut, "hidden")
    };
    let button = egui::Button::new(RichText::new(title).heading())
        .frame(false)
        .left_text("    ");
    let response = ui.add(button).accessible_name(format!("{title}: {state}"));
    let side = response.rect.height() * 0.5;
    let place = egui::pos2(response.rect.left() + side, response.rect.center().y);
    let square = egui::Rect::from_center_size(place, egui::Vec2::splat(side));
    icons::paint(ui.painter(), icon, square, palette::of(ui).quiet_text);
    if response.clicked() {
        *open = !*open;
    }
    *open
}

/// A share as a bar, with its name before and its value behind it, as one
/// readable item.
pub fn share_bar(ui: &mut Ui, name: &str, share: f64, value: &str) {
    let palette = palette::of(ui);
    named_value(ui, name, value);
    let size = egui::vec2(ui.available_width(), 5.0 * text_scale(ui));
    let (whole, _) = ui.allocate_exact_size(size, egui::Sense::hover());
    let mut filled = whole;
    filled.set_width(whole.width() * share.clamp(0.0, 1.0) as f32);
    ui.painter().rect_filled(whole, 2.0, palette.line);
    ui.painter().rect_filled(filled, 2.0, palette.accent);
}

/// A heading with its number in the order of work.
pub fn step_heading(ui: &mut Ui, number: u8, title: &str, done: bool) {
    let palette = palette::of(ui);
    ui.horizontal(|ui| {
        let (icon, colour) = if done {
            (Icon::Tick, palette.good)
        } else {
            (Icon::Dot, palette.quiet_text)
        };
        ui.label(
            RichText::new(format!("{number}"))
                .color(palette.quiet_text)
                .heading(),
        );
        ui.label(RichText::new(title).heading().strong());
        let state = if done { "done" } else { "to do" };
        icons::sign(ui, icon, colour, &format!("{title}: {state}"));
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn typed_numbers_take_point_and_comma_and_nothing_else() {
        assert_eq!(parse("20.5"), Some(Some(20.5)));
        assert_eq!(parse(" 20,25 "), Some(Some(20.25)));
        assert_eq!(parse(""), Some(None));
        assert_eq!(parse("20 mm"), None);
        assert_eq!(parse("inf"), None);
    }

    #[test]
    fn numbers_are_shown_short() {
        assert_eq!(plain_number(20.0), "20.0");
        assert_eq!(plain_number(20.25), "20.25");
        assert_eq!(plain_number(0.035), "0.035");
        assert_eq!(plain_number(0.0309), "0.0309");
    }
}
